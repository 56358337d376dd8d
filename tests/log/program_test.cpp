// The program itself: a whole job with typed vectors, then everything the log can do with it.
#include <fmt/format.h>
#include <sndfile.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/influence/influence.hpp"
#include "databases.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

/// A rig of two sensors that feel their own plane with 20 mm/s a g·m and the other with a fifth of it.
struct Bench {
  TemporaryFolder folder;
  std::string log = (folder / "shop.db").string();
  double gain_of_a = 1.0;
  std::array<Phasor, 2> shaft{phasor_at(900e-6, radians(40.0)), phasor_at(600e-6, radians(250.0))};

  Bench() {
    write_file(folder / "rig.toml", rig_toml({"bay 2", "20 mV/(mm/s)"}));
    write_file(folder / "shaft.toml", shaft_toml());
  }
  Ran run(std::vector<std::string> arguments) const {
    arguments.insert(arguments.end(), {"--log", log});
    return run_program(arguments, "/dev/null", folder.path());
  }
  Json json(std::vector<std::string> arguments) const {
    arguments.emplace_back("--json");
    const Ran ran = run(std::move(arguments));
    CAPTURE(ran.out, ran.err);
    REQUIRE(ran.exit_code <= 1);
    return Json::parse(ran.out);
  }
  Json spin(const std::array<Phasor, 2>& on) const {
    std::vector<std::string> arguments = {"job", "spin", "--speed", "1800 rpm"};
    for (std::size_t s = 0; s < 2; ++s) {
      const Phasor reading =
          (s == 0 ? gain_of_a : 1.0) * (20.0 * (shaft[s] + on[s]) + 4.0 * (shaft[1 - s] + on[1 - s]));  // m/s
      arguments.insert(arguments.end(), {"--vector", fmt::format("{}={:.6f} mm/s @ {:.4f} deg ± 0.01 mm/s", "AB"[s],
                                                                 1e3 * std::abs(reading), direction_deg(reading))});
    }
    return json(arguments);
  }
  static void add(const Json& next, std::array<Phasor, 2>& on) {
    for (const Json& piece : next["pieces"]) {
      on[piece["plane"] == "A" ? 0 : 1] +=
          phasor_at(piece["mass_g"].get<double>() * 1e-3 * piece["radius_mm"].get<double>() * 1e-3,
                    radians(piece["angle_deg"].get<double>()));
    }
  }
  /// From the opening to the close, doing what is asked and nothing else.
  int whole_job() const {
    Json next = json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
    std::array<Phasor, 2> on{};
    int spins = 0;
    while (next["step"] != "close") {
      const std::string step = next["step"];
      CAPTURE(next.dump());
      REQUIRE(spins < 10);
      if (step.starts_with("fit")) {
        add(next, on);
        next = json({"job", "fit", "--as-asked"});
      } else {
        next = spin(on);
        ++spins;
      }
    }
    CHECK(next["verdict"] == "within");
    CHECK(run({"job", "close"}).exit_code == 0);
    return spins;
  }
};

/// The same samples as 24-bit WAV, and a chunk behind them.
void write_wav_with_notes(const std::filesystem::path& from, const std::string& to) {
  SF_INFO info{};
  SNDFILE* in = sf_open(from.c_str(), SFM_READ, &info);
  REQUIRE(in != nullptr);
  std::vector<int> samples(static_cast<std::size_t>(info.frames * info.channels));
  sf_readf_int(in, samples.data(), info.frames);
  sf_close(in);
  info.format = SF_FORMAT_WAV | SF_FORMAT_PCM_24;
  SNDFILE* out = sf_open(to.c_str(), SFM_WRITE, &info);
  REQUIRE(out != nullptr);
  REQUIRE(sf_write_int(out, samples.data(), static_cast<sf_count_t>(samples.size())) > 0);
  sf_close(out);
  std::ofstream(to, std::ios::binary | std::ios::app) << std::string("note\x10\0\0\0", 8) << "sixteen letters.";
}

