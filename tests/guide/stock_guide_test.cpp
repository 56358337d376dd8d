// A shop's stock on the disk, as command and page write it: what is kept, never written over, and whom it is named to.
#include <catch2/catch.hpp>
#include <filesystem>

#include "counterspot/files/shop.hpp"
#include "counterspot/guide/rig_setup_guide.hpp"
#include "counterspot/guide/stock_guide.hpp"
#include "counterspot/placement/stock.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

namespace fs = std::filesystem;

/// A folder, and the answers as they come one by one.
struct StockShop {
  StockPlace place() const { return stock_place({}, folder / "shop.toml"); }

  void answer(const std::string& key, const std::string& answer) const {
    StockStanding standing = stock_standing(place());
    answer_stock(standing.told, key, answer);
    keep_stock_told(place(), standing.told);
  }
  /// Everything, with these washers.
  void answer_all(const std::vector<std::string>& washers) const {
    answer("name", "");
    for (const std::string& washer : washers) answer("washer", washer);
    for (const char* key : {"washer", "slug", "strip", "clamp", "bead", "planes", "closed-arc"}) answer(key, "");
  }
  std::string text_in(const char* name) const { return read_file(folder / name); }

  TemporaryFolder folder;
};

std::string code_of(const std::function<void()>& work) {
  try {
    work();
  } catch (const Error& error) {
    return error.code();
  }
  return "";
}

}  // namespace

TEST_CASE("a stock is asked question by question, and what was answered outlives the program") {
  const StockShop shop;
  CHECK(stock_standing(shop.place()).next->key == "name");
  shop.answer("name", "");
  shop.answer("washer", "16 mm: 2.9 g");
  shop.answer("washer", "20 mm: 5,6 g");
  const StockStanding standing = stock_standing(shop.place());
  CHECK(standing.stage == StockStage::asking);
  CHECK(standing.next->key == "washer");  // one more, until there are no more
  CHECK(standing.told.answers.at("name") == std::vector<std::string>{"stock"});
  CHECK(standing.told.answers.at("washer") == std::vector<std::string>{"16 mm: 2.9 g", "20 mm: 5,6 g"});
  CHECK(code_of([&] { shop.answer("planes", "A, B"); }) == "stock_moved_on");  // not what is asked
  CHECK(code_of([&] { shop.answer("washer", "16 mm"); }) == "bad_answer");
  CHECK(code_of([&] { shop.answer("washer", std::string(300, '1')); }) == "bad_name");
  CHECK(stock_standing(shop.place()).seen == standing.seen);  // nothing that was refused is kept
}

TEST_CASE("what was answered is taken out, and a question of one answer is asked again") {
  const StockShop shop;
  shop.answer_all({"16 mm: 2.9 g", "20 mm: 5.6 g"});
  StockTold told = stock_standing(shop.place()).told;
  take_out_of_stock(told, "washer", 0);
  CHECK(told.answers.at("washer") == std::vector<std::string>{"20 mm: 5.6 g"});
  CHECK_FALSE(question_asked_of(told));
  take_out_of_stock(told, "planes", 0);
  CHECK(question_asked_of(told)->key == "planes");
  ask_stock_again(told, "washer");
  CHECK(question_asked_of(told)->key == "washer");
  CHECK(code_of([&] { take_out_of_stock(told, "washer", 1); }) == "stock_moved_on");
  CHECK(code_of([&] { ask_stock_again(told, "bolts"); }) == "stock_moved_on");
}

TEST_CASE("a stock that is written is named to the shop, and one that is there keeps its text under another name") {
  const StockShop shop;
  write_file(shop.folder / "shop.toml", "language = \"de\"\n");
  shop.answer_all({"16 mm: 2.9 g"});
  write_stock(shop.place(), stock_standing(shop.place()));
  const std::string first = shop.text_in("stock.toml");
  CHECK(read_stock_text(first, "stock.toml").kinds.size() == 1);
  CHECK(shop.text_in("shop.toml") == "language = \"de\"\nstock = \"stock.toml\"\n");
  StockStanding there = stock_standing(shop.place());
  CHECK(there.stage == StockStage::there);
  CHECK(there.is_shops);
  CHECK_FALSE(there.by_hand);

  change_stock(shop.place(), there.told, true);
  CHECK(stock_standing(shop.place()).stage == StockStage::shown);  // its answers are all there
  StockTold told = stock_standing(shop.place()).told;
  ask_stock_again(told, "washer");
  answer_stock(told, "washer", "20 mm: 5.6 g");
  answer_stock(told, "washer", "");
  keep_stock_told(shop.place(), told);
  CHECK(shop.text_in("stock.toml") == first);
  write_stock(shop.place(), stock_standing(shop.place()));
  CHECK(shop.text_in("stock.before-1.toml") == first);
  CHECK(read_stock_text(shop.text_in("stock.toml"), "stock.toml").kinds.size() == 2);
  CHECK(stock_standing(shop.place()).kept_as.filename() == "stock.before-2.toml");
}

