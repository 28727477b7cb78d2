// What a shop keeps, as jobs name it: what is taken, what is replaced, where mistakes are told.
#include "parser/job/shop.h"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "parser/job/read_job.h"
#include "parser/job/shop_keep.h"

namespace proveout::job {
namespace {

namespace fs = std::filesystem;

class ShopTest : public ::testing::Test {
 protected:
  ShopTest() {
    std::string name = (fs::temp_directory_path() / "proveout-shop-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) ADD_FAILURE() << "no folder for the test";
    folder_ = name;
  }
  ~ShopTest() override { fs::remove_all(folder_); }

  void file(const std::string& name, const std::string& text) const {
    fs::create_directories((folder_ / name).parent_path());
    std::ofstream(folder_ / name) << text;
  }
  // A job with this between its head and its setup.
  std::optional<Job> job(const std::string& middle, const std::string& head = "shop = \"shop\"\n") {
    file("job.toml", head + "[stock]\nsize = [30, 20, 10]\n" + middle +
                         "\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n");
    diagnostics_ = Diagnostics();
    files_ = InputFiles();
    return read_job(folder_ / "job.toml", files_, diagnostics_);
  }
  std::string said() const {
    std::string out;
    for (const Diagnostic& d : diagnostics_.all()) out += to_text(d) + "\n";
    return out;
  }
  std::vector<std::string> read() const {
    std::vector<std::string> out;
    for (const InputFile& f : files_.all())
      out.push_back(f.path.lexically_relative(folder_).generic_string());
    return out;
  }

  fs::path folder_;
  Diagnostics diagnostics_;
  InputFiles files_;
};

const std::string ball =
    "number = 7\nshape = \"ball\"\ndiameter = 6\nflutes = 4\nstickout = 31\n"
    "holder = [[25, 20]]\ntool_material = \"hss\"\n";
const std::string flat = "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\n";

TEST_F(ShopTest, AToolIsTakenWholeAndKeysBesideReplaceItsOwn) {
  file("shop/tools/long ball.toml", ball);
  const auto taken = job("[[tools]]\nnumber = 2\nkept = \"long ball\"\nstickout = 28\n");
  ASSERT_TRUE(taken) << said();
  const Tool& t = taken->tools.at(0);
  EXPECT_EQ(t.number, 2);
  EXPECT_EQ(t.name, "long ball");
  EXPECT_EQ(t.shape, ToolShape::ball);
  EXPECT_EQ(t.diameter, 6);
  EXPECT_EQ(t.flutes, 4);
  EXPECT_EQ(t.stickout, 28);
  EXPECT_EQ(t.holder.size(), 1u);
  EXPECT_EQ(t.tool_material, "hss");
  EXPECT_EQ(read(), (std::vector<std::string>{"job.toml", "shop/tools/long ball.toml"}));
  EXPECT_EQ(taken->named_files.size(), 1u);
}

TEST_F(ShopTest, ByItsNumberWhichItKeeps) {
  file("shop/tools/long ball.toml", ball);
  file("shop/tools/other.toml", "number = 3\nshape = \"flat\"\ndiameter = 8\n");
  const auto taken = job("[[tools]]\nkept = 7\n");
  ASSERT_TRUE(taken) << said();
  EXPECT_EQ(taken->tools.at(0).name, "long ball");
  EXPECT_EQ(taken->tools.at(0).number, 7);
  // What was only looked at is no input.
  EXPECT_EQ(read().size(), 2u);
  file("shop/tools/another.toml", "number = 7\nshape = \"flat\"\ndiameter = 8\n");
  EXPECT_FALSE(job("[[tools]]\nkept = 7\n"));
  EXPECT_NE(said().find("more than one kept tool has the number 7: another, long ball"),
            std::string::npos)
      << said();
}

TEST_F(ShopTest, EachFileHasItsOwnUnit) {
  file("shop/tools/quarter.toml",
       "units = \"inch\"\nshape = \"flat\"\ndiameter = 0.25\nstickout = 1.25\n");
  const auto metric = job("[[tools]]\nnumber = 1\nkept = \"quarter\"\nflute_length = 20\n");
  ASSERT_TRUE(metric) << said();
  EXPECT_NEAR(metric->tools.at(0).diameter, 6.35, 1e-12);
  EXPECT_EQ(metric->tools.at(0).flute_length, 20);
  const auto inch = job("[[tools]]\nnumber = 1\nkept = \"quarter\"\nflute_length = 0.5\n",
                        "units = \"inch\"\nshop = \"shop\"\n");
  ASSERT_TRUE(inch) << said();
  EXPECT_NEAR(inch->tools.at(0).diameter, 6.35, 1e-12);
  EXPECT_NEAR(inch->tools.at(0).flute_length, 12.7, 1e-12);
}

TEST_F(ShopTest, MachineAndMaterial) {
  file("shop/machines/router.toml", "max_feed = [3000, 3000, 900]\nrapid = [4000, 4000, 900]\n");
  file("shop/materials/cast plate.toml", "density_g_cm3 = 2.66\nkc11 = 650\n");
  const auto taken = job(flat +
                         "[machine]\nkept = \"router\"\nrapid = [3500, 3500, 900]\n"
                         "[materials.\"plate 12\"]\nkept = \"cast plate\"\ndensity_g_cm3 = 2.7\n");
  ASSERT_TRUE(taken) << said();
  EXPECT_EQ(taken->machine.name, "router");
  EXPECT_EQ(taken->machine.max_feed.z(), 900);
  EXPECT_EQ(taken->machine.rapid.x(), 3500);
  EXPECT_EQ(taken->materials.at("plate 12").density_g_cm3, 2.7);
  EXPECT_EQ(taken->materials.at("plate 12").kc11, 650);
}

TEST_F(ShopTest, MistakesAreToldWhereTheyStand) {
  file("shop/tools/long ball.toml", ball);
  file("shop/tools/bad.toml", "shape = \"flat\"\ndiameter = \"six\"\n");
  file("shop/machines/bad.toml", "max_feeds = [1, 2, 3]\n");
  struct Case {
    std::string middle;
    std::vector<std::string> says;
  };
  for (const Case& c : std::vector<Case>{
           {"[[tools]]\nnumber = 1\nkept = \"long bal\"\n",
            {"job.toml:6:1", "no tool 'long bal' is kept in", "did you mean \"long ball\"?"}},
           {"[[tools]]\nnumber = 1\nkept = \"../long ball\"\n", {"job.toml:6:1", "can be no name"}},
           {"[[tools]]\nnumber = 1\nkept = \"\"\n", {"job.toml:6:1", "it is empty"}},
           {"[[tools]]\nnumber = 1\nkept = 9\n", {"no tool '9' is kept"}},
           {"[[tools]]\nnumber = 1\nkept = true\n", {"job.toml:6:1", "or a whole number"}},
           {"[[tools]]\nnumber = 1\nkept = \"bad\"\n", {"tools/bad.toml:2:1", "must be a number"}},
           {"[[tools]]\nnumber = 1\nkept = \"long ball\"\nflute_length = 40\n",
            {"job.toml:7:1", "longer than the stick-out"}},
           {flat + "[machine]\nkept = \"bad\"\n",
            {"machines/bad.toml:1:1", "max_feeds", "did you mean 'max_feed'?"}},
           {flat + "[materials.x]\nkept = \"none\"\n", {"no material 'none' is kept"}}}) {
    EXPECT_FALSE(job(c.middle)) << c.middle;
    for (const std::string& words : c.says)
      EXPECT_NE(said().find(words), std::string::npos) << words << "\nin\n" << said();
  }
}

// The order of the XDG base directory specification, with a variable of our own before it.
TEST_F(ShopTest, OnesOwnFolder) {
  const auto kept = [](const char* name) {
    const char* value = std::getenv(name);
    return value == nullptr ? std::optional<std::string>() : std::optional<std::string>(value);
  };
  const char* names[] = {"PROVEOUT_SHOP", "XDG_CONFIG_HOME", "HOME"};
  std::vector<std::optional<std::string>> before;
  for (const char* name : names) before.push_back(kept(name));
  ::setenv("HOME", "/home/x", 1);
  ::unsetenv("XDG_CONFIG_HOME");
  ::unsetenv("PROVEOUT_SHOP");
  EXPECT_EQ(own_shop(), "/home/x/.config/proveout");
  ::setenv("XDG_CONFIG_HOME", "relative", 1);
  EXPECT_EQ(own_shop(), "/home/x/.config/proveout");
  ::setenv("XDG_CONFIG_HOME", "/etc/x", 1);
  EXPECT_EQ(own_shop(), "/etc/x/proveout");
  ::setenv("PROVEOUT_SHOP", (folder_ / "shop").c_str(), 1);
  file("shop/tools/long ball.toml", ball);
  EXPECT_TRUE(job("[[tools]]\nkept = \"long ball\"\n", "")) << said();
  for (const char* name : names) ::unsetenv(name);
  EXPECT_EQ(own_shop(), "");
  EXPECT_FALSE(job("[[tools]]\nkept = \"long ball\"\n", ""));
  EXPECT_NE(said().find("there is no shop's folder"), std::string::npos) << said();
  for (std::size_t i = 0; i < before.size(); ++i)
    if (before[i]) ::setenv(names[i], before[i]->c_str(), 1);
}

TEST_F(ShopTest, ReadShopLeavesOutWhatCannotBeUsed) {
  file("shop/tools/long ball.toml", ball);
  file("shop/tools/bad.toml", "shape = \"flat\"\n");
  file("shop/tools/notes.txt", "not looked at");
  file("shop/machines/router.toml", "max_feed = [3000, 3000, 900]\n");
  Diagnostics d;
  const Shop shop = read_shop(folder_ / "shop", d);
  ASSERT_EQ(shop.tools.size(), 1u);
  EXPECT_EQ(shop.tools[0].name, "long ball");
  EXPECT_EQ(shop.machines.size(), 1u);
  ASSERT_EQ(d.errors(), 1u);
  EXPECT_NE(to_text(d.all()[0]).find("bad.toml"), std::string::npos);
  Diagnostics none;
  EXPECT_TRUE(read_shop(folder_ / "no shop", none).empty());
  EXPECT_TRUE(none.all().empty());
}

// What is kept of a job and named by another is what it was: the fixture's every tool and figure.
TEST_F(ShopTest, WhatIsKeptOfAJobReadsAsItWas) {
  const fs::path from = fs::path(PROVEOUT_FIXTURES) / "door-pull/good.toml";
  Diagnostics d;
  const auto wanted = to_keep(from, d);
  ASSERT_TRUE(wanted);
  std::string named = "[machine]\nkept = \"benchtop router (invented)\"\n";
  for (const ToKeep& k : *wanted) {
    file(fmt::format("shop/{}/{}.toml", folder(k.kind), k.name), k.text);
    if (k.kind == Kept::tool) named += fmt::format("[[tools]]\nkept = \"{}\"\n", k.name);
  }
  const auto before = read_job(from, d);
  const auto now = job(named);
  ASSERT_TRUE(before);
  ASSERT_TRUE(now) << said();
  ASSERT_EQ(now->tools.size(), before->tools.size());
  for (std::size_t i = 0; i < now->tools.size(); ++i) {
    const Tool &a = before->tools[i], &b = now->tools[i];
    EXPECT_EQ(a.number, b.number);
    EXPECT_EQ(a.name, b.name);
    EXPECT_EQ(a.shape, b.shape);
    EXPECT_EQ(a.diameter, b.diameter);
    EXPECT_EQ(a.flutes, b.flutes);
    EXPECT_EQ(a.flute_length, b.flute_length);
    EXPECT_EQ(a.stickout, b.stickout);
    EXPECT_EQ(a.holder, b.holder);
    EXPECT_EQ(a.limits.axial_depth, b.limits.axial_depth);
    EXPECT_EQ(a.limits_for("mdf").axial_depth, b.limits_for("mdf").axial_depth);
  }
  EXPECT_EQ(now->machine.name, before->machine.name);
  EXPECT_EQ(now->machine.rapid, before->machine.rapid);
  EXPECT_EQ(now->machine.path_tolerance, before->machine.path_tolerance);
  EXPECT_EQ(now->machine.spindle.power_w, before->machine.spindle.power_w);
  EXPECT_EQ(now->machine.tool_change_s, before->machine.tool_change_s);
}

TEST_F(ShopTest, NamesThatCanBeNoFiles) {
  file("t.toml",
       "units = \"inch\"\n[[tools]]\nnumber = 1\nname = \"1/4 flat\"\nshape = \"flat\"\n"
       "diameter = 0.25\n[[tools]]\nnumber = 2\nshape = \"flat\"\ndiameter = 0.125\n");
  Diagnostics d;
  const auto wanted = to_keep(folder_ / "t.toml", d);
  ASSERT_TRUE(wanted);
  ASSERT_EQ(wanted->size(), 2u);
  EXPECT_EQ(wanted->at(0).name, "1-4 flat");
  EXPECT_EQ(wanted->at(1).name, "T2");
  EXPECT_NE(wanted->at(0).text.find("units = \"inch\""), std::string::npos);
  EXPECT_NE(wanted->at(0).text.find("name = \"1/4 flat\""), std::string::npos);
  file("same.toml",
       "[[tools]]\nnumber = 1\nname = \"a\"\nshape = \"flat\"\ndiameter = 6\n"
       "[[tools]]\nnumber = 2\nname = \"a\"\nshape = \"flat\"\ndiameter = 3\n");
  Diagnostics two;
  EXPECT_FALSE(to_keep(folder_ / "same.toml", two));
  EXPECT_NE(to_text(two.all().at(0)).find("two tools called 'a'"), std::string::npos);
}

}  // namespace
}  // namespace proveout::job
