#include "counterspot/quality.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>
#include <numeric>

#include "counterspot/solution.hpp"

namespace counterspot {

namespace {

constexpr double moving_range_per_deviation = 1.128;  // d₂ for ranges of two, ISO 7870-2:2013, Table 1

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t middle = values.size() / 2;
  return values.size() % 2 == 1 ? values[middle] : 0.5 * (values[middle - 1] + values[middle]);
}

std::string group_of(const JobLine& job, Grouping grouping) {
  switch (grouping) {
    case Grouping::week: return iso_week(*job.closed_unix_s);
    case Grouping::rig: return job.rig;
    case Grouping::family: return job.family;
  }
  return {};
}

TrendLine line_of(const std::string& group, const std::vector<const JobLine*>& jobs) {
  TrendLine line;
  line.group = group;
  line.closed = static_cast<int>(jobs.size());
  std::vector<double> spins;
  std::vector<double> ratios;
  for (const JobLine* job : jobs) {
    line.within += job->verdict == Verdict::within ? 1 : 0;
    line.outside += job->verdict == Verdict::outside ? 1 : 0;
    line.unsure += job->verdict == Verdict::unsure ? 1 : 0;
    line.without_final += job->verdict ? 0 : 1;
    spins.push_back(job->spins);
    if (job->worst_ratio) ratios.push_back(*job->worst_ratio);
  }
  line.median_spins = median(spins);
  if (ratios.empty()) return line;
  line.median_ratio = median(ratios);
  line.highest_ratio = *std::max_element(ratios.begin(), ratios.end());
  return line;
}

/// Runs of spins between which nothing was changed.
std::vector<std::vector<const StandingSpin*>> repeats_in(const JobState& state) {
  std::vector<std::vector<const StandingSpin*>> runs;
  for (const StandingSpin& spin : state.spins) {
    if (runs.empty() || !(runs.back().front()->fitted == spin.fitted)) runs.emplace_back();
    runs.back().push_back(&spin);
  }
  return runs;
}

/// Σ|z − mean|² over the group.
double scatter(const std::vector<Phasor>& group) {
  const Phasor mean = std::accumulate(group.begin(), group.end(), Phasor{}) / static_cast<double>(group.size());
  double sum = 0.0;
  for (const Phasor& value : group) sum += std::norm(value - mean);
  return sum;
}

struct Pooled {
  Motion motion = Motion::acceleration;
  double sum = 0.0;
  int degrees = 0;  ///< of each part
};

void pool(const std::vector<const StandingSpin*>& run, std::map<std::string, Pooled>& by_sensor) {
  if (run.size() < 2) return;
  const Spun& first = run.front()->spun;
  std::vector<Motion> motions;
  for (const SensorReading& reading : first.readings) motions.push_back(reading.motion);
  for (std::size_t s = 0; s < first.readings.size(); ++s) {
    std::vector<Phasor> group;
    for (const StandingSpin* spin : run) {
      SpinReading row{"", {}, {}, {}, spin->spun.speed_rad_s};
      for (const SensorReading& reading : spin->spun.readings) {
        row.vectors.push_back(reading.value);
        row.covariances.push_back(reading.covariance);
      }
      group.push_back(first.speed_rad_s ? bring_to_speed(row, motions, *first.speed_rad_s).vectors[s] : row.vectors[s]);
    }
    Pooled& pooled = by_sensor[first.readings[s].sensor];
    pooled.motion = first.readings[s].motion;
    pooled.sum += scatter(group);
    pooled.degrees += static_cast<int>(group.size()) - 1;
  }
}

}  // namespace

std::string iso_week(std::int64_t unix_s) {
  namespace chrono = std::chrono;
  const auto day = chrono::floor<chrono::days>(chrono::sys_seconds{chrono::seconds(unix_s)});
  const chrono::weekday weekday(day);
  const auto thursday = day + chrono::days(4 - static_cast<int>(weekday.iso_encoding()));
  const auto year = chrono::year_month_day(thursday).year();
  const auto start = chrono::sys_days(chrono::year_month_day{year, chrono::January, chrono::day(1)});
  return fmt::format("{:04}-W{:02}", static_cast<int>(year), (thursday - start).count() / 7 + 1);
}