/// A file for each channel of a recording, with all that its samples hold.
void write_folder_of_channels(const std::filesystem::path& from, const std::filesystem::path& folder,
                              const std::vector<std::string>& names) {
  SF_INFO info{};
  SNDFILE* in = sf_open(from.c_str(), SFM_READ, &info);
  REQUIRE(in != nullptr);
  const std::size_t channels = names.size();
  REQUIRE(static_cast<std::size_t>(info.channels) == channels);
  std::vector<int> samples(static_cast<std::size_t>(info.frames) * channels);
  sf_readf_int(in, samples.data(), info.frames);
  sf_close(in);
  std::filesystem::create_directories(folder);
  for (std::size_t c = 0; c < channels; ++c) {
    std::vector<int> of_channel;
    for (std::size_t i = c; i < samples.size(); i += channels) of_channel.push_back(samples[i]);
    SF_INFO one = info;
    one.channels = 1;
    one.format = SF_FORMAT_WAV | SF_FORMAT_PCM_24;
    SNDFILE* out = sf_open((folder / (names[c] + ".wav")).c_str(), SFM_WRITE, &one);
    REQUIRE(out != nullptr);
    REQUIRE(sf_writef_int(out, of_channel.data(), info.frames) == info.frames);
    sf_close(out);
  }
}

/// A job of a rig whose recorder writes a file for each channel, with the as-found spin of the demo.
struct FolderJob {
  TemporaryFolder folder;
  std::filesystem::path spin = folder / "spin-1";

  FolderJob() {
    std::filesystem::copy_file(source_file("data/shaft.toml"), folder / "shaft.toml");
    std::string rig = read_file(source_file("data/rig.toml"));
    for (const auto& [number, name] : {std::pair("channel = 1", "channel = \"a\""),
                                       {"channel = 2", "channel = \"b\""},
                                       {"channel = 3", "channel = \"tach\""}})
      rig.replace(rig.find(number), 11, name);
    write_file(folder / "rig.toml", rig);
    write_folder_of_channels(source_file("data/00-as-found.flac"), spin, {"a", "b", "tach"});
    REQUIRE(run({"job", "open", "shaft.toml", "--rig", "rig.toml"}).exit_code == 0);
  }
  Ran run(std::vector<std::string> arguments) const {
    arguments.insert(arguments.end(), {"--log", "log.db"});
    return run_program(arguments, "/dev/null", folder.path());
  }
  Spun kept() const {
    return std::get<Spun>(Log::open((folder / "log.db").string(), false).job("MC-0417/1").events.at(0).what);
  }
  Json checked() const { return Json::parse(run({"log", "check", "--recordings", "--json"}).out); }
};

}  // namespace

TEST_CASE("the program leads a shaft to within limit, and the second shaft like it in half the spins") {
  const Bench bench;
  CHECK(bench.whole_job() == 4);
  CHECK(bench.whole_job() == 2);
  const Ran list = bench.run({"log", "list"});
  CHECK(list.exit_code == 0);
  CHECK(list.out.find("PS-1042/2") != std::string::npos);
  CHECK(list.out.find("within") != std::string::npos);
  CHECK(Json::parse(
            bench.run({"log", "trend", "--json", "--by", "rig"})
                .out.substr(0, bench.run({"log", "trend", "--json", "--by", "rig"}).out.find('\n')))["median_spins"] ==
        3.0);

  const auto exported = bench.folder / "jobs.jsonl";
  CHECK(bench.run({"log", "export", "--out", exported.string()}).exit_code == 0);
  const auto table = bench.folder / "jobs.csv";
  CHECK(bench.run({"log", "export", "--csv", "--out", table.string()}).exit_code == 0);
  CHECK(bench.run({"log", "backup", (bench.folder / "backup.db").string()}).exit_code == 0);
  for (const char* from : {"jobs.jsonl", "jobs.csv"}) {
    const std::string other = (bench.folder / (std::string(from) + ".db")).string();
    CHECK(run_program({"log", "import", (bench.folder / from).string(), "--log", other}).exit_code == 0);
    CHECK(run_program({"log", "export", "--log", other}).out == read_file(exported));
  }
  const std::string restored = (bench.folder / "restored.db").string();
  CHECK(run_program({"log", "restore", (bench.folder / "backup.db").string(), "--log", restored}).exit_code == 0);
  CHECK(run_program({"log", "export", "--log", restored}).out == read_file(exported));
  const Ran check = run_program({"log", "check", "--log", restored});
  CHECK(check.exit_code == 0);
  CHECK(check.out.find("sound") != std::string::npos);
}

