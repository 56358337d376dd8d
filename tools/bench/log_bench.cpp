// A log of 1 000 000 spins: how large the file is, how long `show` of a shaft and `trend` of a year take, and the
// import of 200 000 entries, and of 20 000 in one job. Usage: bench_log FOLDER [COPIES OF 500 JOBS]. Prints what it
// measured; exit code 1 if a target is missed.
#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <stdexcept>

#include "counterspot/log/log.hpp"
#include "counterspot/log/quality.hpp"

using namespace counterspot;

namespace {

constexpr int first_jobs = 500;
constexpr int all_copies = 500;             // of them: 250 000 jobs of four spins
constexpr std::int64_t start = 1448452800;  // 2015-11-25
constexpr int entries_of_job = 8;
constexpr int imported_copies = 50;
constexpr double show_target_s = 0.050;
constexpr double trend_target_s = 1.0;
constexpr double file_target_GiB = 1.0;
constexpr double import_target_s = 60.0;
constexpr int long_job_entries = 20000;
constexpr double long_job_target_s = 10.0;

/// Ten years of work.
std::int64_t seconds_a_job(int copies) {
  return 10 * 31557600LL / (first_jobs * copies);
}

const char* const rig_text =
    "[rig]\nname = \"bay 2\"\nrotation = \"counter-clockwise\"\nviewing_end = \"A\"\n[tach]\nchannel = 3\n"
    "[[sensor]]\nname = \"A\"\nchannel = 1\nsensitivity = \"100 mV/g\"\n"
    "[[sensor]]\nname = \"B\"\nchannel = 2\nsensitivity = \"100 mV/g\"\n";

std::string shaft_text(int number) {
  return fmt::format(
      "[shaft]\nid = \"PS-{}\"\nmass = \"14.6 kg\"\nservice_speed = \"3200 rpm\"\ngrade = \"G16\"\n[tube]\n"
      "outside_diameter = \"76.2 mm\"\nwall = \"2.1 mm\"\nlength = \"1.42 m\"\n[supports]\nA = \"0 mm\"\nB = \"1500 "
      "mm\"\n"
      "[[plane]]\nname = \"A\"\nposition = \"70 mm\"\nradius = \"39 mm\"\n"
      "[[plane]]\nname = \"B\"\nposition = \"1430 mm\"\nradius = \"39 mm\"\n",
      number);
}

/// Numbers that do not compress to nothing; which ones does not matter.
double some(int i) {
  return 1.0 / (3.0 + i % 97) + 1e-3 * (i % 89);
}

Finding finding(int i) {
  Finding found;
  found.verdict = Verdict::within;
  const Eigen::Matrix2d covariance = some(i) * 1e-12 * Eigen::Matrix2d::Identity();
  for (const char* plane : {"A", "B"})
    found.planes.push_back({plane, {some(i), some(i + 1)}, covariance, some(i + 2), 0.039, some(i + 3), some(i + 4)});
  for (const char* place : {"A", "B", "support A", "support B"})
    found.held.push_back({place_of(place), 1e-4 * some(i), 1e-6, 348e-6, Verdict::within});
  return found;
}

Spun spin(int i, bool solved) {
  Spun spun;
  spun.label = "as found";
  const Eigen::Matrix2d covariance = some(i) * 1e-9 * Eigen::Matrix2d::Identity();
  for (const char* sensor : {"A", "B"})
    spun.readings.push_back({sensor, Motion::acceleration, {some(i), some(i + 7)}, covariance});
  spun.speed_rad_s = 188.0 + some(i);
  spun.speed_drift_fraction = 0.001;
  spun.revolutions = 312;
  spun.duration_s = 10.4;
  spun.recording = fmt::format("/shop/runs/2026/11/PS-{}-{}.wav", i, i % 4);
  spun.sha256 = std::string(64, "0123456789abcdef"[i % 16]);
  if (solved) spun.finding = finding(i);
  return spun;
}

void write_first_jobs(Log& log, std::int64_t apart_s) {
  log.at_once([&] {
    for (int j = 0; j < first_jobs; ++j) {
      std::int64_t at = start + j * apart_s;
      Job job = log.open_job({"rig.toml", rig_text, "shaft.toml", shaft_text(j), "counterspot 0.1.0", at});
      for (int k = 0; k < 4; ++k) {
        if (k > 0)
          job = log.append(job, Fitted{{{0, some(j), 0.039, some(k)}, {1, some(j + 1), 0.039, some(k)}}},
                           "counterspot 0.1.0", at += 60);
        job = log.append(job, spin(4 * j + k, k >= 2), "counterspot 0.1.0", at += 60);
      }
      log.append(job, Closed{7, finding(j), ""}, "counterspot 0.1.0", at += 60);
    }
  });
}

/// Each further job is one of the first, as another shaft and later; in SQL, since half a million jobs one by one take
/// longer than there is any use in.
void multiply(const std::string& file, int copies) {
  sqlite3* database = nullptr;
  sqlite3_open(file.c_str(), &database);
  auto run = [&](const std::string& statement) {
    char* trouble = nullptr;
    if (sqlite3_exec(database, statement.c_str(), nullptr, nullptr, &trouble) != SQLITE_OK)
      throw std::runtime_error(std::string(trouble) + ": " + statement);
  };
  run("BEGIN");
  for (int copy = 1; copy < copies; ++copy) {
    const int jobs = copy * first_jobs;
    const std::int64_t later = jobs * seconds_a_job(copies);
    run(
        fmt::format("INSERT INTO shafts SELECT id + {0}, shaft || '-{0}', family, planes, file, definition FROM shafts "
                    "WHERE id <= {1}",
                    jobs, first_jobs));
    run(fmt::format(
        "INSERT INTO jobs SELECT id + {0}, uid || '-{0}', name || '-{0}', rig, shaft + {0}, opened_unix_s + {2}, "
        "program, closed_unix_s + {2}, verdict, worst_ratio, spins FROM jobs WHERE id <= {1}",
        jobs, first_jobs, later));
    run(
        fmt::format("INSERT INTO entries SELECT job + {0}, number, kind, at_unix_s + {2}, program, other, reason FROM "
                    "entries WHERE job <= {1}",
                    jobs, first_jobs, later));
    for (const char* columns :
         {"spins: number, label, speed_rad_s, speed_drift_fraction, revolutions, duration_s, recording, sha256",
          "readings: number, n, sensor, motion, value_re, value_im, var_re, cov_re_im, var_im",
          "pieces: number, n, plane, mass_kg, radius_m, angle_rad", "findings: number, verdict, used_prior",
          "corrections: number, n, plane, residual_re_kg_m, residual_im_kg_m, var_re, cov_re_im, var_im, mass_kg, "
          "radius_m, angle_rad, predicted_residual_kg_m",
          "verdicts: number, n, place, residual_kg_m, u_residual_kg_m, limit_kg_m, verdict"}) {
      const std::string text = columns;
      const auto colon = text.find(':');
      run(fmt::format("INSERT INTO {0} (job,{2}) SELECT job + {1},{2} FROM {0} WHERE job <= {3}", text.substr(0, colon),
                      jobs, text.substr(colon + 1), first_jobs));
    }
  }
  run("DROP TABLE chain");
  run("DROP TABLE orders");
  run("DROP TABLE signatures");  // as of a log from before there were seals: opened again, it gets them
  run("UPDATE schema_version SET version = 6");
  run("COMMIT");
  run("PRAGMA wal_checkpoint(TRUNCATE)");
  sqlite3_close(database);
}

/// The first jobs so often, as an export of another log would have them.
std::string exported_jobs(const Log& log, int copies) {
  std::string lines;
  for (int copy = 0; copy < copies; ++copy) {
    int number = 0;
    log.for_each_job({}, [&](Job job) {
      if (number == first_jobs) return;
      job.shaft_file = {job.shaft_file.path(), shaft_text(first_jobs * copy + number++)};
      job.uid = fmt::format("{:032x}", first_jobs * copy + number);
      job.name = job.shaft().id + "/1";
      job.seal.clear();
      lines += job_to_json_line(job) + "\n";
    });
  }
  return lines;
}

/// One job that goes on and on, spins and pieces in turn.
Exported long_job(const Log& log, int entries) {
  Job job = log.job("PS-1/1");
  job.uid = std::string(32, 'f');
  job.name = "PS-1/2";
  job.seal.clear();
  job.events.clear();
  for (int number = 1; number <= entries; ++number) {
    What what = spin(number, false);
    if (number % 2 == 0) what = Fitted{{{0, some(number), 0.039, some(number)}}};
    job.events.push_back({number, start + number, "counterspot 0.1.0", std::move(what)});
  }
  return {{job}, {}};
}

template <typename Work>
double seconds(Work work) {
  const auto begin = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2 && argc != 3) return 2;
  const int copies = argc == 3 ? std::stoi(argv[2]) : all_copies;
  const std::string file = std::string(argv[1]) + "/million.db";
  const std::string other = std::string(argv[1]) + "/imported.db";
  std::filesystem::remove(file);
  std::filesystem::remove(other);
  std::string lines;
  Exported one_job;
  {
    Log log = Log::open(file, true);
    write_first_jobs(log, seconds_a_job(copies));
    lines = exported_jobs(log, std::min(copies, imported_copies));
    one_job = long_job(log, long_job_entries * std::min(copies, imported_copies) / imported_copies);
  }
  int entries = 0;
  const double import =
      seconds([&] { entries = Log::open(other, true).import_all(exported_in(std::move(lines))).entries; });
  const double import_one = seconds([&] { Log::open(other, true).import_all(one_job); });
  std::filesystem::remove(other);
  multiply(file, copies);
  const double sealing = seconds([&] { Log::open(file, false); });
  const double size = static_cast<double>(std::filesystem::file_size(file)) / (1 << 30);

