#include "counterspot/joints.hpp"

#include <cmath>

#include "counterspot/angle.hpp"
#include "counterspot/error.hpp"

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

}  // namespace counterspot