TEST_CASE("the operator is told at the spin, and in the quality report, when the rig is not as it was") {
  Bench bench;
  for (int i = 0; i < 9; ++i) bench.whole_job();
  const std::string before = bench.run({"log", "quality"}).out;
  CHECK(before.find("sensor A on bay 2") != std::string::npos);
  CHECK(before.find("coefficients hold") != std::string::npos);
  bench.gain_of_a = 0.5;  // a sensor that has come loose
  bool said = false;
  for (int i = 0; i < 2; ++i) {
    bench.json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
    bench.spin({});
    const FittedWeight piece{0, 0.02, 0.039, 0.0};
    bench.json({"job", "fit", "A 20 g @ 0 deg", "--as-typed"});  // whatever was asked for
    const Json next = bench.spin({piece.unbalance_kg_m(), 0.0});
    for (const Json& warning : next["warnings"]) said = said || warning["code"] == "out_of_band";
    bench.run({"job", "close", "--reason", "the rig is looked at"});
  }
  CHECK(said);
  const std::string after = bench.run({"log", "quality"}).out;
  CHECK(after.find("coefficients have LEFT THEIR BAND since PS-1042/10") != std::string::npos);
  CHECK(after.find("now 50 % of their size") != std::string::npos);
}

TEST_CASE("a piped spin has the hash of what came through the pipe") {
  const TemporaryFolder folder;
  for (const char* name : {"rig.toml", "shaft.toml", "00-as-found.flac", "01-trial-a.flac"})
    if (std::filesystem::exists(source_file(std::string("data/") + name)))
      std::filesystem::copy_file(source_file(std::string("data/") + name),
                                 folder / std::filesystem::path(name).filename());
  auto run = [&](const std::vector<std::string>& arguments, const std::string& input) {
    std::vector<std::string> all = arguments;
    all.insert(all.end(), {"--log", "log.db"});
    return run_program(all, input, folder.path());
  };
  REQUIRE(run({"job", "open", "shaft.toml", "--rig", "rig.toml"}, "/dev/null").exit_code == 0);
  const std::string recording = (folder / "00-as-found.flac").string();
  REQUIRE(run({"job", "spin", "-"}, recording).exit_code == 0);
  // And through a real pipe, with bytes behind the samples that no reader of samples needs.
  const std::string wav = (folder / "spin.wav").string();
  write_wav_with_notes(folder / "01-trial-a.flac", wav);
  const std::string line = "cat '" + wav + "' | '" + program_path().string() + "' job spin - --log '" +
                           (folder / "log.db").string() + "' > /dev/null 2> '" + (folder / "said").string() + "'";
  const int status = std::system(line.c_str());
  CAPTURE(read_file(folder / "said"));
  REQUIRE(status == 0);
  const Job job = Log::open((folder / "log.db").string(), false).job("MC-0417/1");
  REQUIRE(job.events.size() == 2);
  CHECK(std::get<Spun>(job.events[0].what).sha256 == sha256_of_file(recording));
  CHECK(std::get<Spun>(job.events[1].what).sha256 == sha256_of_file(wav));
}

TEST_CASE("a folder of channels is a spin of a job, and reads as the one file that holds them all") {
  const FolderJob job;
  REQUIRE(job.run({"job", "spin", "spin-1/"}).exit_code == 0);
  const Spun spun = job.kept();
  CHECK(spun.recording == job.spin.string());
  const Spun of_file = measured_spin(source_file("data/00-as-found.flac"), read_rig(source_file("data/rig.toml")),
                                     read_shaft(source_file("data/shaft.toml")));
  REQUIRE(spun.readings.size() == 2);
  for (std::size_t s = 0; s < 2; ++s)
    CHECK(std::abs(spun.readings[s].value - of_file.readings[s].value) <= 1e-12 * std::abs(of_file.readings[s].value));
  // GNU coreutils' sha256sum.
  const std::string command = "cd '" + job.spin.string() + "' && LC_ALL=C sha256sum *.wav | sha256sum > ../sum";
  REQUIRE(std::system(command.c_str()) == 0);
  CHECK(read_file(job.folder / "sum").substr(0, 64) == spun.sha256);
}

