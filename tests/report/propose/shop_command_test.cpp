// shop, and what propose and run take from it: on a small job, and on the bracket of
// tests/report/causes.
#include "sim/propose/propose.h"
#include "sim/run/inputs.h"
#include "tests/report/causes/planted_parts.h"

namespace proveout::planted {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;
using cli::command;
using cli::CommandRun;
using cli::Folder;
using cli::read;

class ShopCommand : public ::testing::Test {
 protected:
  std::string path(const std::string& name) const { return (folder_.path() / name).string(); }
  void kept(const std::string& name, const std::string& text) const {
    const fs::path file = folder_.path() / "shop" / name;
    fs::create_directories(file.parent_path());
    std::ofstream(file) << text;
  }
  CommandRun shop(std::vector<std::string> words) const {
    words.insert(words.begin(), {"shop", "--shop", path("shop")});
    return command(words);
  }
  const Folder folder_;
};

const std::string flat6 =
    "number = 1\nshape = \"flat\"\ndiameter = 6\nflutes = 3\nflute_length = 20\nstickout = 27\n"
    "holder = [[25, 20]]\n";
const std::string router =
    "max_feed = [6000, 6000, 2000]\nrapid = [6000, 6000, 2000]\naccel = [500, 500, 300]\n";

TEST_F(ShopCommand, KeepsShowsReplacesAndForgets) {
  EXPECT_NE(shop({}).out.find("nothing is kept"), std::string::npos);
  folder_.file("a.nc", cli::small_program);
  std::string text = cli::small_job;
  text += std::string(machine) + "name = \"router\"\n[materials.\"my plate\"]\nkc11 = 650\n";
  const std::string job = folder_.file("job.toml", text);
  const CommandRun first = shop({"--keep", job});
  EXPECT_EQ(first.status, 0) << first.err;
  EXPECT_EQ(first.out, "kept: machines/router\nkept: tools/T1\nkept: materials/my plate\n");
  const CommandRun shown = shop({});
  EXPECT_EQ(shown.status, 0) << shown.err;
  for (const char* words : {"Machines\n  router", "feeds to 6000, 6000, 2000 mm/min", "Tools\n  T1",
                            "T1, 6 mm flat, stands out 20 mm, no holder", "Materials\n  my plate"})
    EXPECT_NE(shown.out.find(words), std::string::npos) << words << "\nin\n" << shown.out;
  // Not over what is there, unless asked to; and then all of it or nothing.
  const std::string before = read(path("shop/tools/T1.toml"));
  folder_.file("job.toml", text.replace(text.find("stickout = 20"), 13, "stickout = 24"));
  const CommandRun again = shop({"--keep", job});
  EXPECT_EQ(again.status, 2);
  EXPECT_NE(again.err.find("is kept already"), std::string::npos) << again.err;
  EXPECT_EQ(read(path("shop/tools/T1.toml")), before);
  EXPECT_EQ(shop({"--keep", job, "--replace"}).status, 0);
  EXPECT_NE(read(path("shop/tools/T1.toml")).find("stickout = 24"), std::string::npos);
  EXPECT_EQ(shop({"--forget", "tools/T1"}).out, "forgotten: tools/T1\n");
  EXPECT_FALSE(fs::exists(path("shop/tools/T1.toml")));
  EXPECT_EQ(shop({"--forget", "tools/T1"}).status, 2);
  EXPECT_EQ(shop({"--forget", "tools/../machines/router"}).status, 2);
  EXPECT_TRUE(fs::exists(path("shop/machines/router.toml")));
  // A broken file is told with its place, and the others are shown.
  kept("tools/bad.toml", "shape = \"flat\"\ndiameter = -6\n");
  const CommandRun broken = shop({});
  EXPECT_EQ(broken.status, 2);
  EXPECT_NE(broken.err.find("bad.toml:2:1"), std::string::npos) << broken.err;
  EXPECT_NE(broken.out.find("router"), std::string::npos);
}

// A job that names what is kept is not changed without a word by who edits it.
TEST_F(ShopCommand, CheckTellsWhatOfTheShopChanged) {
  kept("machines/router.toml", router);
  kept("tools/flat.toml", flat6);
  kept("tools/another.toml", "shape = \"ball\"\ndiameter = 6\n");
  folder_.file("a.nc", cli::small_program);
  const std::string job =
      folder_.file("job.toml",
                   "shop = \"shop\"\n[machine]\nkept = \"router\"\n[stock]\nsize = [30, 20, 10]\n"
                   "[[tools]]\nkept = \"flat\"\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n"
                   "zero = { x = \"min\", y = \"min\", z = \"top\" }\n");
  const auto check = [&](bool accept) {
    std::vector<std::string> words = {"check",     job,       "--baseline", path("kept.json"), "-o",
                                      path("out"), "--voxel", "1",          "--no-html"};
    if (accept) words.emplace_back("--accept");
    return command(words);
  };
  EXPECT_NE(check(true).status, 2);
  std::vector<std::string> names;
  const Json baseline = Json::parse(read(path("kept.json")));
  for (const Json& i : baseline["inputs"]) names.push_back(i["name"]);
  for (const char* name : {"shop/machines/router.toml", "shop/tools/flat.toml"})
    EXPECT_EQ(std::count(names.begin(), names.end(), name), 1) << name;
  EXPECT_EQ(std::count(names.begin(), names.end(), "shop/tools/another.toml"), 0);
  kept("machines/router.toml", router + "tool_change_s = 3000\n");
  kept("tools/another.toml", "shape = \"ball\"\ndiameter = 8\n");
  const CommandRun after = check(false);
  EXPECT_NE((after.out + after.err).find("changed shop/machines/router.toml."), std::string::npos)
      << after.out << after.err;
}

// What is kept is named from the root; a job from where one stands, or from the root.
TEST(ShopInputs, AreCalledTheSameHoweverTheJobIsNamed) {
  const InputFile kept{"/home/x/.config/proveout/tools/six.toml", "", 0};
  job::Job near, far;
  near.file = "job.toml";
  far.file = fs::current_path() / "job.toml";
  const std::string name = run::input_name(kept, far);
  EXPECT_EQ(fs::path(name).is_absolute(), false) << name;
  EXPECT_EQ(run::input_name(kept, near), name);
  near.file = "./job.toml";
  EXPECT_EQ(run::input_name(kept, near), name);
}

TEST_F(ShopCommand, ProposeTakesToolsMachineAndMaterial) {
  const Files good = bracket::good();
  const std::string front = folder_.file("front.nc", good.files.at("front.nc"));
  kept("machines/router.toml", router);
  kept("tools/six.toml", flat6);
  kept("materials/cast plate.toml", "density_g_cm3 = 2.66\nkc11 = 650\n");
  const CommandRun made = command({"propose", front, "--blank", "74x54x22", "--material",
                                   "Cast Plate", "--shop", path("shop"), "-o", path("job.toml")});
  EXPECT_EQ(made.status, 0) << made.err;
  const std::string text = read(path("job.toml"));
  for (const char* words :
       {"shop = \"shop\"  # given", "[machine]\nkept = \"router\"", "the only one that is kept",
        "kept = \"six\"", "by its number; 6 mm flat, stands out 27 mm", "material = \"cast plate\"",
        "[materials.\"cast plate\"]\nkept = \"cast plate\""})
    EXPECT_NE(text.find(words), std::string::npos) << words << "\nin\n" << text;
  EXPECT_EQ(text.find("stickout"), std::string::npos) << text;
  EXPECT_EQ(text.find("holder-contact:"), std::string::npos) << text;
  Diagnostics d;
  const auto job = job::read_job(path("job.toml"), d);
  ASSERT_TRUE(job) << to_text(d.all().at(0));
  EXPECT_EQ(job->tools.at(0).stickout, 27);
  EXPECT_EQ(job->machine.accel.x(), 500);
  EXPECT_EQ(job->materials.at("cast plate").kc11, 650);
  EXPECT_EQ(command({"propose", front, "--machine", "lathe", "--shop", path("shop"), "-o", "-"})
                    .err.find("kept are: router") == std::string::npos,
            false);
}

// By number, by words, and never against what is said.
TEST_F(ShopCommand, WhichKeptToolIsTaken) {
  const auto program = [](const std::string& comment, const std::string& cut) {
    return "%\nG21 G90\nT1 M6 " + comment + "\nS9000 M3\nG0 X0 Y0 Z5\n" + cut + "G0 Z5\nM30\n%\n";
  };
  const std::string slot = "G1 Z-2 F200\nX30 F600\n", holes = "G1 Z-9 F200\n";
  struct Case {
    const char* name;
    std::string comment, cut;
    std::vector<std::pair<std::string, std::string>> tools;
    std::string taken, remark;
  };
  const std::string ball = "shape = \"ball\"\ndiameter = 6\n";
  for (const Case& c : std::vector<Case>{
           {"number and words", "(6MM FLAT)", slot, {{"six", flat6}}, "six", ""},
           {"number alone", "", slot, {{"six", flat6}}, "six", "by its number alone"},
           {"another size", "(8MM FLAT)", slot, {{"six", flat6}}, "", "says 8 mm"},
           {"another shape", "(6MM BALL NOSE)", slot, {{"six", flat6}}, "", "says ball"},
           {"other flutes", "(6MM FLAT 2 FLUTE)", slot, {{"six", flat6}}, "", "says 2 flutes"},
           {"a drill that cuts sideways",
            "",
            slot,
            {{"drill", "number = 1\nshape = \"drill\"\ndiameter = 6\n"}},
            "",
            "it cuts sideways"},
           {"a drill",
            "",
            holes,
            {{"drill", "number = 1\nshape = \"drill\"\ndiameter = 6\n"}},
            "drill",
            "by its number alone"},
           {"words alone",
            "(6MM BALL NOSE)",
            slot,
            {{"ball", ball}, {"six", flat6}},
            "ball",
            "the only one of that shape and size"},
           {"two that fit the words",
            "(6MM BALL NOSE)",
            slot,
            {{"b", ball}, {"a", ball}},
            "",
            "may be one of the kept tools 'a', 'b'"},
           {"no words and no number", "", slot, {{"ball", ball}}, "", ""},
           {"inches said, mm kept", "(1/4 IN FLAT)", slot, {{"six", flat6}}, "", "says 6.35 mm"},
       }) {
    const Folder own;
    fs::create_directories(own.path() / "shop/tools");
    for (const auto& [name, text] : c.tools) own.file("shop/tools/" + name + ".toml", text);
    propose::Request request;
    request.programs = {own.file("a.nc", program(c.comment, c.cut))};
    request.blank = Vec3(40, 20, 12);
    request.shop = own.path() / "shop";
    Diagnostics d;
    const auto p = propose::read(request, d);
    ASSERT_TRUE(p) << c.name;
    EXPECT_EQ(p->tools.at(0).kept, c.taken) << c.name;
    std::string remarks;
    for (const std::string& r : p->remarks) remarks += r + "\n";
    if (c.remark.empty()) {
      EXPECT_EQ(remarks.find("kept"), std::string::npos) << c.name << remarks;
    } else {
      EXPECT_NE(remarks.find(c.remark), std::string::npos) << c.name << remarks;
    }
    // What is not taken leaves nothing of itself behind.
    if (c.taken.empty()) {
      EXPECT_TRUE(p->tools.at(0).holder.empty()) << c.name;
    }
  }
}

}  // namespace
}  // namespace proveout::planted
