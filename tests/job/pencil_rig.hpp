#pragma once

#include <array>
#include <utility>

#include "counterspot/job/job.hpp"
#include "counterspot/job/next_step.hpp"
#include "demo_files.hpp"
#include "report/step_words.hpp"

namespace counterspot::test {

inline Job new_job() {
  Job job;
  job.uid = "1";
  job.name = "PS-1042/1";
  job.rig_file = {"rig.toml", rig_toml({"bay 2", "20 mV/(mm/s)", {"A", "B"}})};
  job.shaft_file = {"shaft.toml", shaft_toml({"PS-1042", "limit = { A = \"40 g·mm\", B = \"40 g·mm\" }", "40 mm"})};
  return job;
}

/// Of another shaft, on the demo's rig.
inline Job job_of(const std::string& shaft_text) {
  Job job;
  job.uid = "1";
  job.rig_file = {"rig.toml", rig_toml()};
  job.shaft_file = {"shaft.toml", shaft_text};
  return job;
}

/// As the log does it.
inline void append(Job& job, What what) {
  const Event event{static_cast<int>(job.events.size()) + 1, 0, "test", std::move(what)};
  admit(job, event);
  job.events.push_back(event);
}

/// A rig whose sensors feel their own plane with 2 mm/s a g·mm/100 and the other with a fifth of it, and a shaft with
/// 300 g·mm at 40 deg in plane A and 200 g·mm at 250 deg in plane B: an answer that can be checked with a pencil.
struct PencilRig {
  std::array<Phasor, 2> shaft{phasor_at(300e-6, radians(40.0)), phasor_at(200e-6, radians(250.0))};
  double near_m_s_kg_m = 20.0;
  double far_m_s_kg_m = 4.0;

  Spun spin(const std::vector<FittedWeight>& fitted) const {
    auto on = shaft;
    for (const FittedWeight& piece : fitted) on[static_cast<std::size_t>(piece.plane)] += piece.unbalance_kg_m();
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = rad_per_s(1800.0);
    const Eigen::Matrix2d noise = 1e-12 * Eigen::Matrix2d::Identity();  // (1 µm/s)²
    spun.readings = {{"A", Motion::velocity, near_m_s_kg_m * on[0] + far_m_s_kg_m * on[1], noise},
                     {"B", Motion::velocity, far_m_s_kg_m * on[0] + near_m_s_kg_m * on[1], noise}};
    return spun;
  }
};

inline NextStep next_of(const Job& job) {
  return next_step(job, analyse(job, {}), {});
}

/// As people are told it.
inline StepWords said_of(const Job& job) {
  const KnownJob known{job, {}, analyse(job, {})};
  return step_words(known.next(), known);
}

}  // namespace counterspot::test
