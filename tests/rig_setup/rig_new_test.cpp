// `rig new` as a new owner uses it: an empty folder, recordings of what each step asked for, and no manual.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <random>
#include <sstream>

#include "counterspot/drawing/drawing_rig_setup.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/solve/solution.hpp"
#include "owner.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr std::uint64_t plain_rig = 301;

/// A folder, and an owner who does what the program says next.
struct NewShop {
  explicit NewShop(Slips slips = {}) : owner(rigsim::random_first_day(plain_rig), slips) {}

  Ran run(std::vector<std::string> arguments) const {
    arguments.insert(arguments.begin(), {"rig", "new"});
    return run_program(arguments, "/dev/null", folder.path());
  }
  nlohmann::json step(std::vector<std::string> arguments) const {
    arguments.push_back("--json");
    return nlohmann::json::parse(run(arguments).out);
  }

  /// What the next step asks for is done, until there is none.
  nlohmann::json all_steps() {
    nlohmann::json answer = step({"--full-scale", "10 V", "--viewing-end", owner.told.viewing_end});
    while (answer.contains("next")) {
      const SetupStep next = setup_steps_named(answer["next"]["step"]).front();
      CAPTURE(answer.dump(1));
      REQUIRE_FALSE(answer.contains("again"));
      owner.act(next, 0);
      ++typed;
      if (next == SetupStep::direction) {
        answer = step({"--top", owner.told.top_goes});
        continue;
      }
      const std::string name = answer["next"]["step"];
      rigsim::write_recording(folder / (name + ".wav"), owner.recording(name));
      std::vector<std::string> arguments = {name + ".wav"};
      if (next == SetupStep::at_a)
        arguments.insert(arguments.end(), {"--weight", owner.told.weight, "--radius", owner.told.radius});
      answer = step(arguments);
    }
    return answer;
  }

  TemporaryFolder folder;
  Owner owner;
  int typed = 0;
};

/// Correction and verdict of three spins with a rig file.
Solution solved(const std::string& rig_text, const rigsim::FirstDay& day) {
  const TemporaryFolder folder;
  const Rig rig = read_rig_text(rig_text, "rig.toml");
  const Shaft shaft = read_shaft(write_file(folder / "shaft.toml", rigsim::shaft_toml(day.scenario)));
  const double trial_kg_m = 1.5 * rigsim::g16_total_kg_m(day.scenario);
  std::vector<SpinReading> readings;
  std::vector<Motion> motions;
  for (const int plane : {-1, 0, 1}) {
    std::vector<rigsim::UnbalanceSlice> real;
    std::vector<FittedWeight> stated;
    if (plane >= 0) {
      const rigsim::PlaneTruth& place = day.scenario.planes[static_cast<std::size_t>(plane)];
      real.push_back(rigsim::piece_at(place, trial_kg_m / place.radius_m, 0.4));
      stated.push_back({plane, trial_kg_m / place.radius_m, place.radius_m, 0.4});
    }
    const auto recording = Owner::opened(rigsim::balancing_spin(day, real, 70 + static_cast<std::uint64_t>(plane + 1)));
    const Track spin = track(*recording, rig);
    SpinReading reading{std::to_string(plane), stated, {}, {}, spin.speed_rad_s};
    motions.clear();
    for (const SensorTrack& sensor : spin.sensors) {
      motions.push_back(sensor.motion);
      reading.vectors.push_back(sensor.orders.front().value);
      reading.covariances.push_back(sensor.orders.front().covariance);
    }
    readings.push_back(reading);
  }
  return solve_readings(rig, shaft, readings, motions);
}

}  // namespace

TEST_CASE("an empty folder becomes a rig file that was proved, one instruction at a time") {
  NewShop shop;
  const auto first = shop.step({});
  CHECK(first["next"]["step"] == "rest");
  const auto last = shop.all_steps();
  CAPTURE(last.dump(1));
  CHECK(last["proof"]["held"] == true);
  CHECK(last["written"] == "rig.toml");
  CHECK(shop.typed == 11);
  const Rig rig = read_rig(shop.folder / "rig.toml");
  CHECK(rig.sensors.size() == 2);
  // and what was told is kept: nothing is asked twice, a step alone can be repeated, and the same file stays
  const auto again = shop.step({"hand.wav", "--only", "hand"});
  CHECK(again["written"] == "rig.toml");
  CHECK(shop.step({"--only", "tach"})["next"]["step"] == "hand");
}

