#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// What the owner of a rig is shown of its model.

/// A value with its standard uncertainty, to first order in those of θ.
struct Estimate {
  double value = 0.0;
  double u = 0.0;
  double u_before = 0.0;  ///< the uncertainty before anything was learnt; 0: not said
  double scale = 0.0;     ///< what u is held against, of a value that may be nought; 0: the value itself
};

/// To 95 %, of a value or its scale: what is known no better is not shown as known (tried, no source).
inline constexpr double known_within = 0.15;
/// Is it worth showing? Known to ± 15 %, and not merely since it was thought so before: what was learnt has at least
/// halved its uncertainty, or it was as well known to begin with.
bool is_known(const Estimate& estimate);

struct PedestalCondition {
  Estimate moving_mass_kg;
  Estimate natural_frequency_Hz;  ///< √(k/m)/2π, with no shaft on it
  Estimate damping_ratio;         ///< c/(2√(k m))
  /// |k − ω² m + jω c| at the usual speed: at one speed mass and stiffness are not known apart, and this is.
  Estimate dynamic_stiffness_N_m;
  Estimate sensor_gain;       ///< what its sensor reads over what is there, as it is now
  Estimate sensor_angle_rad;  ///< lag; with it, what the tach's place and the sensor's come to
};

/// The bed by itself, without pedestals.
struct BedCondition {
  Estimate mass_kg;
  Estimate moves_Hz;  ///< up and down, by itself
  Estimate tilts_Hz;
  std::vector<double> resonances_rad_s;  ///< of these, what is known and lies among the speeds of the lessons
};

/// Something that swings by itself on the pedestals.
struct AttachedCondition {
  std::size_t pedestal = 0;   ///< the one that feels the more of it
  Estimate mass_kg;           ///< as that one feels it
  bool on_both = false;       ///< the other feels more than a quarter as much
  Estimate swings_Hz;         ///< by itself
  bool among_speeds = false;  ///< that is known, and lies among the speeds of the lessons
};

/// What one job says of a pedestal beside all others: its dynamic stiffness over the usual one, less 1.
struct PedestalReading {
  std::string job;  ///< its uid
  std::int64_t at_unix_s = 0;
  std::array<Estimate, 2> change;
  bool set_aside = false;
};

/// The newest jobs against those before them.
struct PedestalDrift {
  Estimate change;             ///< of the dynamic stiffness, as a part
  double control_limit = 0.0;  ///< three standard deviations of one job's reading
  bool moved = false;          ///< by more than three standard uncertainties, and more than 5 %
};

/// How well the coefficients of a shaft would be known before it was spun.
struct Reach {
  double span_m = 0.0;
  double mass_kg = 0.0;
  double speed_rad_s = 0.0;
  double u_relative = 0.0;  ///< root-mean-square over the coefficients' size
};
inline constexpr double reach_good = 0.06;  ///< up to here two spins suffice as a rule (tried, no source)
inline constexpr double reach_fair = 0.15;  ///< beyond it a trial is asked for as a rule (tried, no source)

struct RigCondition {
  double usual_speed_rad_s = 0.0;  ///< the median of the lessons
  std::array<PedestalCondition, 2> pedestals;
  std::array<Estimate, 3> coupling;         ///< κ, μ, γ of RigParameters
  std::optional<BedCondition> bed;          ///< if the lessons say that it moves
  std::vector<AttachedCondition> attached;  ///< those that the lessons tell of
  std::vector<PedestalReading> readings;
  std::array<std::optional<PedestalDrift>, 2> drift;  ///< empty with fewer than 8 jobs
  std::vector<Reach> reach;
};
RigCondition condition_of(const RigModel& model);

/// Natural frequencies of a shaft on the rig's pedestals without damping, ascending: the two in which it moves as a
/// whole, and its bending; with those of the other bodies that θ has. det(K − ω² M) = 0.
std::vector<double> resonances_rad_s(const Eigen::VectorXd& theta, const ShaftDynamics& shaft);

/// The same in rad/s, each with its uncertainty, to first order in its logarithm.
std::vector<Estimate> resonances_of(const RigModel& model, const ShaftDynamics& shaft);

/// How a shaft would do at a balancing speed.
struct SpeedTried {
  double speed_rad_s = 0.0;
  double response = 0.0;    ///< the larger sensor's, of both planes, SI per kg·m
  double u_relative = 0.0;  ///< as in Reach
  bool near_resonance = false;
};
struct SpeedAdvice {
  std::vector<Estimate> resonances_rad_s;
  std::vector<SpeedTried> speeds;  ///< ascending; empty if there is none to try
  std::optional<SpeedTried> best;
};
/// Of the speeds that are at least 30 % (common practice, no source) from wherever a resonance may be, to 95 %, and of
/// them those whose coefficients are foretold nearly as well as any, the one at which unbalance is read largest.
/// @param most_rad_s below least_rad_s: no speed is advised.
SpeedAdvice speed_advice(const RigModel& model, const ShaftDynamics& shaft, double least_rad_s, double most_rad_s);

}  // namespace counterspot
