#pragma once

#include <optional>
#include <string>

namespace counterspot {

/// The two cardan joints of a shaft.
struct Joints {
  double angle_a_rad = 0.0;     ///< between the shaft and what it joins at end A, 0 to 45 deg
  double angle_b_rad = 0.0;     ///< the same at end B
  double yoke_phase_rad = 0.0;  ///< of the shaft's yoke at B against that at A; 0: in line, as they should be
};

/// Twice a turn, and none of it unbalance. A single joint at angle β turns its output by θ₂ = atan(tan θ₁ / cos β),
/// which for small β is an error of (β²/4)·sin 2θ; two joints of one plane, yokes in line, leave that of β² = β_A² −
/// β_B² (equivalent joint angle, as in textbooks on universal joints), and a phase ψ between the yokes turns the second
/// part by 2ψ: β² = |β_A² − β_B² e^{2jψ}|. Accuracy: 2 % of the exact kinematics up to 15 deg. Assumptions: shaft ends
/// in one plane, no play, stiff.
struct JointWords {
  double equivalent_angle_rad = 0.0;   ///< of one joint that would disturb as much
  double speed_ripple_fraction = 0.0;  ///< peak, twice a turn, of the speed behind the second joint
  double shaft_ripple_fraction =
      0.0;                    ///< peak, twice a turn, of the speed of the shaft itself; phasing does not help it
  bool yokes_in_line = true;  ///< within 1 deg, also half a turn round
};

/// @throws Error(request, "bad_joint_angle").
JointWords joint_words(const Joints& joints);

/// What to do about a measured order 2, in a sentence that begins with what the shaft's file says of its joints.
/// @throws Error as joint_words.
std::string advice_on_order_2(const std::optional<Joints>& joints);

/// Common practice, no source: an equivalent angle of at most 3 deg runs without complaint.
inline constexpr double largest_equivalent_angle_deg = 3.0;

}  // namespace counterspot
