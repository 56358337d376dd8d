#include "report/rig_step_words.hpp"

#include <fmt/format.h>

#include "counterspot/placement/placement.hpp"

namespace counterspot {

namespace {

std::string mass_line(const FittedWeight& piece, const Rig& rig, const Shaft& shaft) {
  const Plane& plane = shaft.planes[static_cast<std::size_t>(piece.plane)];
  return fmt::format(
      "plane {}  {:.2f} g  at {}, seen from end {}, the mark at 12:00; shaft angle {:.0f} deg, radius "
      "{:.1f} mm",
      plane.name, piece.mass_kg * 1e3, clock_position(piece.angle_rad, rig.rotation).text(), rig.viewing_end,
      degrees(piece.angle_rad), piece.radius_m * 1e3);
}

std::string speed_line(const std::optional<double>& speed_rad_s) {
  if (!speed_rad_s) return "at the speed you balance at; the spins after it are made at the same";
  return fmt::format("at {:.0f} rpm", rpm(*speed_rad_s));
}

std::string mounting_line(Mounting mounting, double turned_rad) {
  switch (mounting) {
    case Mounting::mark_to_mark:
      return "mount it with its mark at the adapters' mark, and leave it so until you are told to turn it";
    case Mounting::left_alone: return "leave the shaft in its adapters as it is";
    case Mounting::again: break;
  }
  return fmt::format(
      "take the shaft out, and mount it with its mark {:.0f} deg from the adapters' mark, counted "
      "against the rotation",
      degrees(turned_rad));
}

std::string words_of(const RigClosed& closed, RigTask task) {
  if (const auto* result = std::get_if<Qualification>(&closed.result))
    return result->passed ? "The rig IS QUALIFIED" : "The rig IS NOT QUALIFIED";
  if (const auto* result = std::get_if<RigCheck>(&closed.result))
    return result->within ? "The rig is WITHIN its band" : "The rig is OUTSIDE its band";
  if (const auto* result = std::get_if<Recalibration>(&closed.result))
    return result->sound ? "New sensitivities are found" : "New sensitivities would not mend this";
  return fmt::format("The {} was ended: {}", rig_task_name(task), closed.reason);
}

StepWords words_without_result(const Refusal& why) {
  StepWords said{"All spins are made, and they cannot be judged", {}};
  if (!why.what.empty()) said.details = {why.what, why.remedy};
  return said;
}

}  // namespace

std::string words_of(const PlannedRigSpin& spin, const Shaft& reference) {
  std::string words = "FIT";
  for (const FittedWeight& piece : spin.fitted) {
    words += fmt::format("{} {:.1f} g on {} at {:.0f} deg", words == "FIT" ? "" : ",", piece.mass_kg * 1e3,
                         reference.planes[static_cast<std::size_t>(piece.plane)].name, degrees(piece.angle_rad));
  }
  words = spin.fitted.empty() ? "SPIN the reference shaft without test masses" : words + ", nothing else, and SPIN";
  if (spin.speed_fraction != 1.0) words += fmt::format(" at {:.0f} % of the speed", 100.0 * spin.speed_fraction);
  if (spin.turned_rad > 0.0)
    words += fmt::format(", turned by {:.0f} deg against its adapters", degrees(spin.turned_rad));
  return words;
}

StepWords step_words(const RigStep& step, const RigWork& work) {
  if (step.closed) return {words_of(*step.closed, work.task), {}};
  if (step.number == 0) return words_without_result(step.no_result);
  StepWords said{words_of(step.spin, work.shaft()), {}};
  for (const FittedWeight& piece : step.spin.fitted) said.details.push_back(mass_line(piece, work.rig(), work.shaft()));
  said.details.push_back(speed_line(step.speed_rad_s));
  if (step.mounting) said.details.push_back(mounting_line(*step.mounting, step.spin.turned_rad));
  return said;
}

}  // namespace counterspot
