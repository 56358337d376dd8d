#include "counterspot/log/quality.hpp"

#include <fmt/chrono.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <utility>

#include "algebra/median.hpp"
#include "counterspot/learning/learning.hpp"
#include "counterspot/solve/solution.hpp"

namespace counterspot {

namespace {

constexpr double moving_range_per_deviation = 1.128;  // d₂ for ranges of two, ISO 7870-2:2013, Table 1

std::string group_of(const JobOverview& job, Grouping grouping) {
  switch (grouping) {
    case Grouping::week: return iso_week(*job.closed_unix_s);
    case Grouping::rig: return job.rig;
    case Grouping::family: return job.family;
  }
  return {};
}

TrendGroup line_of(const std::string& group, const std::vector<const JobOverview*>& jobs) {
  TrendGroup line;
  line.group = group;
  line.closed = static_cast<int>(jobs.size());
  std::vector<double> spins;
  std::vector<double> ratios;
  for (const JobOverview* job : jobs) {
    line.within += job->verdict == Verdict::within ? 1 : 0;
    line.outside += job->verdict == Verdict::outside ? 1 : 0;
    line.unsure += job->verdict == Verdict::unsure ? 1 : 0;
    line.without_final += job->verdict ? 0 : 1;
    spins.push_back(job->spins);
    if (job->worst_ratio) ratios.push_back(*job->worst_ratio);
  }
  line.median_spins = even_median_of(spins);
  if (ratios.empty()) return line;
  line.median_ratio = even_median_of(ratios);
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

/// What one job says of its rig: its spins, and what was on the shaft in each. Also two spins say something.
struct JobOnRig {
  const Job* job = nullptr;
  std::vector<SpinReading> spins;
};

bool same_speed(const JobOnRig& one, const JobOnRig& other) {
  constexpr double alike = 0.02;
  const double speed = other.spins.front().speed_rad_s.value_or(0.0);
  return std::abs(one.spins.front().speed_rad_s.value_or(0.0) - speed) <= alike * speed;
}

/// How this sensor answered to changes of weights, against coefficients ᾱ: the slope of Z over Σ_p ᾱ_p·W_p, Z_0 free.
/// Empty if the changes do not stand out of the readings' noise.
std::optional<Phasor> answer_against(const CoefficientPrior& mean, const JobOnRig& job, std::size_t sensor,
                                     std::size_t planes) {
  constexpr double clear = 10.0;  // changes over the standard uncertainty of a reading
  std::vector<Phasor> expected;
  Phasor mean_expected;
  Phasor mean_read;
  double variance = 0.0;
  const auto n = static_cast<double>(job.spins.size());
  for (const SpinReading& spin : job.spins) {
    Phasor sum;
    for (const FittedWeight& weight : spin.fitted) {
      const auto at = static_cast<Eigen::Index>(2 * (sensor * planes + static_cast<std::size_t>(weight.plane)));
      sum += Phasor(mean.mean(at), mean.mean(at + 1)) * weight.unbalance_kg_m();
    }
    expected.push_back(sum);
    mean_expected += sum / n;
    mean_read += spin.vectors[sensor] / n;
    variance += 0.5 * spin.covariances[sensor].trace() / n;
  }
  Phasor product;
  double square = 0.0;
  for (std::size_t k = 0; k < expected.size(); ++k) {
    product += std::conj(expected[k] - mean_expected) * (job.spins[k].vectors[sensor] - mean_read);
    square += std::norm(expected[k] - mean_expected);
  }
  if (square <= clear * clear * variance || square == 0.0) return std::nullopt;
  return product / square;
}

/// @param setting of a piece: what one spin must be expected to scatter by, however alike the first ones were.
double band_of(const std::vector<Phasor>& first, const SettingUncertainty& setting) {
  constexpr double beyond_by_chance = 1e-3;
  const auto n = static_cast<double>(first.size());
  double sum = 0.0;
  for (const Phasor& ratio : first) sum += std::norm(ratio - 1.0);
  const double freedom = 2.0 * (n - 1.0);
  const double least = 0.5 * (setting.mass_fraction * setting.mass_fraction + setting.angle_rad * setting.angle_rad);
  const double f = freedom / 2.0 * (std::pow(beyond_by_chance, -2.0 / freedom) - 1.0);
  return std::sqrt(2.0 * f * (1.0 + 1.0 / n) * std::max(sum / freedom, least));
}

/// Jobs of one rig with shafts of one family at one speed, oldest first.
std::optional<CoefficientTrend> trend_of_sensor(const std::vector<JobOnRig>& jobs, const CoefficientPrior& mean,
                                                std::size_t sensor, std::size_t planes) {
  CoefficientTrend trend;
  for (const JobOnRig& job : jobs) {
    const auto ratio = answer_against(mean, job, sensor, planes);
    if (!ratio) continue;
    trend.jobs.push_back(job.job->name);
    trend.ratios.push_back(*ratio);
  }
  const std::size_t count = trend.ratios.size();
  if (count <= first_jobs_of_band) return std::nullopt;
  trend.band =
      band_of({trend.ratios.begin(), trend.ratios.begin() + first_jobs_of_band}, jobs.front().job->rig().setting);
  auto is_beyond = [&](std::size_t j) { return std::abs(trend.ratios[j] - 1.0) > trend.band; };
  for (std::size_t j = first_jobs_of_band; j < count; ++j)
    if (is_beyond(j)) trend.beyond.push_back(j);
  std::size_t begin = count;
  while (begin > first_jobs_of_band && is_beyond(begin - 1)) --begin;
  if (count - begin >= 2) trend.since = begin;
  return trend;
}

/// The mean coefficients of the first jobs, also if most of them are two spins only.
std::optional<FamilyPrior> mean_of_first(const std::vector<JobOnRig>& jobs) {
  std::vector<Job> newest_first;
  for (std::size_t j = 0; j < first_jobs_of_band; ++j) newest_first.insert(newest_first.begin(), *jobs[j].job);
  Job another = *jobs.front().job;  // no job learns from itself
  another.uid.clear();
  LearningOptions options;
  options.teacher = Teacher::family;  // a chart is of shafts that are alike
  return prior_from(spins_of(newest_first), spins_of(another), options);
}

}  // namespace

std::string iso_week(std::int64_t unix_s) {
  return fmt::format("{:%G-W%V}", fmt::gmtime(static_cast<std::time_t>(unix_s)));
}

std::vector<TrendGroup> trend_of(const std::vector<JobOverview>& jobs, Grouping grouping) {
  std::map<std::string, std::vector<const JobOverview*>> groups;
  for (const JobOverview& job : jobs) {
    if (job.closed_unix_s) groups[group_of(job, grouping)].push_back(&job);
  }
  std::vector<TrendGroup> lines;
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
  const double rounding = 1e-9 * std::abs(chart.centre);  // values that are all alike have limits without width
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (values[i] < chart.lower - rounding || values[i] > chart.upper + rounding) chart.beyond.push_back(i);
  }
  return chart;
}

void RepeatedSpins::pool(const std::vector<const StandingSpin*>& run) {
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
    Pooled& pooled = by_sensor_[first.readings[s].sensor];
    pooled.motion = first.readings[s].motion;
    pooled.sum_si2 += scatter(group);
    pooled.degrees += static_cast<int>(group.size()) - 1;
  }
}

