// The daily check by knocks: a rig that is as it was is within, and each change that knocks can tell is named.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/guide/tap_guide.hpp"
#include "counterspot/rig_setup/tap_check.hpp"
#include "owner.hpp"
#include "report/tap_check.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

FoundOrAgain<TapCheck> checked(const rigsim::FirstDay& day, const Rig& rig, std::uint64_t seed,
                               const std::optional<TapRecord>& before) {
  const auto a = Owner::opened(rigsim::knocks(day, 0, true, seed));
  const auto b = Owner::opened(rigsim::knocks(day, 1, true, seed + 1));
  return tap_check(rig, *a, *b, before);
}

bool is_within(const FoundOrAgain<TapCheck>& found) {
  const auto* check = std::get_if<TapCheck>(&found);
  return check != nullptr && check->within;
}

}  // namespace

TEST_CASE("a rig that is as it was is within by knocks; a sensor turned over or in another channel is not") {
  for (const std::uint64_t seed : {301ULL, 302ULL, 303ULL}) {
    CAPTURE(seed);
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    const SetupStanding standing = Owner(day).set_up();
    REQUIRE(standing.rig);
    const Rig& rig = *standing.rig;
    const auto first = checked(day, rig, 9000 + seed, std::nullopt);
    REQUIRE(is_within(first));
    const TapRecord record = std::get<TapCheck>(first).record;
    const auto next = checked(day, rig, 9500 + seed, record);
    if (const auto* check = std::get_if<TapCheck>(&next)) {
      for (const Said& sentence : check->against) UNSCOPED_INFO(sentence.en);
      CHECK(check->within);
    }
    rigsim::FirstDay turned = day;
    turned.inverted[0] = !turned.inverted[0];
    CHECK_FALSE(is_within(checked(turned, rig, 9000 + seed, record)));
    rigsim::FirstDay exchanged = day;
    std::swap(exchanged.channel[0], exchanged.channel[1]);
    CHECK_FALSE(is_within(checked(exchanged, rig, 9000 + seed, record)));
    if (!record.a_over_b) continue;
    TapRecord half = record;
    half.a_over_b = 0.5 * *record.a_over_b;
    CHECK_FALSE(is_within(checked(day, rig, 9000 + seed, half)));
  }
}

namespace {

/// The rig as its file would say it, from the simulation's truth.
Rig rig_in_truth(const rigsim::FirstDay& day) {
  Rig rig;
  for (const std::size_t s : {0U, 1U}) {
    Sensor sensor;
    sensor.name = s == 0 ? "A" : "B";
    sensor.channel = static_cast<int>(day.channel[s]) + 1;
    sensor.sensitivity = parse_sensitivity(day.inverted[s] ? "-unknown" : "unknown");
    rig.sensors.push_back(sensor);
  }
  return rig;
}

}  // namespace

// Tried on three later days each, 300 in all: no false alarm, one asked again, gains held against each other on 129.
TEST_CASE("of a hundred rigs that nothing happens to, knocks on a later day raise no alarm", "[long]") {
  int days = 0, again = 0, alarms = 0, gains_held = 0;
  for (std::uint64_t seed = 401; seed <= 500; ++seed) {
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    const Rig rig = rig_in_truth(day);
    const auto first = checked(day, rig, 10 * seed, std::nullopt);
    const auto* sound = std::get_if<TapCheck>(&first);
    if (sound == nullptr) {
      ++again;
      continue;
    }
    CHECK(sound->within);
    for (std::uint64_t later = 1; later <= 1; ++later, ++days) {
      const auto found = checked(day, rig, 10 * seed + 2 * later, sound->record);
      const auto* check = std::get_if<TapCheck>(&found);
      again += check == nullptr ? 1 : 0;
      if (check == nullptr) continue;
      gains_held += check->record.a_over_b && sound->record.a_over_b ? 1 : 0;
      alarms += check->within ? 0 : 1;
      for (const Said& sentence : check->against) UNSCOPED_INFO(seed << ": " << sentence.en);
    }
  }
  WARN(days << " days: " << alarms << " false alarms, " << again << " asked again, gains held against each other on "
            << gains_held);
  CHECK(alarms == 0);
}

