// The stock as a file: what was written comes back whole, and what is not a whole stock is refused
// with the file's name. The rivals are the stock itself and files made here with the volume
// library, without the code under test.
#include "sim/stock/stock_file.h"

#include <gtest/gtest.h>
#include <openvdb/io/File.h>
#include <openvdb/io/Stream.h>
#include <openvdb/openvdb.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <limits>
#include <random>
#include <sstream>
#include <vector>

#include "sim/stock/fields.h"

namespace proveout::stock {
namespace {

std::string refused(const std::string& bytes) {
  Diagnostics diagnostics;
  StockNotes notes;
  EXPECT_FALSE(read_vdb(bytes, "some.vdb", diagnostics, &notes));
  if (diagnostics.all().size() != 1u) return "";
  const Diagnostic& d = diagnostics.all()[0];
  EXPECT_EQ(d.code, "stock-unreadable");
  EXPECT_EQ(d.severity, Severity::error);
  EXPECT_EQ(d.place.file, "some.vdb");
  return d.what;
}

// A file of two grids under the stock's names, as far as change leaves them so.
using Grids = openvdb::GridPtrVec;
std::string made(const std::function<void(Grids&)>& change) {
  openvdb::initialize();
  const auto distance = openvdb::FloatGrid::create(0.3f);
  distance->setName("distance");
  distance->insertMeta("voxel_mm", openvdb::DoubleMetadata(0.1));
  Stock::Fields fields;
  fields.voxel = 0.1;
  distance->setTransform(fields.transform());
  distance->tree().setValue(openvdb::Coord(1, 2, 3), -0.05f);
  const auto provenance = openvdb::Int32Grid::create(0);
  provenance->setName("provenance");
  provenance->tree().setValue(openvdb::Coord(1, 2, 3), 7);
  Grids grids{distance, provenance};
  change(grids);
  std::ostringstream out(std::ios::binary);
  openvdb::io::Stream(out).write(grids);
  return sealed(out.str());
}

TEST(StockFile, NotesOfAnyBytesComeBack) {
  std::string all_bytes;
  for (int k = 0; k < 256; ++k) all_bytes += static_cast<char>(k);
  const StockNotes notes = {{"empty", ""}, {"all bytes", all_bytes}, {"long", all_bytes + "end"}};
  const Stock stock = Stock::box(Vec3(4, 3, 2), 0.3);
  for (const Packing packing : {Packing::small, Packing::quick}) {
    Diagnostics diagnostics;
    StockNotes again;
    const auto read = read_vdb(vdb_bytes(stock, notes, packing), "kept.vdb", diagnostics, &again);
    ASSERT_TRUE(read);
    EXPECT_TRUE(again == notes);
    EXPECT_TRUE(vdb_bytes(*read) == vdb_bytes(stock)) << "notes left in the stock";
    EXPECT_TRUE(diagnostics.all().empty());
    EXPECT_TRUE(read_vdb(vdb_bytes(stock, notes, packing), "kept.vdb", diagnostics));
  }
}

// A sealed file made by other means is read as what it says; metadata that are no notes of ours are
// passed over.
TEST(StockFile, AFileOfTheFormatIsRead) {
  const std::string bytes = made([](Grids& g) {
    g[0]->insertMeta("note_said", openvdb::StringMetadata("a word"));
    g[0]->insertMeta("note_number", openvdb::Int32Metadata(5));
    g[0]->insertMeta("author", openvdb::StringMetadata("somebody"));
    g.push_back(openvdb::FloatGrid::create(1));
  });
  Diagnostics diagnostics;
  StockNotes notes;
  const auto read = read_vdb(bytes, "other.vdb", diagnostics, &notes);
  ASSERT_TRUE(read) << to_text(diagnostics.all()[0]);
  EXPECT_EQ(notes, (StockNotes{{"said", "a word"}}));
  EXPECT_EQ(read->voxel(), 0.1);
  EXPECT_EQ(read->fields().steps->tree().getValue(openvdb::Coord(1, 2, 3)), -4096);  // half a voxel
  EXPECT_EQ(read->fields().provenance->tree().getValue(openvdb::Coord(1, 2, 3)), 7);
}

TEST(StockFile, AFileThatHoldsNoStockIsRefused) {
  const auto lacks_grids = [](const std::string& what) {
    return what.find("'distance' and 'provenance'") != std::string::npos;
  };
  EXPECT_TRUE(lacks_grids(refused(made([](Grids& g) { g.pop_back(); }))));
  EXPECT_TRUE(lacks_grids(refused(made([](Grids& g) { g.erase(g.begin()); }))));
  EXPECT_TRUE(lacks_grids(refused(made([](Grids& g) { g.clear(); }))));
  EXPECT_TRUE(lacks_grids(refused(made([](Grids& g) { g[0]->setName("density"); }))));
  // The right names on grids of other numbers.
  EXPECT_TRUE(lacks_grids(refused(made([](Grids& g) {
    g[1]->setName("distance");
    g[0]->setName("provenance");
  }))));
}

TEST(StockFile, VoxelsWithoutASizeAreRefused) {
  const double infinite = std::numeric_limits<double>::infinity();
  for (const double voxel : {0.0, -0.1, 1e-300, 1e300, infinite, std::nan("")}) {
    const std::string what = refused(made([&](Grids& g) {
      g[0]->removeMeta("voxel_mm");
      g[0]->insertMeta("voxel_mm", openvdb::DoubleMetadata(voxel));
    }));
    EXPECT_NE(what.find("no size"), std::string::npos) << voxel << ": " << what;
  }
  EXPECT_NE(refused(made([](Grids& g) { g[0]->removeMeta("voxel_mm"); })), "");
  EXPECT_NE(refused(made([](Grids& g) {
              g[0]->removeMeta("voxel_mm");
              g[0]->insertMeta("voxel_mm", openvdb::StringMetadata("0.1"));
            })),
            "");
}

// Of a block at the end of all indices what lies beside it has none; measuring would not end.
TEST(StockFile, VoxelsTooFarOffAreRefused) {
  const openvdb::Coord ends[] = {{INT32_MAX - 4095, 0, 0}, {0, INT32_MIN, 0}, {0, 0, 1 << 30}};
  for (const openvdb::Coord& at : ends) {
    for (const openvdb::Index level : {0, 1, 3}) {
      const std::string what = refused(made([&](Grids& g) {
        auto& tree = static_cast<openvdb::FloatGrid&>(*g[0]).tree();
        if (level == 0)
          tree.setValue(at, 0.1f);
        else
          tree.addTile(level, at, -0.3f, false);
      }));
      EXPECT_NE(what.find("too far off"), std::string::npos) << at << ' ' << level << ": " << what;
    }
  }
}

// Taken for ours, such a stock would lie beside its own place.
TEST(StockFile, VoxelsLaidElsewhereAreRefused) {
  const std::string what = refused(made(
      [](Grids& g) { g[0]->setTransform(openvdb::math::Transform::createLinearTransform(0.1)); }));
  EXPECT_NE(what.find("another version"), std::string::npos) << what;
}

// A disk that ran full or a broken download: wherever the file ends, it is no stock.
TEST(StockFile, EveryFileCutShortIsRefused) {
  const Stock stock = Stock::box(Vec3(5, 4, 3), 0.5);
  for (const Packing packing : {Packing::small, Packing::quick}) {
    const std::string whole = vdb_bytes(stock, {{"note", "n"}}, packing);
    std::vector<std::size_t> lengths;
    for (std::size_t missing = 1; missing <= 16; ++missing)
      lengths.push_back(whole.size() - missing);
    for (std::size_t k = 1; k < 48; ++k) lengths.push_back(k * whole.size() / 48);
    for (const std::size_t left : lengths) {
      Diagnostics diagnostics;
      EXPECT_FALSE(read_vdb(whole.substr(0, left), "short.vdb", diagnostics))
          << left << " of " << whole.size() << (packing == Packing::small ? " small" : " quick");
    }
  }
}

// Every single bit of a small file, and several at once of a larger one: the checksum sees them
// before the volume library does, which would ask for as much memory as a damaged length says.
TEST(StockFile, EveryFileWithAWrongBitIsRefused) {
  const std::string small = sealed("the bytes of no stock");
  for (std::size_t bit = 0; bit < 8 * small.size(); ++bit) {
    std::string bad = small;
    bad[bit / 8] = static_cast<char>(bad[bit / 8] ^ (1 << bit % 8));
    EXPECT_NE(refused(bad).find(bit / 8 + 24 < small.size() ? "changed or damaged" : "the file"),
              std::string::npos)
        << "bit " << bit;
  }
  const std::string whole = vdb_bytes(Stock::box(Vec3(5, 4, 3), 0.5), {{"note", "n"}});
  std::mt19937 rng(20261127);
  for (int k = 0; k < 2000; ++k) {
    std::string bad = whole;
    const int flips = 1 + k % 4;
    std::string where;
    for (int f = 0; f < flips; ++f) {
      const std::size_t bit = rng() % (8 * bad.size());
      bad[bit / 8] = static_cast<char>(bad[bit / 8] ^ (1 << bit % 8));
      where += " " + std::to_string(bit);
    }
    if (bad != whole) {
      EXPECT_NE(refused(bad), "") << "bits" << where;
    }
  }
}

TEST(StockFile, AFileWithoutItsChecksumIsRefused) {
  const std::string whole = vdb_bytes(Stock::box(Vec3(5, 4, 3), 0.5));
  EXPECT_NE(refused(whole.substr(0, whole.size() - 24)).find("cut short or comes from elsewhere"),
            std::string::npos);
  EXPECT_NE(refused(whole + "x").find("cut short or comes from elsewhere"), std::string::npos);
  EXPECT_NE(refused(sealed("no volume at all, yet sealed")).find("cannot be read as a stock"),
            std::string::npos);
}

// CRC-32's check value, published with the polynomial's parameters (from memory).
TEST(StockFile, TheChecksumIsCrc32) {
  EXPECT_EQ(sealed("123456789"), "123456789\nproveout-crc32 cbf43926");
}

// Other programs of the format read the file and pass over the checksum.
TEST(StockFile, TheFormatsOwnReaderTakesIt) {
  const std::filesystem::path path =
      std::filesystem::path(::testing::TempDir()) / "proveout_sealed.vdb";
  const Stock stock = Stock::box(Vec3(5, 4, 3), 0.5);
  std::ofstream(path, std::ios::binary) << vdb_bytes(stock);
  openvdb::io::File file(path.string());
  file.open(/*delayLoad=*/false);
  const openvdb::GridPtrVecPtr grids = file.getGrids();
  ASSERT_EQ(grids->size(), 2u);
  EXPECT_EQ((*grids)[0]->activeVoxelCount(), stock.fields().steps->activeVoxelCount());
  file.close();
  std::filesystem::remove(path);
}

}  // namespace
}  // namespace proveout::stock