void RepeatedSpins::add(const Job& job) {
  const JobState state = state_of(job.events);
  for (const auto& run : repeats_in(state)) pool(run);
}

std::vector<Repeatability> RepeatedSpins::repeatability() const {
  std::vector<Repeatability> result;
  for (const auto& [sensor, pooled] : by_sensor_) {
    // Both parts have the same scatter, and each `degrees` degrees of freedom.
    result.push_back({sensor, pooled.motion, std::sqrt(pooled.sum_si2 / (2.0 * pooled.degrees)), 2 * pooled.degrees});
  }
  return result;
}

std::vector<Repeatability> repeatability_of(const std::vector<Job>& jobs) {
  RepeatedSpins repeated;
  for (const Job& job : jobs) repeated.add(job);
  return repeated.repeatability();
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

std::vector<CoefficientTrend> coefficient_trends(const std::vector<Job>& jobs) {
  std::map<std::pair<std::string, std::string>, std::vector<JobOnRig>> groups;
  for (const Job& job : jobs) {
    JobOnRig on_rig{&job, readings_of(state_of(job.events))};
    if (on_rig.spins.size() < 2) continue;
    std::vector<JobOnRig>& group = groups[{job.rig().name, family_of(job.shaft())}];
    const bool fits =
        group.empty() || (same_speed(on_rig, group.front()) &&
                          on_rig.spins.front().vectors.size() == group.front().spins.front().vectors.size());
    if (fits) group.push_back(std::move(on_rig));
  }
  std::vector<CoefficientTrend> trends;
  for (const auto& [names, group] : groups) {
    if (group.size() <= first_jobs_of_band) continue;
    const auto mean = mean_of_first(group);
    if (!mean) continue;
    const Rig rig = group.front().job->rig();
    const std::size_t planes = group.front().job->shaft().planes.size();
    for (std::size_t s = 0; s < rig.sensors.size(); ++s) {
      auto trend = trend_of_sensor(group, mean->coefficients, s, planes);
      if (!trend) continue;
      trend->rig = names.first;
      trend->family = names.second;
      trend->sensor = rig.sensors[s].name;
      trends.push_back(std::move(*trend));
    }
  }
  return trends;
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