TEST_CASE("a new rig is asked for in German too, with decimal commas") {
  NewShop shop;
  const Ran first = shop.run({"--language", "de"});
  CHECK(first.out.find("WEITER  (rest) Ohne Welle") != std::string::npos);
  CHECK(first.out.find("VORSICHT  ") != std::string::npos);
  shop.all_steps();
  const Ran last = shop.run({"--language", "de"});
  CHECK(last.out.find("Aufnehmer A: Kanal 3, 3 Schläge") != std::string::npos);
  CHECK(last.out.find("BEWIESEN  das bekannte Gewicht wurde gefunden") != std::string::npos);
  CHECK(last.out.find("rig.toml: geschrieben") != std::string::npos);
  CHECK(said({"{:.1f} Hz in rig.toml", "{:.1f} Hz in rig.toml"}, 2.5).de == "2,5 Hz in rig.toml");
}

TEST_CASE("every instruction, caution and title stands in both languages") {
  for (int each = 0; each <= static_cast<int>(SetupStep::sweep); ++each) {
    const auto step = static_cast<SetupStep>(each);
    const SetupInstruction asked = instruction_of(step, {});
    for (const Said* words : {&asked.by_hand, &asked.act, &asked.typed, &asked.caution}) {
      CAPTURE(setup_step_name(step), words->en);
      CHECK(words->en.empty() == words->de.empty());
      CHECK((words->en.empty() || words->en != words->de));
    }
    CHECK_FALSE(asked.act.empty());
    CHECK_FALSE(asked.caution.empty());
    CHECK_FALSE(setup_step_title(step).de.empty());
  }
}

TEST_CASE("the rig is drawn as it is understood, and with a question mark before its rotation is known") {
  NewShop shop;
  const auto refused = shop.run({"--picture", "early.svg"});
  CHECK(refused.exit_code == 2);
  shop.all_steps();
  CHECK(shop.run({"--picture", "rig.svg"}).exit_code == 0);
  CHECK(std::filesystem::exists(shop.folder / "rig.svg"));
  const SetupStanding standing = Owner(rigsim::random_first_day(plain_rig)).set_up();
  const auto means = [](const Picture& picture, const std::string& meaning) {
    return std::ranges::any_of(picture.shapes, [&](const Shape& shape) { return shape.meaning == meaning; });
  };
  const Picture known = rig_picture(*standing.rig, true);
  const Picture unknown = rig_picture(*standing.watched, false);
  const bool clockwise = standing.rig->rotation == Rotation::clockwise;
  CHECK(means(known, clockwise ? "turns clockwise" : "turns counter-clockwise"));
  CHECK(means(unknown, "rotation not known"));
  CHECK_FALSE(means(unknown, "turns clockwise"));
  for (const Sensor& sensor : standing.rig->sensors)
    CHECK(means(known, "sensor " + sensor.name + " inverted") == (sensor.sensitivity.volts_per_si < 0.0));
  // Who looks along the shaft and sees the top go left sees it turn against the clock.
  CHECK(means(top_goes_picture(true), "turns counter-clockwise"));
  CHECK(means(top_goes_picture(false), "turns clockwise"));
}

TEST_CASE("hands are asked to nothing that may turn") {
  for (const SetupStep step : {SetupStep::knocks_a, SetupStep::knocks_b, SetupStep::hand_turn}) {
    CHECK(instruction_of(step, {}).caution.en.find("only while the drive is isolated") != std::string::npos);
  }
  for (const SetupStep step : {SetupStep::slow_run, SetupStep::direction, SetupStep::bare, SetupStep::at_a,
                               SetupStep::at_b, SetupStep::known}) {
    CHECK(instruction_of(step, {}).caution.en.find("Guard closed") != std::string::npos);
  }
}