TEST_CASE("a replaced sensor stays out by knocks, and what is said names the way out: the reference shaft") {
  const rigsim::FirstDay day = rigsim::random_first_day(301);
  const Rig rig = rig_in_truth(day);
  const auto first = checked(day, rig, 9000, std::nullopt);
  const TapRecord record = std::get<TapCheck>(first).record;
  REQUIRE(record.a_over_b);
  rigsim::FirstDay replaced = day;
  replaced.scenario.rig.sensors[0].volts_per_si *= 0.5;
  const auto now = checked(replaced, rig, 9100, record);
  const auto& check = std::get<TapCheck>(now);
  CHECK_FALSE(check.within);
  CHECK(check.changed);
  const Json told = document_of_taps(now);
  CHECK(told["next"].get<std::string>().find("'rig check --shaft reference.toml'") != std::string::npos);
  CHECK(taps_text(now, rig, german()).find("bis eine Referenzwelle zeigt") != std::string::npos);
  // What the file says wrong is no change: it is mended there.
  rigsim::FirstDay turned = day;
  turned.inverted[0] = !turned.inverted[0];
  const auto wrong = checked(turned, rig, 9200, record);
  CHECK_FALSE(std::get<TapCheck>(wrong).changed);
  CHECK(document_of_taps(wrong)["next"].get<std::string>().find("reference") == std::string::npos);
}

TEST_CASE("what failed by knocks speaks against the day's shafts until knocks are within again") {
  const TemporaryFolder folder;
  Log log = Log::open((folder / "log.db").string(), true);
  TapCheck check;
  check.within = true;
  check.record.a_over_b = 1.5;
  keep_taps(log, "bay 7", check, "test", 1000);
  CHECK(knowledge_of_rig(log, "bay 7").noticed.empty());
  check.within = false;
  check.against = {{"sensor A is turned over", "Aufnehmer A ist umgepolt"}};
  keep_taps(log, "bay 7", check, "test", 2000);
  REQUIRE(knowledge_of_rig(log, "bay 7").noticed.size() == 1);
  CHECK(knowledge_of_rig(log, "bay 7").noticed[0].code == WarningCode::qualification_failed);
  CHECK(log.check().faults.empty());
  check.within = true;
  keep_taps(log, "bay 7", check, "test", 3000);
  CHECK(knowledge_of_rig(log, "bay 7").noticed.empty());
}

TEST_CASE("a gain that falls a little every day is held against the first day, not against the day before") {
  const TemporaryFolder folder;
  Log log = Log::open((folder / "log.db").string(), true);
  CHECK_FALSE(taps_to_hold_against(log, "bay 7", 0));
  TapCheck check;
  check.within = true;
  for (const double fallen : {1.0, 0.8, 0.64}) {
    check.record.a_over_b = 1.5 * fallen;
    keep_taps(log, "bay 7", check, "test", std::lround(2000.0 - 1000.0 * fallen));
  }
  CHECK(taps_to_hold_against(log, "bay 7", 0)->a_over_b == 1.5);
  CHECK(taps_to_hold_against(log, "bay 7", 1100)->a_over_b ==
        1.5 * 0.8);  // a reference shaft showed the rig to be sound then
  CHECK_FALSE(taps_to_hold_against(log, "bay 7", 9000));
  CHECK(newest_taps(log, "bay 7")->record.a_over_b == 1.5 * 0.64);
}