TEST_CASE("a folder of channels is held to what it was, file by file") {
  const FolderJob job;
  REQUIRE(job.run({"job", "spin", "spin-1"}).exit_code == 0);
  write_file(job.spin / "notes.txt", "no channel");
  Json checked = job.checked();
  CHECK(checked["faults"].empty());
  CHECK(checked["recordings"] == 1);
  SECTION("a file that changed") {
    std::fstream(job.spin / "b.wav", std::ios::in | std::ios::out | std::ios::binary).seekp(4000) << "sixteen letters.";
  }
  SECTION("a file under another name") {
    std::filesystem::rename(job.spin / "a.wav", job.spin / "c.wav");
  }
  SECTION("a file more") {
    write_file(job.spin / "z.csv", "time,z\n0,1\n1,2\n");
  }
  SECTION("all files gone") {
    for (const char* name : {"a.wav", "b.wav", "tach.wav"}) std::filesystem::remove(job.spin / name);
  }
  checked = job.checked();
  REQUIRE(checked["faults"].size() == 1);
  CHECK(checked["faults"][0].get<std::string>().find("spin-1 is not the recording that was measured") !=
        std::string::npos);
}

TEST_CASE("a folder of channels under a second name is the same recording") {
  const FolderJob job;
  REQUIRE(job.run({"job", "spin", "spin-1"}).exit_code == 0);
  std::filesystem::copy(job.spin, job.folder / "spin-2");
  const Ran ran = job.run({"job", "spin", "spin-2"});
  CHECK(ran.exit_code == 3);
  CHECK(ran.err.find("this recording is entry 1 of job MC-0417/1 already") != std::string::npos);
}

TEST_CASE("a recording is one spin of one job, until it is taken back there") {
  const TemporaryFolder folder;
  for (const char* name : {"rig.toml", "shaft.toml", "00-as-found.flac"})
    std::filesystem::copy_file(source_file(std::string("data/") + name), folder / name);
  write_wav_with_notes(folder / "00-as-found.flac", (folder / "copy.wav").string());
  std::string other = read_file(folder / "shaft.toml");
  other.replace(other.find("MC-0417"), 7, "MC-0418");
  write_file(folder / "other.toml", other);
  auto run = [&](std::vector<std::string> arguments) {
    arguments.insert(arguments.end(), {"--log", "log.db"});
    return run_program(arguments, "/dev/null", folder.path());
  };
  auto refused = [&](const std::vector<std::string>& arguments, const std::string& words) {
    const Ran ran = run(arguments);
    CAPTURE(ran.out, ran.err);
    CHECK(ran.exit_code == 3);
    CHECK(ran.out.empty());
    CHECK(ran.err.find(words) != std::string::npos);
    CHECK(ran.err.find("\n mend: ") != std::string::npos);
  };
  REQUIRE(run({"job", "open", "shaft.toml", "--rig", "rig.toml"}).exit_code == 0);
  REQUIRE(run({"job", "spin", "00-as-found.flac"}).exit_code == 0);
  refused({"job", "spin", "00-as-found.flac"}, "entry 1 of job MC-0417/1 already, 'as found': it counts once");
  REQUIRE(run({"job", "fit", "A 15 g @ 0 deg"}).exit_code == 0);
  for (const char* name : {"00-as-found.flac", "copy.wav"})
    refused({"job", "spin", name}, "entry 1 of job MC-0417/1 already, 'as found', which was spun with other weights");

  REQUIRE(run({"job", "open", "other.toml", "--rig", "rig.toml"}).exit_code == 0);
  refused({"job", "spin", "00-as-found.flac", "--job", "MC-0418/1"}, "entry 1 of job MC-0417/1 already");
  REQUIRE(run({"job", "back", "1", "--job", "MC-0417/1", "--reason", "that was MC-0418"}).exit_code == 0);
  CHECK(run({"job", "spin", "00-as-found.flac", "--job", "MC-0418/1"}).exit_code == 0);
  // A job that was given up may be done again from what was recorded.
  refused({"job", "spin", "00-as-found.flac", "--job", "MC-0417/1"}, "entry 1 of job MC-0418/1 already");
  REQUIRE(run({"job", "close", "--job", "MC-0418/1", "--reason", "a wrong mass in its file"}).exit_code <= 1);
  REQUIRE(run({"job", "open", "other.toml", "--rig", "rig.toml"}).exit_code == 0);
  CHECK(run({"job", "spin", "00-as-found.flac", "--job", "MC-0418/2"}).exit_code == 0);
  CHECK(run({"log", "check"}).exit_code == 0);
}

