#include "counterspot/model/joints.hpp"

#include <fmt/format.h>

#include <cmath>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

JointWords joint_words(const Joints& joints) {
  for (double angle : {joints.angle_a_rad, joints.angle_b_rad})
    if (!(angle >= 0.0 && angle <= radians(45.0)))
      throw Error(Trouble::request, "bad_joint_angle", "a joint's angle must be 0 to 45 deg",
                  "measure it between the shaft and what it joins");
  const double a = joints.angle_a_rad * joints.angle_a_rad;
  const double b = joints.angle_b_rad * joints.angle_b_rad;
  const double left = std::abs(a - std::polar(b, 2.0 * joints.yoke_phase_rad));
  return {std::sqrt(left), left / 2.0, a / 2.0, std::abs(std::remainder(joints.yoke_phase_rad, pi)) <= radians(1.0)};
}

std::string advice_on_order_2(const std::optional<Joints>& joints) {
  if (!joints)
    return "order 2 comes from the joints, not from unbalance: state their angles and the phase of the yokes as "
           "[joints] in "
           "the shaft file";
  const JointWords words = joint_words(*joints);
  const double out_of_line_deg = std::abs(degrees(std::remainder(joints->yoke_phase_rad, pi)));
  const std::string remedy = !words.yokes_in_line ? "set the yokes in line"
                             : degrees(words.equivalent_angle_rad) > largest_equivalent_angle_deg
                                 ? "make both joint angles alike"
                                 : "angles and yokes stand well: look for play in the joints";
  return fmt::format(
      "order 2 comes from the joints, not from unbalance: the shaft file has joints at {:.1f} and {:.1f} deg and yokes "
      "{:.0f} deg out of line, "
      "which disturbs like one joint at {:.1f} deg, {:.2f} % of speed twice a turn: {}",
      degrees(joints->angle_a_rad), degrees(joints->angle_b_rad), out_of_line_deg, degrees(words.equivalent_angle_rad),
      100.0 * words.speed_ripple_fraction, remedy);
}

}  // namespace counterspot