TEST_CASE("a direction told wrongly fails the proof aloud, and is mended by that step alone") {
  Slips slips;
  slips.said_the_other_side = true;
  NewShop shop(slips);
  const auto last = shop.all_steps();
  CHECK(last["proof"]["held"] == false);
  CHECK(last["written"].is_null());
  CHECK_FALSE(std::filesystem::exists(shop.folder / "rig.toml"));
  const Ran told = shop.run({});
  CHECK(told.exit_code == 1);
  CHECK(told.out.find("THE PROOF FAILED") != std::string::npos);
  CHECK(told.out.find("direction of rotation") != std::string::npos);
  const std::string right = shop.owner.told.top_goes == "left" ? "right" : "left";
  CHECK(shop.step({"--only", "direction", "--top", right})["written"] == "rig.toml");
}

TEST_CASE("what is not three knocks is asked for again, with what to do differently") {
  NewShop shop;
  rigsim::write_recording(shop.folder / "still.wav", rigsim::at_rest(rigsim::random_first_day(plain_rig), 5, false));
  shop.step({"still.wav"});
  shop.step({"still.wav"});
  const Ran ran = shop.run({"still.wav"});
  CHECK(ran.exit_code == 1);
  CHECK(ran.out.find("AGAIN  no knock stands out of the noise") != std::string::npos);
  CHECK(ran.out.find("(knocks-a)") != std::string::npos);
}

namespace {

void check_same(const Solution& a, const Solution& b) {
  CHECK(a.judgement.verdict == b.judgement.verdict);
  for (std::size_t p : {0U, 1U}) {
    const Phasor with = a.planes[p].residual_kg_m;
    CHECK(std::abs(with - b.planes[p].residual_kg_m) < 1e-6 * std::abs(with));
    CHECK(a.planes[p].u_residual_kg_m == Approx(b.planes[p].u_residual_kg_m).epsilon(1e-6));
    CHECK(a.planes[p].correction.mass_kg == Approx(b.planes[p].correction.mass_kg).epsilon(1e-6));
    CHECK(a.planes[p].correction.angle_rad == Approx(b.planes[p].correction.angle_rad).margin(1e-6));
  }
}

}  // namespace

TEST_CASE("correction and verdict with sensitivities unknown, of both sensors or of one, are those with them known") {
  for (const std::uint64_t seed : {301ULL, 302ULL, 303ULL}) {
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    Owner owner(day);
    const SetupStanding known = owner.set_up();
    owner.told.sensitivity[1].clear();
    const SetupStanding one = owner.stand();
    owner.told.sensitivity = {};
    owner.told.full_scale.clear();
    const SetupStanding none = owner.stand();
    CAPTURE(seed, none.rig_text.en);
    REQUIRE_FALSE(known.rig_text.empty());
    CHECK(none.rig_text.en.find("unknown\"") != std::string::npos);
    CHECK(none.rig_text.en.find("levels are in volts, full scale taken as 1 V: correction and verdict do not") !=
          std::string::npos);
    const Solution told = solved(known.rig_text.en, day);
    const Solution untold = solved(none.rig_text.en, day);
    CHECK(untold.motions == std::vector{Motion::unscaled, Motion::unscaled});
    check_same(told, untold);
    check_same(told, solved(one.rig_text.en, day));
  }
}

TEST_CASE("a hand-held shaker of 10 m/s2 at 159.2 Hz shows what a sensor gives, within the ± that is written") {
  for (const std::uint64_t seed : {301ULL, 302ULL, 303ULL, 304ULL}) {
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    Owner owner(day);
    owner.told.sensitivity = {};
    for (const int end : {0, 1}) {
      const SetupStep step = end == 0 ? SetupStep::shaker_a : SetupStep::shaker_b;
      owner.show(step, rigsim::on_shaker(day, end, {}, 40 + static_cast<std::uint64_t>(end)));
    }
    const SetupStanding standing = owner.set_up();
    CAPTURE(seed, owner.last_again, standing.rig_text.en);
    REQUIRE_FALSE(standing.rig_text.empty());
    CHECK(standing.rig_text.en.find("on a shaker of 10 m/s2 rms at 159.2 Hz, ± 3.") != std::string::npos);
    const Rig rig = read_rig_text(standing.rig_text.en, "rig.toml");
    for (std::size_t s : {0U, 1U}) {
      CHECK(rig.sensors[s].sensitivity.motion == Motion::acceleration);
      const double truth = day.scenario.rig.sensors[s].volts_per_si;
      // within 3 %; the simulated sound card's filter by itself takes 1.2 % off at any frequency
      CHECK(std::abs(rig.sensors[s].sensitivity.volts_per_si) == Approx(std::abs(truth)).epsilon(0.02));
    }
  }
}