std::vector<TrendLine> trend_of(const std::vector<JobLine>& jobs, Grouping grouping) {
  std::map<std::string, std::vector<const JobLine*>> groups;
  for (const JobLine& job : jobs) {
    if (job.closed_unix_s) groups[group_of(job, grouping)].push_back(&job);
  }
  std::vector<TrendLine> lines;
  for (const auto& [group, members] : groups) lines.push_back(line_of(group, members));
  return lines;
}

std::optional<ControlChart> control_chart(const std::vector<double>& values) {
  if (values.size() < 2) return std::nullopt;
  ControlChart chart;
  chart.centre = std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
  double ranges = 0.0;
  for (std::size_t i = 1; i < values.size(); ++i) ranges += std::abs(values[i] - values[i - 1]);
  const double deviation = ranges / static_cast<double>(values.size() - 1) / moving_range_per_deviation;
  chart.lower = std::max(0.0, chart.centre - 3.0 * deviation);
  chart.upper = chart.centre + 3.0 * deviation;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (values[i] < chart.lower || values[i] > chart.upper) chart.beyond.push_back(i);
  }
  return chart;
}

std::vector<Repeatability> repeatability_of(const std::vector<Job>& jobs) {
  std::map<std::string, Pooled> by_sensor;
  for (const Job& job : jobs) {
    const JobState state = state_of(job.events);
    for (const auto& run : repeats_in(state)) pool(run, by_sensor);
  }
  std::vector<Repeatability> result;
  for (const auto& [sensor, pooled] : by_sensor) {
    // Both parts have the same scatter, and each `degrees` degrees of freedom.
    result.push_back({sensor, pooled.motion, std::sqrt(pooled.sum / (2.0 * pooled.degrees)), 2 * pooled.degrees});
  }
  return result;
}

std::optional<GaugeStudy> gauge_study(const std::vector<std::vector<Phasor>>& mountings) {
  GaugeStudy study;
  double within = 0.0;
  double squares = 0.0;
  Phasor sum;
  for (const auto& mounting : mountings) {
    if (mounting.empty()) continue;
    ++study.mountings;
    study.spins += static_cast<int>(mounting.size());
    squares += static_cast<double>(mounting.size() * mounting.size());
    within += scatter(mounting);
    sum = std::accumulate(mounting.begin(), mounting.end(), sum);
  }
  if (study.mountings < 2 || study.spins <= study.mountings) return std::nullopt;
  const double spins = study.spins;
  double between = 0.0;
  for (const auto& mounting : mountings) {
    if (mounting.empty()) continue;
    const auto size = static_cast<double>(mounting.size());
    between += size * std::norm(std::accumulate(mounting.begin(), mounting.end(), Phasor{}) / size - sum / spins);
  }
  const double mean_within = within / (spins - study.mountings) / 2.0;  // of one part
  const double mean_between = between / (study.mountings - 1) / 2.0;
  const double per_mounting = (spins - squares / spins) / (study.mountings - 1);  // n₀ of unequal groups
  const double mount = std::max(0.0, (mean_between - mean_within) / per_mounting);
  study.repeat_kg_m = std::sqrt(mean_within);
  study.mount_kg_m = std::sqrt(mount);
  study.total_kg_m = std::sqrt(mean_within + mount);
  return study;
}

std::vector<std::vector<Phasor>> mountings_of(const std::vector<Job>& jobs, std::size_t plane) {
  std::vector<std::vector<Phasor>> mountings;
  for (const Job& job : jobs) {
    const JobState state = state_of(job.events);
    std::vector<Phasor> longest;
    for (const auto& run : repeats_in(state)) {
      std::vector<Phasor> found;
      for (const StandingSpin* spin : run) {
        const auto& finding = spin->spun.finding;
        if (finding && plane < finding->planes.size()) found.push_back(finding->planes[plane].residual_kg_m);
      }
      if (found.size() > longest.size()) longest = found;
    }
    if (!longest.empty()) mountings.push_back(longest);
  }
  return mountings;
}

}  // namespace counterspot
