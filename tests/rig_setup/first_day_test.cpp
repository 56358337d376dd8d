// The whole first day: from an empty folder to the first verdict, with nothing at hand but the rig, a tape measure, a
// scale and the program. No file is written by hand, and no sensitivity is known.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "counterspot/files/files.hpp"
#include "owner.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// A new owner with an empty folder, who types what the program names next.
class FirstDayAtRig {
 public:
  explicit FirstDayAtRig(std::uint64_t seed) : day_(rigsim::random_first_day(seed)), owner_(day_) {
    setenv("XDG_CONFIG_HOME", (folder_ / "own").c_str(), 1);
    setenv("XDG_DATA_HOME", (folder_ / "data").c_str(), 1);
  }
  ~FirstDayAtRig() {
    unsetenv("XDG_CONFIG_HOME");
    unsetenv("XDG_DATA_HOME");
  }
  FirstDayAtRig(const FirstDayAtRig&) = delete;
  FirstDayAtRig& operator=(const FirstDayAtRig&) = delete;

  /// @param lines of standard input: answers, or samples as they come through a pipe.
  Ran type(const std::vector<std::string>& arguments, const std::filesystem::path& lines = "/dev/null") {
    ++commands;
    std::string line;
    for (const std::string& argument : arguments) line += argument + " ";
    Ran ran = run_program(arguments, lines, folder_.path());
    INFO(line << "\n" << ran.out << ran.err);
    CHECK(ran.exit_code <= 1);
    return ran;
  }
  std::string next() { return type({}).out; }

  /// All steps of `rig new`, the rig being a pipe on standard input.
  nlohmann::json set_up_rig() {
    nlohmann::json answer = nlohmann::json::parse(type({"rig", "new", "--json"}).out);
    while (answer.contains("next")) {
      const std::string step = answer["next"]["step"];
      CAPTURE(answer.dump(1));
      REQUIRE_FALSE(answer.contains("again"));
      owner_.act(setup_steps_named(step).front(), 0);
      std::vector<std::string> arguments = {"rig", "new", "--json"};
      std::filesystem::path pipe = "/dev/null";
      if (step == "direction") {
        arguments.insert(arguments.end(), {"--top", owner_.told.top_goes, "--viewing-end", owner_.told.viewing_end});
        values += 2;
      } else {
        const rigsim::Recorded& recorded = owner_.recording(step);
        pipe = folder_ / "pipe.wav";
        rigsim::write_recording(pipe, recorded);
        const double seconds = static_cast<double>(recorded.channels.front().volts.size()) / recorded.sample_rate_Hz;
        arguments.insert(arguments.end(), {"--source", "-", "--seconds", fmt::format("{:.3f} s", seconds - 0.002)});
      }
      if (step == "at-a") {
        arguments.insert(arguments.end(), {"--weight", owner_.told.weight, "--radius", owner_.told.radius});
        values += 2;
      }
      answer = nlohmann::json::parse(type(arguments, pipe).out);
    }
    return answer;
  }

  /// Answers what `shaft new` asks, line by line.
  Ran measure_shaft(const std::string& id) {
    const Shaft shaft = read_shaft(write_file(folder_ / "truth.txt", rigsim::shaft_toml(day_.scenario)));
    std::filesystem::remove(folder_ / "truth.txt");
    const auto mm = [](double m) { return fmt::format("{:.2f} mm", 1e3 * m); };
    const double a = shaft.supports->a_m;
    std::string lines = fmt::format("{:.2f} kg\n", *shaft.mass_kg);
    lines += mm(shaft.tube->outside_diameter_m) + "\n" + mm(shaft.tube->wall_m) + "\n" + mm(shaft.tube->length_m) +
             "\n\n3200 rpm\nG16\n" + mm(shaft.supports->b_m - a) + "\n\n" + mm(shaft.planes[0].position_m - a) + "\n" +
             mm(shaft.planes[1].position_m - a) + "\n" + mm(shaft.planes[0].radius_m) + "\n";
    values += static_cast<int>(std::count(lines.begin(), lines.end(), '\n'));
    return type({"shaft", "new", id}, write_file(folder_ / "lines.txt", lines));
  }