TEST_CASE(
    "no sensitivity comes of another frequency, an unsteady hand, the wrong sensor or a certificate that differs") {
  const rigsim::FirstDay day = rigsim::random_first_day(plain_rig);
  Owner owner(day);
  owner.told.sensitivity = {};
  owner.set_up();
  const auto asked_again = [&](int sensor, const rigsim::ShakerTruth& shaker) {
    owner.show(SetupStep::shaker_a, rigsim::on_shaker(day, sensor, shaker, 50));
    const SetupStanding standing = owner.stand();
    CHECK(standing.rig_text.empty());
    REQUIRE(standing.again);
    CHECK(standing.next == SetupStep::shaker_a);
    CHECK(standing.again->why.en != standing.again->why.de);
    return standing.again->why.en;
  };
  CHECK(asked_again(0, {.frequency_Hz = 79.6}).find("shows 79.6 Hz, and the shaker is to run at 159.2 Hz") !=
        std::string::npos);
  CHECK(asked_again(0, {.wander = 0.2}).find("nothing steady for two seconds") != std::string::npos);
  CHECK_FALSE(asked_again(1, {}).empty());
  owner.told.sensitivity[0] = "50 mV/g";  // half of what it is
  CHECK(asked_again(0, {}).find("of the sensitivity that was typed for sensor A") != std::string::npos);
  owner.told.sensitivity[0].clear();
  owner.show(SetupStep::shaker_a, rigsim::on_shaker(day, 0, {}, 51));
  CHECK_FALSE(owner.stand().rig_text.empty());
}

TEST_CASE("a coast-down says which balancing speeds are good with a shaft on, and which to keep from") {
  // One on hard pedestals and one on soft ones, whose two resonances lie a tenth apart; one whose third is passed too;
  // and one whose order 2, of the joints, swings at half a natural frequency, which is no resonance of order 1.
  for (const std::uint64_t seed : {301ULL, 303ULL, 304ULL, 28ULL}) {
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    Owner owner(day);
    REQUIRE_FALSE(owner.set_up().rig_text.empty());
    owner.show(SetupStep::sweep, rigsim::coast_down(day, rigsim::top_rad_s(day), {}, 60, 40.0));
    const SetupStanding standing = owner.stand();
    REQUIRE(standing.next == std::nullopt);
    std::string all;
    for (const Said& sentence : standing.found) all += sentence.en + "\n";
    CAPTURE(seed, all);
    // Natural frequencies by the simulation's own equations of motion.
    const std::vector<rigsim::ModeTruth> truth = rigsim::modes_of(day);
    CAPTURE(rpm(truth[0].natural_rad_s), rpm(truth[1].natural_rad_s));
    int found = 0;
    const std::string words = "resonance with the shaft on, at sensor ";
    for (auto at = all.find(words); at != std::string::npos; at = all.find(words, at + 1), ++found) {
      std::size_t read = 0;
      const std::string said_rpm = all.substr(all.find(": ", at) + 2);
      const double found_rpm = std::stod(said_rpm, &read);
      const double plus_minus_rpm = std::stod(said_rpm.substr(read + std::string(" ± ").size()));
      CAPTURE(found_rpm, plus_minus_rpm);
      double off_rpm = 1e9;
      for (const auto& mode : truth) off_rpm = std::min(off_rpm, std::abs(found_rpm - rpm(mode.natural_rad_s)));
      CHECK(off_rpm <= plus_minus_rpm);
      CHECK(plus_minus_rpm < 0.04 * found_rpm);
    }
    CHECK(found >= 1);
    CHECK(all.find("keep from ") != std::string::npos);
    CHECK(standing.rig_text.en.find("# keep from ") != std::string::npos);
    CHECK(standing.rig_text.de.find(" meiden") != std::string::npos);
  }
  // Of one whose tach sees the mark no more at half of them, nothing is said to be one.
  const rigsim::FirstDay slow = rigsim::random_first_day(302);
  Owner sees_less(slow);
  REQUIRE_FALSE(sees_less.set_up().rig_text.empty());
  sees_less.show(SetupStep::sweep, rigsim::coast_down(slow, rigsim::top_rad_s(slow), {}, 60, 30.0));
  const SetupStanding standing = sees_less.stand();
  REQUIRE_FALSE(standing.found.empty());
  CHECK(standing.found.back().en.find("no resonance stands out") != std::string::npos);
  const rigsim::FirstDay day = rigsim::random_first_day(plain_rig);
  Owner owner(day);
  owner.set_up();
  // and a spin at one speed is none
  owner.show(SetupStep::sweep, rigsim::balancing_spin(day, {}, 61));
  CHECK(owner.stand().again->why.en == "the speed hardly changed");
}