TEST_CASE("every instruction that asks for a weight or a spin carries the cautions, the close does not") {
  const Bench bench;
  CHECK(bench.run({"job", "open", "shaft.toml", "--rig", "rig.toml"}).out.find("CAUTION") != std::string::npos);
  const Ran next = bench.run({"job", "next"});
  CHECK(next.out.find("SPIN the shaft as it was found") != std::string::npos);
  CHECK(next.out.find("CAUTION") != std::string::npos);
  CHECK(bench.run({"job", "close", "--reason", "the tube is dented"}).out.find("CAUTION") == std::string::npos);
}

TEST_CASE("a job speaks German to who asks for it, and English to programs") {
  const Bench bench;
  const Ran german = bench.run({"job", "open", "shaft.toml", "--rig", "rig.toml", "--language", "de"});
  CHECK(german.exit_code == 0);
  CHECK(german.out.find("MESSLAUF: die Welle im Urzustand") != std::string::npos);
  CHECK(german.out.find("VORSICHT") != std::string::npos);
  CHECK(bench.json({"job", "next", "--language", "de"}) == bench.json({"job", "next"}));
  const Ran unknown = bench.run({"job", "next", "--language", "fr"});
  CHECK(unknown.exit_code == 2);
  CHECK(unknown.err.find("there are no words in the language 'fr'") != std::string::npos);
  CHECK(unknown.err.find("the languages are en and de") != std::string::npos);
}

TEST_CASE("what was really fitted can be said by angle or by clock, and taken off by its number") {
  const Bench bench;
  bench.json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
  const Json fitted =
      bench.json({"job", "fit", "A 12.5 g @ 90 deg", "B 0.4 oz @ 3:00, radius 41 mm", "A -3 g @ 10 deg"});
  REQUIRE(fitted["on_shaft"].size() == 3);
  CHECK(fitted["on_shaft"][0]["mass_g"].get<double>() == Approx(12.5));
  CHECK(fitted["on_shaft"][1]["radius_mm"].get<double>() == Approx(41.0));
  // Counter-clockwise as seen: against the rotation is clockwise, so 3:00 is 90 deg.
  CHECK(fitted["on_shaft"][1]["angle_deg"].get<double>() == Approx(90.0));
  const Json left = bench.json({"job", "fit", "--off", "1", "--off", "3"});
  REQUIRE(left["on_shaft"].size() == 1);
  CHECK(left["on_shaft"][0]["plane"] == "B");
  CHECK(bench.run({"job", "fit", "C 1 g @ 0 deg"}).exit_code == 2);
  CHECK(bench.run({"job", "fit", "A 1 g @ 13:00"}).exit_code == 2);
  CHECK(bench.run({"job", "fit", "--off", "7"}).exit_code == 2);
  CHECK(bench.run({"job", "fit"}).exit_code == 2);
}

TEST_CASE("a trial weight that was fitted and not stated is asked about at once, and one command puts it right") {
  const Bench bench;
  bench.json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
  std::array<Phasor, 2> on{};
  Bench::add(bench.spin({}), on);
  const Json question = bench.spin(on);  // fitted, and 'job fit' forgotten
  CHECK(question["step"] == "say_fitted");
  const std::string words = question["words"];
  CHECK(words.find("a weight was asked for and none stated, but the reading moved by") != std::string::npos);
  CHECK(words.find("is it on?") != std::string::npos);
  CHECK(question.dump().find("heavier") == std::string::npos);
  CHECK(question.dump().find("reading_moved") != std::string::npos);
  // Since when it is on must be known.
  const Ran refused = bench.run({"job", "fit", "--as-asked"});
  CHECK(refused.exit_code == 2);
  CHECK(refused.err.find("--was-on") != std::string::npos);
  const Json next = bench.json({"job", "fit", "--was-on", "--as-asked"});
  CHECK(next["step"] == "fit_trial");  // at the other plane
  CHECK(next["on_shaft"].size() == 1);
  CHECK(next["pieces"][0]["plane"] != next["on_shaft"][0]["plane"]);
  const std::string shown = bench.run({"job", "show"}).out;
  CHECK(shown.find("what was on the shaft had not been stated") != std::string::npos);
  // The way goes on as if it had been stated in time.
  Bench::add(next, on);
  bench.json({"job", "fit", "--as-asked"});
  Json correction = bench.spin(on);
  CHECK(correction["step"] == "fit_correction");
}