TEST_CASE("a stock by hand stays, and who begins anew and leaves has changed nothing") {
  const StockShop shop;
  write_file(shop.folder / "stock.toml", "[[piece]]\nname = \"nut\"\nmass = \"3 g\"\n");
  const std::string by_hand = shop.text_in("stock.toml");
  StockStanding standing = stock_standing(shop.place());
  CHECK(standing.stage == StockStage::there);
  CHECK(standing.by_hand);
  CHECK_FALSE(standing.is_shops);
  write_stock(shop.place(), standing);  // it is taken as it is
  CHECK(shop.text_in("shop.toml").find("stock = \"stock.toml\"") != std::string::npos);
  change_stock(shop.place(), standing.told, false);
  CHECK(stock_standing(shop.place()).next->key == "name");
  leave_stock(shop.place(), stock_standing(shop.place()).told);
  CHECK(stock_standing(shop.place()).stage == StockStage::there);
  CHECK(shop.text_in("stock.toml") == by_hand);
}

TEST_CASE("a stock file that was made meanwhile is not written over, and a shop that names another keeps it") {
  const StockShop shop;
  write_file(shop.folder / "shop.toml", "stock = \"other.toml\"\n");
  shop.answer_all({"16 mm: 2.9 g"});
  const StockStanding standing = stock_standing(shop.place());
  const fs::path made = write_file(shop.folder / "stock.toml", "[[piece]]\nname = \"nut\"\nmass = \"3 g\"\n");
  CHECK(code_of([&] { write_stock(shop.place(), standing); }) == "file_exists");
  CHECK(read_file(made).find("nut") != std::string::npos);
  fs::remove(made);
  write_stock(shop.place(), standing);
  CHECK(shop.text_in("shop.toml") == "stock = \"other.toml\"\n");
}

TEST_CASE("no stock file comes of answers that cannot be together") {
  const StockShop shop;
  shop.answer_all({});
  CHECK(stock_standing(shop.place()).trouble->code() == "no_pieces");
  CHECK(code_of([&] { write_stock(shop.place(), stock_standing(shop.place())); }) == "no_pieces");
  CHECK_FALSE(fs::exists(shop.folder / "stock.toml"));
  StockTold told = stock_standing(shop.place()).told;
  ask_stock_again(told, "washer");
  answer_stock(told, "washer", "16 mm: 2.9 g");
  answer_stock(told, "washer", "");
  ask_stock_again(told, "closed-arc");
  answer_stock(told, "closed-arc", "C: 352,5 deg to 8 deg, weld seam");
  answer_stock(told, "closed-arc", "");
  keep_stock_told(shop.place(), told);
  CHECK(stock_standing(shop.place()).trouble->code() == "other_plane");  // else a weight may lie on the seam
}

TEST_CASE("in German the remarks and the pieces of a stock are German, and a number may have its comma") {
  FileAnswers answers = {{"name", {"Vorrat"}},
                         {"washer", {"16,5 mm: 2,9 g, 3,1 g"}},
                         {"strip", {"12,5 x 3 mm, 0,294 g/mm"}},
                         {"planes", {"A, B"}},
                         {"closed-arc", {"A: 352,5 deg to 8 deg, Schweißnaht"}}};
  const std::string text = new_stock_text(answers, "de");
  CAPTURE(text);
  const Stock stock = read_stock_text(text, "stock.toml");
  CHECK(stock.kinds[0].name == "Scheibe 16,5 mm");
  REQUIRE(stock.kinds[0].masses_kg.size() == 2);
  CHECK(stock.kinds[0].masses_kg[1] == Approx(3.1e-3));
  CHECK(stock.kinds[1].linear_mass_kg_m == Approx(0.294));
  CHECK(stock.rules.at("A").gap_m() == Approx(0.0185));  // 16.5 mm and 2 mm for a bead
  CHECK(degrees(stock.rules.at("A").forbidden[0].from_rad) == Approx(352.5));
  CHECK(text.find("# wie gewogen") != std::string::npos);
  CHECK(text.find("as weighed") == std::string::npos);
}

TEST_CASE("rig and source of a new rig are kept as the shop's, and what is stated beside them stays") {
  const TemporaryFolder folder;
  write_file(folder / "shop.toml", "language = \"de\"\nrig = \"old.toml\"\nshafts = \"ours\"\n");
  SetupTold told;
  told.source = "alsa:hw:1";
  told.source_rate = "48000 Hz";
  told.source_channels = "4";
  keep_as_shops(folder / "rig.toml", told);
  keep_as_shops(folder / "rig.toml", told);  // once more changes nothing
  const std::string folder_text = fs::absolute(folder.path()).lexically_normal().string();
  std::map<std::string, std::string> stated;
  for (const ShopValue& value : read_shop(folder / "shop.toml")) stated[value.key] = value.value;
  CHECK(stated == std::map<std::string, std::string>{{"language", "de"},
                                                     {"rig", folder_text + "/rig.toml"},
                                                     {"shafts", folder_text + "/ours"},
                                                     {"recordings", folder_text + "/spins"},
                                                     {"log", folder_text + "/log.db"},
                                                     {"source", "alsa:hw:1"},
                                                     {"source_rate", "48000 Hz"},
                                                     {"source_channels", "4"}});
}