namespace {

/// A rig whose file `rig new` wrote, and knocks on it as recordings.
struct KnockedRig {
  KnockedRig() {
    const SetupStanding standing = Owner(day).set_up();
    REQUIRE(standing.rig);
    write_file(folder / "rig.toml", standing.rig_text.en);
    rigsim::write_recording(folder / "a.wav", rigsim::knocks(day, 0, true, 9000));
    rigsim::write_recording(folder / "b.wav", rigsim::knocks(day, 1, true, 9001));
  }
  Ran run(std::vector<std::string> arguments) const {
    arguments.insert(arguments.end(), {"--rig", "rig.toml", "--log", "log.db"});
    return run_program(arguments, "/dev/null", folder.path());
  }
  /// A source that gives the same knocks whenever it is opened, so at both pedestals.
  Ran check_live(const std::string& file) const {
    const auto recording = open_recording((folder / file).string());
    std::ofstream out(folder / "live.raw", std::ios::binary);
    const std::size_t channels = recording->info().channels.size();
    const double rate_Hz = recording->info().sample_rate_Hz;
    std::size_t all = 0;
    std::vector<double> block(channels * 4096);
    for (std::size_t frames = recording->read(block); frames > 0; frames = recording->read(block)) {
      all += frames;
      for (std::size_t i = 0; i < channels * frames; ++i) {
        const auto sample = static_cast<float>(block[i]);
        out.write(reinterpret_cast<const char*>(&sample), sizeof sample);
      }
    }
    out.close();
    return run({"rig", "check", "--source", "raw:live.raw", "--format", "f32le", "--rate",
                fmt::format("{} Hz", rate_Hz), "--channels", std::to_string(channels), "--seconds",
                fmt::format("{} s", static_cast<double>(all) / rate_Hz), "--json"});
  }
  Ran check(const std::string& a, const std::string& b, const std::string& more) const {
    return run({"rig", "check", "--knocks-a", a, "--knocks-b", b, more});
  }
  rigsim::FirstDay day = rigsim::random_first_day(301);
  TemporaryFolder folder;
};

bool says(const Ran& ran, const std::string& part) {
  INFO(ran.out << ran.err);
  return ran.out.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("knocks are recorded from a live source, one pedestal after the other, and judged as recordings are") {
  const KnockedRig rig;
  CHECK(rig.run({"rig", "check", "--source", "raw:-", "--knocks-a", "a.wav"}).exit_code == 2);  // one or the other
  CHECK(rig.run({"rig", "check", "--source", "raw:-", "--shaft", "shaft.toml"}).exit_code == 2);
  const Ran ran = rig.check_live("a.wav");
  INFO(ran.out << ran.err);
  CHECK(ran.exit_code == 1);  // whoever knocks at A twice is told
  const auto against = nlohmann::json::parse(ran.out)["against"];
  CHECK_FALSE(against.empty());
  CHECK(against == nlohmann::json::parse(rig.check("a.wav", "a.wav", "--json").out)["against"]);
  const auto at_a = ran.err.find("Knock three times on pedestal A");
  CHECK(at_a < ran.err.find("rig.knocks-a-1.w64"));
  CHECK(ran.err.find("rig.knocks-a-1.w64") < ran.err.find("Knock three times on pedestal B"));
  for (const char* name : {"rig.knocks-a-1.w64", "rig.knocks-b-1.w64"})
    CHECK(std::filesystem::exists(rig.folder / name));
}

TEST_CASE("knocks typed at the command are judged, kept, and named by 'rig show' in both languages") {
  const KnockedRig rig;
  CHECK(rig.check("a.wav", "gone.wav", "--json").exit_code == 3);
  CHECK_FALSE(std::filesystem::exists(rig.folder / "log.db"));

  const Ran first = rig.check("a.wav", "b.wav", "--json");
  CHECK(first.exit_code == 0);
  CHECK(nlohmann::json::parse(first.out)["within"] == true);
  CHECK(says(rig.check("a.wav", "b.wav", "--language=en"), "NEXT  Go on balancing.\n"));
  CHECK(says(rig.run({"rig", "show"}), " UTC: as it was\n"));
  CHECK(says(rig.run({"rig", "show", "--language", "de"}), " UTC: wie zuvor\n"));

  // Its recordings exchanged: each pedestal's knocks are in the other's channel.
  const Ran exchanged = rig.check("b.wav", "a.wav", "--json");
  CHECK(exchanged.exit_code == 1);
  CHECK(nlohmann::json::parse(exchanged.out)["against"].size() == 2);
  CHECK(says(rig.check("b.wav", "a.wav", "--language=de"), "bis dahin ist keine Welle innerhalb.\n"));
  CHECK(says(rig.run({"rig", "show"}), "NOT AS IT WAS: the knocks at A are in channel "));
  CHECK(says(rig.run({"rig", "show", "--language", "de"}), "NICHT WIE ZUVOR: die Schläge an A sind in Kanal "));
  const nlohmann::json shown = nlohmann::json::parse(rig.run({"rig", "show", "--json"}).out);
  CHECK(shown["knocks_within"] == false);
  CHECK(shown["knocked"].is_string());
  CHECK(shown["newest"].is_null());  // no spins were made on it

  // Nothing was knocked: asked again, and nothing is kept of it.
  rigsim::write_recording(rig.folder / "rest.wav", rigsim::at_rest(rig.day, 9002, false));
  const Ran again = rig.check("rest.wav", "b.wav", "--json");
  CHECK(again.exit_code == 1);
  CHECK(nlohmann::json::parse(again.out)["within"].is_null());
  CHECK(rig.check("a.wav", "b.wav", "--json").exit_code == 0);
  CHECK(says(rig.run({"rig", "show"}), " UTC: as it was\n"));
}