TEST_CASE("that nothing was fitted is said with one word, and the shaft is spun again") {
  const Bench bench;
  bench.json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
  bench.spin({});
  REQUIRE(bench.spin({Phasor(300e-6), 0.0})["step"] == "say_fitted");
  CHECK(bench.json({"job", "fit", "--unchanged"})["step"] == "spin");
  CHECK(bench.json({"job", "next"}).dump().find("reading_moved") == std::string::npos);
}

TEST_CASE("what is far from what was asked for is kept only once it was asked about") {
  const Bench bench;
  bench.json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
  const Json asked = bench.spin({});
  REQUIRE(asked["step"] == "fit_trial");
  const std::string plane = asked["pieces"][0]["plane"];
  const std::string in_kg = fmt::format("{} {:.1f} kg @ 0 deg", plane, asked["pieces"][0]["mass_g"].get<double>());
  const Ran question = bench.run({"job", "fit", in_kg});
  CHECK(question.exit_code == 2);
  CHECK(question.err.find("Is it so?") != std::string::npos);
  CHECK(question.err.find("--as-typed") != std::string::npos);
  CHECK(bench.json({"job", "next"})["entries"] == 1);
  CHECK(bench.json({"job", "fit", in_kg, "--as-typed"})["entries"] == 2);
  // Taken back, what was asked for is asked for again.
  const Json again = bench.json({"job", "back", "2", "--reason", "grams"});
  CHECK(again["step"] == "fit_trial");
  CHECK(again["pieces"] == asked["pieces"]);
}

TEST_CASE("trial weights off or left on: the operator says which, and either way the shaft comes within") {
  for (const char* choice : {"--bare", "--as-asked"}) {
    const Bench bench;
    CAPTURE(choice);
    Json next = bench.json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
    auto on_shaft = [](const Json& step) {
      std::array<Phasor, 2> on{};
      Json pieces = step;
      pieces["pieces"] = step["on_shaft"];
      Bench::add(pieces, on);
      return on;
    };
    for (int spins = 0; next["step"] != "fit_correction"; ++spins) {
      REQUIRE(spins < 8);
      next = next["step"] == "fit_trial" ? bench.json({"job", "fit", "--as-asked"}) : bench.spin(on_shaft(next));
    }
    REQUIRE(next["instead"].is_object());
    CHECK(next["instead"]["take_off"] == Json::array({1, 2}));
    CHECK(next["instead"]["pieces"].size() == 2);
    const std::string told = bench.run({"job", "next"}).out;
    CHECK(told.find("TAKE the trial weights off and FIT") < told.find("OR leave the trial weights on"));
    const Json fitted = bench.json({"job", "fit", choice});
    CHECK(fitted["on_shaft"].size() == (std::string(choice) == "--bare" ? 2 : 4));
    CHECK(bench.spin(on_shaft(fitted))["step"] == "close");
  }
}

TEST_CASE("an entry is taken back with a reason, and the job shows both") {
  const Bench bench;
  bench.json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
  bench.json({"job", "fit", "A 12.5 g @ 90 deg"});
  CHECK(bench.run({"job", "back", "1"}).exit_code == 2);
  CHECK(bench.json({"job", "back", "1", "--reason", "not yet"})["on_shaft"].empty());
  const std::string shown = bench.run({"job", "show"}).out;
  CHECK(shown.find("(taken back)") != std::string::npos);
  CHECK(shown.find("12.5 g") != std::string::npos);
  CHECK(shown.find("not yet") != std::string::npos);
}