  /// Does what the job asks until it is to be closed.
  nlohmann::json balance() {
    nlohmann::json step = nlohmann::json::parse(type({"job", "next", "--json"}).out);
    for (int acts = 0; acts < 14 && !step["step"].get<std::string>().starts_with("close"); ++acts) {
      CAPTURE(step.dump(1));
      if (step["step"].get<std::string>().starts_with("fit")) {
        step = nlohmann::json::parse(type({"job", "fit", "--as-asked", "--json"}).out);
        continue;
      }
      const std::string name = fmt::format("spin-{}.wav", ++spins);
      rigsim::write_recording(folder_ / name, rigsim::balancing_spin(day_, on(step["on_shaft"]), 900U + spins));
      step = nlohmann::json::parse(type({"job", "spin", name, "--json"}).out);
    }
    return step;
  }

  std::filesystem::path file(const std::string& name) const { return folder_ / name; }
  /// Values in files that would else be written by hand.
  int values_in(const std::string& name) const {
    int lines = 0;
    std::string text = read_file(folder_ / name);
    for (std::size_t at = text.find(" = "); at != std::string::npos; at = text.find(" = ", at + 1)) ++lines;
    return lines;
  }

  int commands = 0, values = 0, spins = 0;

 private:
  std::vector<rigsim::UnbalanceSlice> on(const nlohmann::json& pieces) const {
    std::vector<rigsim::UnbalanceSlice> slices;
    for (const auto& piece : pieces) {
      const std::size_t plane = piece["plane"] == "A" ? 0 : 1;
      slices.push_back(rigsim::piece_at(day_.scenario.planes[plane], piece["mass_g"].get<double>() / 1e3,
                                        radians(piece["angle_deg"].get<double>())));
    }
    return slices;
  }

  TemporaryFolder folder_;
  rigsim::FirstDay day_;
  Owner owner_;
};

bool says(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("from an empty folder to the first verdict, each command named by the one before, nothing typed twice") {
  FirstDayAtRig day(301);
  CHECK(says(day.next(), "NEXT  counterspot rig new\n"));
  const nlohmann::json proved = day.set_up_rig();
  CAPTURE(proved.dump(1));
  REQUIRE(proved["written"] == "rig.toml");
  CHECK(says(read_file(day.file("rig.toml")), "levels are in volts, full scale taken as 1 V"));

  CHECK(says(day.next(), "NEXT  counterspot shop rig rig.toml\n"));
  day.type({"shop", "rig", "rig.toml"});
  day.type({"shop", "log", "log.db"});
  CHECK(says(day.next(), "NEXT  counterspot shop shafts"));
  std::filesystem::create_directory(day.file("shafts"));
  day.type({"shop", "shafts", "shafts"});
  CHECK(says(day.next(), "NEXT  counterspot shaft new ID\n"));
  CHECK(says(day.measure_shaft("PS-1042").out, "NEXT  counterspot job open PS-1042\n"));
  CHECK(says(day.type({"stock", "new", "--washer", "16 mm: 2.9 g", "--strip", "12 x 3 mm, 0.283 g/mm"}).out,
             "NEXT  counterspot shop stock stock.toml\n"));
  day.type({"shop", "stock", "stock.toml"});
  CHECK(day.type({"doctor"}).exit_code == 0);
  CHECK(says(day.next(), "NEXT  counterspot job open PS-1042\n"));
  day.type({"job", "open", "PS-1042"});
  const nlohmann::json last = day.balance();
  CAPTURE(last.dump(1));
  CHECK(last["step"] == "close");
  CHECK(last["verdict"] == "within");

  // Typed with a file by hand for each: every value of theirs, with its key and unit, found out by other means before.
  const int by_hand = day.values_in("rig.toml") + day.values_in("shafts/PS-1042.toml") + day.values_in("stock.toml");
  WARN("values typed: " << day.values << " in place of " << by_hand << " in files by hand; commands: " << day.commands
                        << ", of these " << day.spins << " spins");
  CHECK(2 * day.values < by_hand);
}