  int spins = 0;
  const double show = seconds([&] {
    const Log log = Log::open(file, false);
    for (const JobOverview& line : log.list({fmt::format("PS-77-{}", first_jobs * (copies / 2)), "", "", {}, {}}))
      spins += static_cast<int>(state_of(log.job(line.name).events).spins.size());
  });
  std::size_t groups = 0;
  const double trend = seconds([&] {
    const Log log = Log::open(file, false);
    LogFilter year;
    year.from_unix_s = start + 4 * 31557600LL;
    year.until_unix_s = start + 5 * 31557600LL;
    groups = trend_of(log.list(year), Grouping::week).size();
  });
  fmt::print(
      "{} spins: file {:.2f} GiB (at most {}), show of a shaft with {} spins {:.1f} ms (under {:.0f}), trend of a "
      "year in {} weeks {:.2f} s (under {}); all sealed in {:.0f} s; {} entries imported in {:.1f} s (under {:.0f}), "
      "{} of one job in {:.1f} s (under {:.0f})\n",
      4 * first_jobs * copies, size, file_target_GiB, spins, 1e3 * show, 1e3 * show_target_s, groups, trend,
      trend_target_s, sealing, entries, import, import_target_s, one_job.jobs.front().events.size(), import_one,
      long_job_target_s);
  if (spins != 4 || groups < 52 || entries != entries_of_job * first_jobs * std::min(copies, imported_copies)) {
    fmt::print("this is not what was put in\n");
    return 2;
  }
  const bool met = size < file_target_GiB && show < show_target_s && trend < trend_target_s &&
                   import < import_target_s && import_one < long_job_target_s;
  return met ? 0 : 1;
}