TEST_CASE("without a log, an open job or a file the program says what to do") {
  const Bench bench;
  const Ran none = bench.run({"job", "next"});
  CHECK(none.exit_code == 2);
  CHECK(none.out.empty());
  CHECK(none.err.find("there is no such log") != std::string::npos);
  bench.json({"job", "open", "shaft.toml", "--rig", "rig.toml"});
  CHECK(bench.run({"job", "close", "--reason", "a try"}).exit_code == 1);
  CHECK(bench.run({"job", "next"}).err.find("there is no open job") != std::string::npos);
  CHECK(bench.run({"job", "open", "none.toml", "--rig", "rig.toml"}).exit_code == 2);
  CHECK(bench.run({"log", "show", "PS-9"}).exit_code == 2);
  CHECK(bench.run({"log", "import", "none.jsonl"}).exit_code == 2);
  CHECK(bench.run({"log", "list", "--from", "yesterday"}).exit_code == 2);
}

TEST_CASE("a job of recordings comes to what solve says of them, and the log knows each recording again") {
  const TemporaryFolder folder;
  const std::string log = (folder / "shop.db").string();
  for (const char* name : {"rig.toml", "shaft.toml", "spins-verify.toml", "00-as-found.flac", "01-trial-a.flac",
                           "02-trial-b.flac", "03-verify.flac"})
    std::filesystem::copy_file(source_file(std::string("data/") + name), folder / name);
  const std::vector<std::vector<std::string>> steps = {{"open", "shaft.toml", "--rig", "rig.toml"},
                                                       {"spin", "00-as-found.flac"},
                                                       {"fit", "A 15 g @ 0 deg"},
                                                       {"spin", "01-trial-a.flac", "--label", "trial at A"},
                                                       {"fit", "--only", "B 15 g @ 0 deg"},
                                                       {"spin", "02-trial-b.flac"},
                                                       {"fit", "A 36 g @ 265 deg", "B 26 g @ 110 deg"},
                                                       {"spin", "03-verify.flac"}};
  Json next;
  for (const auto& step : steps) {
    std::vector<std::string> arguments = {"job"};
    arguments.insert(arguments.end(), step.begin(), step.end());
    arguments.insert(arguments.end(), {"--json", "--log", log});
    const Ran ran = run_program(arguments, "/dev/null", folder.path());
    CAPTURE(ran.err);
    REQUIRE(ran.exit_code == 0);
    next = Json::parse(ran.out);
  }
  const Json solved =
      Json::parse(run_program({"solve", "spins-verify.toml", "--json"}, "/dev/null", folder.path()).out);
  CHECK(next["verdict"] == solved["verdict"]);
  REQUIRE(next["held"].size() == solved["held"].size());
  for (std::size_t i = 0; i < next["held"].size(); ++i) {
    // The same function on the same numbers; they went through the database and back.
    CHECK(next["held"][i]["residual_gmm"].get<double>() ==
          Approx(solved["held"][i]["residual_gmm"].get<double>()).epsilon(1e-12));
    CHECK(next["held"][i]["u_residual_gmm"].get<double>() ==
          Approx(solved["held"][i]["u_residual_gmm"].get<double>()).epsilon(1e-9));
  }
  CHECK(run_program({"log", "check", "--recordings", "--log", log}).exit_code == 0);
  write_file(folder / "01-trial-a.flac", "another file of that name");
  const Ran check = run_program({"log", "check", "--recordings", "--log", log});
  CHECK(check.exit_code == 1);
  CHECK(check.out.find("is not the recording that was measured") != std::string::npos);
}

TEST_CASE("a check of recordings goes on past one that cannot be looked at") {
  const TemporaryFolder folder;
  const std::string log = (folder / "log.db").string();
  {
    Log kept = Log::open(log, true);
    Spun spun = spin_of("as found");
    spun.sha256 = std::string(64, '0');
    // Longer than a name can be (255 bytes on Linux), so that the system gives an error, and not "no such file".
    for (const std::string& recording : {(folder / std::string(300, 'x')).string(), (folder / "gone.wav").string()}) {
      spun.recording = recording;
      const Job job = kept.append(kept.open_job(opening_of()), spun, "counterspot 0.1.0", some_day);
      kept.append(job, Closed{{}, {}, "a test"}, "counterspot 0.1.0", some_day);
    }
  }
  const Ran check = run_program({"log", "check", "--recordings", "--log", log});
  CHECK(check.exit_code == 1);
  CHECK(check.out.find("cannot be read") != std::string::npos);
  CHECK(check.out.find("2 jobs with 4 entries: 1 faults.\n1 recordings compared, 1 no longer there.") !=
        std::string::npos);
}