TEST_CASE("what a rig can do without is asked for once it is wanted, and may be left out after all") {
  NewShop shop;
  REQUIRE(shop.all_steps()["written"] == "rig.toml");
  const auto asked = shop.step({"--only", "sensitivity"});
  CHECK(asked["next"]["step"] == "shaker-a");
  CHECK(asked["written"].is_null());
  const rigsim::FirstDay day = rigsim::random_first_day(plain_rig);
  rigsim::write_recording(shop.folder / "a.wav", rigsim::on_shaker(day, 0, {}, 41));
  CHECK(shop.step({"a.wav", "--only", "shaker-a"})["next"]["step"] == "shaker-b");
  CHECK(shop.step({"--without", "shaker-b", "--replace"})["written"] == "rig.toml");
  CHECK(read_file(shop.folder / "rig.toml").find("on a shaker of 10 m/s2 rms") != std::string::npos);
  CHECK(shop.step({"--only", "sweep"})["next"]["step"] == "sweep");
  CHECK(shop.step({"--without", "sweep"})["written"] == "rig.toml");
  CHECK(shop.run({"--without", "rest"}).exit_code == 2);
}

namespace {

/// A file's lines without what stands behind the #.
std::string values_in(const std::string& text) {
  std::string values;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);)
    if (const std::string value = line.substr(0, line.find('#')); !value.empty()) values += value + "\n";
  return values;
}

}  // namespace

TEST_CASE("the rig file says how each line was found in German where asked, its values being the same") {
  NewShop shop;
  REQUIRE(shop.all_steps()["written"] == "rig.toml");
  const std::string english = read_file(shop.folder / "rig.toml");
  std::filesystem::remove(shop.folder / "rig.toml");
  CHECK(shop.run({"--language", "de"}).exit_code == 0);
  const std::string german = read_file(shop.folder / "rig.toml");
  CHECK(values_in(german) == values_in(english));
  CHECK(german.find("# 3 Schläge auf Lagerbock A: ") != std::string::npos);
  CHECK(german.find("# oben geht nach ") != std::string::npos);
  for (const char* word : {"knock", "proved", "typed", "where", "turn"}) {
    CAPTURE(word);
    CHECK(english.find(word) != std::string::npos);
    CHECK(german.find(word) == std::string::npos);
  }
  // What a person reads already stays, also if it is asked for in the other language.
  CHECK(shop.run({}).exit_code == 0);
  CHECK(read_file(shop.folder / "rig.toml") == german);
}

TEST_CASE(
    "a sound card that lets nothing through under 15 Hz is said to, by the tach where the knocks do not show it") {
  const rigsim::FirstDay day = rigsim::random_first_day(304);
  REQUIRE(day.sound_card_Hz == 15.0);
  const SetupStanding standing = Owner(day).set_up();
  std::string all;
  for (const Said& sentence : standing.found) all += sentence.en + "\n";
  CAPTURE(all);
  const std::string words = fmt::format("channel {} lets low frequencies through only from ", day.channel[2] + 1);
  const auto at = all.find(words);
  REQUIRE(at != std::string::npos);
  CHECK(std::stod(all.substr(at + words.size())) == Approx(15.0).epsilon(0.15));
}

