// The stock as a file of the open volume format (.vdb): grids 'distance' (mm, negative inside, a
// narrow band) and 'provenance' (which motion made the surface: counted through the job from 1, 0
// the blank), in stock coordinates.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "parser/base/diagnostic.h"
#include "sim/stock/stock.h"

namespace proveout::stock {

// Further texts (any bytes) kept in the file by name, as metadata of the distance grid.
using StockNotes = std::map<std::string, std::string>;

enum class Packing {
  small,  // for files that are kept or sent
  quick   // for files that are soon read again
};

// The file's bytes; the same for the same stock (the format's random identity is set to nought).
std::string vdb_bytes(const Stock& stock, const StockNotes& notes = {},
                      Packing packing = Packing::small);

// bytes of the format with a checksum behind them (CRC-32 as in ISO/IEC 3309), without which
// read_vdb refuses them. Part of vdb_bytes; for files made by other means.
std::string sealed(std::string bytes);

// Reads what vdb_bytes wrote. name: of the file, for messages. notes: where not null, the texts
// kept in the file. nullopt with an error (stock-unreadable).
std::optional<Stock> read_vdb(std::string_view bytes, const std::string& name,
                              Diagnostics& diagnostics, StockNotes* notes = nullptr);

}  // namespace proveout::stock
