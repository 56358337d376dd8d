#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/model/shaft.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/coverage.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// The balance quality grade of ISO 21940-11:2016, Table 1: e_per·Ω in m/s ("G16" → 0.016).
/// @throws Error(request, "bad_grade") that lists the grades.
double grade_m_s(std::string_view grade);

/// U_per = G·m/Ω (ISO 21940-11:2016, 6.5; there 1000·G·m/Ω in g·mm with G in mm/s). kg·m.
double permissible_unbalance_kg_m(double grade_m_s, double mass_kg, double service_speed_rad_s);

/// The share of the total that support A gets: distance of the centre of mass from B over the distance of the supports,
/// kept within 0.3 and 0.7 (ISO 21940-11:2016, rotors with the centre of mass between the bearings).
struct Shares {
  double a = 0.5;
  double b = 0.5;
  bool bounded = false;  ///< true if the bound was met
};
/// @throws Error(request, "overhung") if the centre of mass is outside the supports.
Shares shares_between_supports(const Supports& supports);

/// Permissible residual unbalance: the whole, and for each plane shown.
struct Limits {
  std::string grade;                   ///< empty if typed
  std::optional<double> total_kg_m;    ///< of a grade
  std::optional<double> specific_m;    ///< e_per of a grade
  std::vector<PlaneLimit> planes;      ///< every plane that has a limit, in the shaft's order
  std::vector<std::string> without;    ///< planes that have none although limits are typed
  std::vector<SupportLimit> supports;  ///< from end A to end B, of a grade whose supports are known; empty if typed
  Warnings warnings;
};

/// Typed limits that do not name every plane are said in the warnings (`limit_missing`), which hold the verdict back; a
/// shaft file that has them is refused when it is read.
/// @throws Error(request, …) "no_limit", "overhung", "bad_grade", "no_such_plane", "no_mass", "no_service_speed".
Limits limits_of(const Shaft& shaft, std::optional<double> share_a = std::nullopt);

/// kg·m; empty if the plane has none.
std::optional<double> limit_of(const Limits& limits, std::string_view plane);

/// ISO 21940-14: `within` only if residual + expanded uncertainty ≤ limit, `outside` only if residual − it > limit.
enum class Verdict { within, outside, unsure };
std::string_view verdict_name(Verdict verdict);

/// @param residual_kg_m magnitude ≥ 0; @param u_residual_kg_m its standard uncertainty ≥ 0; @param limit_kg_m > 0.
Verdict verdict_of(double residual_kg_m, double u_residual_kg_m, double limit_kg_m);

/// Standard uncertainty of |U| from the 2×2 covariance of (Re U, Im U): along the vector, or where the vector is
/// smaller than its uncertainty, in the worst direction.
double u_of_magnitude(const Phasor& u_vector, const Eigen::Matrix2d& covariance);

/// One place where the residual is held against a limit.
struct Held {
  HeldPlace place;
  double residual_kg_m = 0.0;
  double u_residual_kg_m = 0.0;
  double limit_kg_m = 0.0;
  Verdict verdict = Verdict::unsure;
};

/// What is said of a shaft, and what it rests on. The one value that commands, job, log, page, sheet and C interface
/// take the verdict from.
struct Judgement {
  /// The worst of all places (outside, then unsure, then within); with anything in `held_back`, `within` is `unsure`.
  Verdict verdict = Verdict::unsure;
  std::vector<Held> held;  ///< planes, then supports
  Warnings held_back;      ///< what speaks against the readings, gathered; empty where nothing does
};

/// Fail safe: takes into the judgement those of the warnings that hold a verdict back.
void hold_back(Judgement& judgement, const Warnings& warnings);

/// Takes one more place into a judgement.
void hold_also(Judgement& judgement, const HeldPlace& place, const Phasor& residual_kg_m,
               const Eigen::Matrix2d& covariance, double limit_kg_m);

/// Holds residual unbalance (one vector a plane of the shaft, with its 2P×2P covariance) against the limits at the
/// planes, and carried to the supports as a rigid rotor carries it (lever_to_support). Never `within` where limits are
/// typed and a plane has none.
Judgement judge(const Shaft& shaft, const Limits& limits, const std::vector<Phasor>& residual_kg_m,
                const Eigen::MatrixXd& covariance);

}  // namespace counterspot