TEST_CASE("what a sensor shows at rest is told apart: noise, hum, another line and drift") {
  // Made of known parts: 10 s of white noise of 1 mV, hum of 50 Hz and 150 Hz, a machine at 27.4 Hz, 20 mV of drift.
  const double rate_Hz = 2000.0, noise = 1e-3, hum = 5e-3, machine = 2e-3, drift = 0.02;
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal(0.0, noise);
  std::vector<double> samples;
  for (int i = 0; i < 20000; ++i) {
    const double t = i / rate_Hz;
    samples.push_back(0.3 + normal(random) + drift * t / 10.0 + hum * std::cos(turn_rad * 50.0 * t) +
                      0.8 * hum * std::cos(turn_rad * 150.0 * t) + machine * std::cos(turn_rad * 27.4 * t));
  }
  const RestFinding found = find_rest(samples, rate_Hz);
  // White noise of standard deviation s has s √(2/rate) per √Hz, one-sided.
  CHECK(found.noise_per_rtHz == Approx(noise * std::sqrt(2.0 / rate_Hz)).epsilon(0.1));
  CHECK(found.hum_Hz == 50.0);
  CHECK(found.hum_amplitude == Approx(hum).epsilon(0.1));
  REQUIRE(found.line_Hz);
  CHECK(*found.line_Hz == Approx(27.4).margin(0.1));
  CHECK(found.line_amplitude == Approx(machine).epsilon(0.1));
  CHECK(found.drift == Approx(0.8 * drift).epsilon(0.05));  // from the middle of the first fifth to that of the last
  std::vector<double> quiet;
  for (int i = 0; i < 20000; ++i) quiet.push_back(normal(random));
  const RestFinding nothing = find_rest(quiet, rate_Hz);
  CHECK_FALSE(nothing.hum_Hz);
  CHECK_FALSE(nothing.line_Hz);
  CHECK(nothing.noise_rms == Approx(noise).epsilon(0.03));
  CHECK(std::abs(nothing.drift) < nothing.noise_rms);
}

TEST_CASE("a recording of other channels, or of fewer than sensors and tach need, is asked for again") {
  const rigsim::FirstDay day = rigsim::random_first_day(plain_rig);
  Owner owner(day);
  REQUIRE_FALSE(owner.set_up().rig_text.empty());
  rigsim::Recorded knocks = owner.recording("knocks-b");
  knocks.channels.push_back(knocks.channels.front());
  owner.show(SetupStep::knocks_b, knocks);
  const SetupStanding more = owner.stand();
  CHECK(more.next == SetupStep::knocks_b);
  REQUIRE(more.again);
  CHECK(more.again->why.en == "it has 4 channels, and the one at rest has 3");
  rigsim::Recorded rest = owner.recording("rest");
  rest.channels.pop_back();
  owner.show(SetupStep::rest, rest);
  const SetupStanding fewer = owner.stand();
  CHECK(fewer.next == SetupStep::rest);
  REQUIRE(fewer.again);
  CHECK(fewer.again->why.en == "it has 2 channels");
}

TEST_CASE("a pedestal's ring-down gives its frequency, its damping and the input's high-pass") {
  // The answer to a blow of a mass on a spring behind a first-order high-pass: both poles' parts, from the residues of
  // s²/(s² + 2ζωs + ω²) · s/(s + ω_c) (any text on Laplace transforms).
  const double rate_Hz = 4000.0, natural_Hz = 24.0, damping = 0.03, corner_Hz = 15.0;
  const Phasor pole = turn_rad * natural_Hz * Phasor(-damping, std::sqrt(1.0 - damping * damping));
  const double c = turn_rad * corner_Hz;
  const Phasor residue = pole * pole * pole / ((pole - std::conj(pole)) * (pole + c));
  const double decay = -c * c * c / std::norm(-c - pole);
  std::vector<double> samples;
  for (int i = 0; i < 6000; ++i) {
    const double t = 0.01 + i / rate_Hz;
    samples.push_back(2.0 * (residue * std::exp(pole * t)).real() + decay * std::exp(-c * t));
  }
  const auto found = fit_ring_down(samples, rate_Hz);
  REQUIRE(found);
  CHECK(found->frequency_Hz == Approx(natural_Hz).epsilon(1e-3));
  CHECK(found->damping == Approx(damping).epsilon(1e-2));
  REQUIRE(found->high_pass_Hz);
  CHECK(*found->high_pass_Hz == Approx(corner_Hz).epsilon(0.02));
}
