// What goes wrong at a rig, planted in sound work of the simulated rig on shafts that are truly outside their limits.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>

#include "mishaps/mishaps.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr std::uint64_t shafts = 4;

/// What became of one mishap on all shafts.
struct Row {
  int cases = 0, within = 0, unsure = 0, outside = 0, refused = 0, named = 0;
  int unsure_unnamed = 0;

  void add(const Mishap& mishap, const Said& said) {
    ++cases;
    refused += said.refused;
    within += !said.refused && said.verdict == Verdict::within;
    unsure += !said.refused && said.verdict == Verdict::unsure;
    outside += !said.refused && said.verdict == Verdict::outside;
    const bool is_named = std::any_of(mishap.codes.begin(), mishap.codes.end(), [&](const std::string& code) {
      return std::find(said.codes.begin(), said.codes.end(), code) != said.codes.end();
    });
    named += is_named;
    unsure_unnamed += !is_named && !said.refused && said.verdict == Verdict::unsure;
  }
};

void print_head() {
  fmt::print("{:<62}{:>7}{:>8}{:>8}{:>9}{:>9}{:>7}\n", "mishap", "cases", "within", "unsure", "outside", "refused",
             "named");
}

void print_row(const std::string& name, const Row& row) {
  fmt::print("{:<62}{:>7}{:>8}{:>8}{:>9}{:>9}{:>7}\n", name, row.cases, row.within, row.unsure, row.outside,
             row.refused, row.named);
}

/// Shafts from little over their limit to far over it.
std::vector<Work> works_outside(Ending ending) {
  std::vector<Work> works;
  for (std::uint64_t seed = 0; seed < shafts; ++seed) {
    const double times = 1.4 + 3.0 * static_cast<double>(seed) / static_cast<double>(shafts);
    works.push_back(sound_work(4000 + seed, ending, times));
    REQUIRE(works.back().times_limit() > 1.3);
  }
  return works;
}

void expect_named_and_never_within(const std::vector<Work>& works, const std::vector<Mishap>& mishaps) {
  print_head();
  for (const Mishap& mishap : mishaps) {
    Row row;
    for (std::size_t i = 0; i < works.size(); ++i) {
      Work work = works[i];
      mishap.plant(work);
      for (const Said& said : {solved(work), through_a_job(work)}) {
        row.add(mishap, said);
        for (const std::string& sentence : said.sentences) UNSCOPED_INFO("shaft " << i << "  " << sentence);
      }
    }
    INFO(mishap.name);
    print_row(mishap.name, row);
    CHECK(row.within == 0);
    CHECK(row.unsure_unnamed == 0);  // what is said to be outside, as it is, or refused, harms nobody
    CHECK(row.named + row.outside >= row.cases);
  }
}

}  // namespace

TEST_CASE("what goes wrong with sensors and recordings is named, and no shaft that is outside is called within") {
  expect_named_and_never_within(works_outside(Ending::corrected), mishaps_with_recordings(Ending::corrected));
}

TEST_CASE("three spins without one to spare: what can be known of sensors and recordings is named") {
  expect_named_and_never_within(works_outside(Ending::three_spins), mishaps_with_recordings(Ending::three_spins));
}

TEST_CASE("what goes wrong with the tach is named, and no shaft that is outside is called within") {
  expect_named_and_never_within(works_outside(Ending::corrected), mishaps_with_the_tach());
}

TEST_CASE("weights stated otherwise than fitted are named, and no shaft that is outside is called within") {
  expect_named_and_never_within(works_outside(Ending::corrected), mishaps_with_weights());
}

TEST_CASE("sound work keeps its verdict: nothing holds it back, and at most 2 % more are unsure") {
  constexpr int count = 100;
  int more_unsure = 0;
  int held_back = 0;
  std::map<std::string, int> said_codes;
  for (int i = 0; i < count; ++i) {
    const double times = 0.1 + 0.85 * i / count;
    const Work work = sound_work(5000 + static_cast<std::uint64_t>(i), Ending::corrected, times);
    INFO("shaft " << i << ", " << work.times_limit() << " times its limit");
    const Said said = solved(work);
    REQUIRE_FALSE(said.refused);
    for (const std::string& sentence : said.sentences) UNSCOPED_INFO(sentence);
    Work exact = work;  // as if every spin came back to where it was
    exact.rig_text += "\n[setting]\nrepeat = \"0 %\"\n";
    const Said before = solved(exact);
    more_unsure += said.verdict == Verdict::unsure && before.by_numbers != Verdict::unsure;
    held_back += !said.holding_back.empty();
    std::vector<std::string> codes = said.codes;
    std::sort(codes.begin(), codes.end());
    codes.erase(std::unique(codes.begin(), codes.end()), codes.end());
    for (const std::string& code : codes) ++said_codes[code];
    CHECK(said.holding_back.empty());
  }
  fmt::print("{} sound shafts: {} held back, {} more unsure\n", count, held_back, more_unsure);
  for (const auto& [code, times] : said_codes) fmt::print("  {:<24}{:>4}\n", code, times);
  CHECK(100 * more_unsure <= 2 * count);
}
