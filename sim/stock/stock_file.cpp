#include "sim/stock/stock_file.h"

#include <fmt/format.h>
#include <openvdb/io/Stream.h>
#include <zlib.h>

#include <cmath>
#include <sstream>
#include <vector>

#include "sim/stock/field_conversion.h"
#include "sim/stock/fields.h"

namespace proveout::stock {
namespace {

// Magic number, format version, library version (two numbers), whether offsets are kept; then 36
// letters of identity.
constexpr std::size_t identity_at = 8 + 4 + 4 + 4 + 1, identity_length = 36;

// The last bytes of a file: this, then the CRC-32 of all before in eight hexadecimal digits.
// Readers of the format end before it.
constexpr std::string_view seal_mark = "\nproveout-crc32 ";
constexpr std::size_t seal_length = seal_mark.size() + 8;

std::string seal_of(std::string_view bytes) {
  const auto sum = crc32_z(0, reinterpret_cast<const Bytef*>(bytes.data()), bytes.size());
  return fmt::format("{}{:08x}", seal_mark, sum);
}

// Keeps notes apart from the format's own metadata.
constexpr std::string_view note_prefix = "note_";

// Notes belong to the file, not to the stock: left on the grid they would stand in whatever is
// written of it next.
StockNotes take_notes(openvdb::FloatGrid& distance) {
  StockNotes notes;
  std::vector<std::string> names;
  for (auto at = distance.beginMeta(); at != distance.endMeta(); ++at) {
    if (!at->first.starts_with(note_prefix)) continue;
    names.push_back(at->first);
    if (at->second->typeName() != "string") continue;
    notes[at->first.substr(note_prefix.size())] =
        static_cast<const openvdb::StringMetadata&>(*at->second).value();
  }
  for (const std::string& name : names) distance.removeMeta(name);
  return notes;
}

// Whether a block or leaf lies where indices of voxels beside it would be no numbers.
bool reaches_far(const openvdb::FloatTree& tree) {
  bool far = false;
  const auto look = [&](const openvdb::Coord& at) {
    for (int k = 0; k < 3; ++k) far = far || std::abs(static_cast<double>(at[k])) > 1 << 29;
  };
  for_blocks_of_material(tree, [&](const auto& it) { look(it.getCoord()); });
  for (auto leaf = tree.cbeginLeaf(); leaf; ++leaf) look(leaf->origin());
  return far;
}

}  // namespace

std::string vdb_bytes(const Stock& stock, const StockNotes& notes, Packing packing) {
  openvdb::initialize();
  const Stock::Fields& fields = stock.fields();
  const auto distance = in_mm(fields);
  // The copy shares the tree and has a name of its own.
  const auto provenance = std::const_pointer_cast<openvdb::GridBase>(fields.provenance->copyGrid());
  // The transform keeps the voxel to a rounding only.
  distance->insertMeta("voxel_mm", openvdb::DoubleMetadata(fields.voxel));
  for (const auto& [name, text] : notes)
    distance->insertMeta(std::string(note_prefix) + name, openvdb::StringMetadata(text));
  provenance->setName("provenance");
  std::ostringstream out(std::ios::binary);
  openvdb::io::Stream stream(out);
  std::uint32_t compression = openvdb::io::COMPRESS_ACTIVE_MASK;
  if (packing == Packing::small) compression |= openvdb::io::COMPRESS_ZIP;
  if (packing == Packing::quick && openvdb::io::Archive::hasBloscCompression())
    compression |= openvdb::io::COMPRESS_BLOSC;
  stream.setCompression(compression);
  stream.write(openvdb::GridCPtrVec{distance, provenance});
  std::string bytes = out.str();
  for (std::size_t i = identity_at; i < identity_at + identity_length && i < bytes.size(); ++i) {
    if (bytes[i] != '-') bytes[i] = '0';
  }
  return sealed(std::move(bytes));
}

std::string sealed(std::string bytes) {
  bytes += seal_of(bytes);
  return bytes;
}

std::optional<Stock> read_vdb(std::string_view bytes, const std::string& name,
                              Diagnostics& diagnostics, StockNotes* notes) {
  const auto refuse = [&](const std::string& what) {
    diagnostics.error("stock-unreadable", {name, 0, 0, 0}, what,
                      "give a .vdb file that proveout wrote");
    return std::nullopt;
  };
  // The library believes every length it reads: one wrong bit makes it ask for gigabytes.
  const std::size_t end = bytes.size() < seal_length ? 0 : bytes.size() - seal_length;
  if (bytes.substr(end, seal_mark.size()) != seal_mark)
    return refuse(
        "the file does not end as a stock that proveout wrote: it is cut short or comes from "
        "elsewhere");
  if (bytes.substr(end) != seal_of(bytes.substr(0, end)))
    return refuse("the file was changed or damaged after it was written");
  openvdb::initialize();
  try {
    std::istringstream in(std::string(bytes.substr(0, end)), std::ios::binary);
    // The library looks only here and there whether a read came up short: what is missing at the
    // end of a file would be taken for values.
    in.exceptions(std::ios::failbit | std::ios::badbit | std::ios::eofbit);
    openvdb::io::Stream stream(in, /*delayLoad=*/false);
    const openvdb::GridPtrVecPtr grids = stream.getGrids();
    auto fields = std::make_unique<Stock::Fields>();
    openvdb::FloatGrid::Ptr distance;
    for (const openvdb::GridBase::Ptr& grid : *grids) {
      if (grid->getName() == "distance") distance = openvdb::gridPtrCast<openvdb::FloatGrid>(grid);
      if (grid->getName() == "provenance")
        fields->provenance = openvdb::gridPtrCast<openvdb::Int32Grid>(grid);
    }
    if (!distance || !fields->provenance)
      return refuse("the file holds no stock: grids 'distance' and 'provenance' are wanted");
    fields->voxel = distance->metaValue<double>("voxel_mm");
    if (!(fields->voxel > 1e-6) || !(fields->voxel < 1e6))
      return refuse("the file's voxels have no size");
    if (reaches_far(distance->tree())) return refuse("the file's voxels lie too far off");
    if (distance->transform() != *fields->transform())
      return refuse(
          "the file's voxels lie elsewhere than proveout lays them: another version of it wrote "
          "the file");
    StockNotes found = take_notes(*distance);
    if (notes != nullptr) notes->merge(found);
    fields->steps = in_steps(distance->tree(), *fields);
    return Stock::of_fields(std::move(fields));
  } catch (const std::exception& e) {
    return refuse(std::string("the file cannot be read as a stock: ") + e.what());
  }
}

}  // namespace proveout::stock
