#include "commands/rig_model.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <set>

#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/guide/rig_teaching.hpp"
#include "counterspot/learning/rig_teaching.hpp"
#include "counterspot/units/coverage.hpp"
#include "report/rig_model.hpp"

namespace counterspot::commands {

namespace {

constexpr double shown_up_to = 0.15;  // of a parameter: known no better, it says nothing (tried, no source)

struct RigModelAsked {
  std::string log;
  std::string rig;  ///< its name
  std::string rig_file, shaft_file;
  bool anew = false;
  bool json = false;
  PictureAsked picture;
};

std::string known_or_not(const Estimate& estimate, double factor, const std::string& unit) {
  const double expanded = coverage_factor * estimate.u;
  if (expanded > shown_up_to * std::abs(estimate.value))
    return fmt::format("not known yet (± {:.0f} %)", std::min(999.0, 100.0 * expanded / std::abs(estimate.value)));
  return measured(factor * estimate.value, factor * expanded) + " " + unit;
}

std::string text_of(const PedestalCondition& pedestal, const std::optional<PedestalDrift>& drift,
                    const std::string& name, double speed_rad_s) {
  std::string text = fmt::format("PEDESTAL {}\n", name);
  text += "  moving mass        " + known_or_not(pedestal.moving_mass_kg, 1.0, "kg") + "\n";
  text += "  natural frequency  " + known_or_not(pedestal.natural_frequency_Hz, 1.0, "Hz, with no shaft on it") + "\n";
  text += "  damping            " + known_or_not(pedestal.damping_ratio, 100.0, "% of critical") + "\n";
  text += "  dynamic stiffness  " +
          known_or_not(pedestal.dynamic_stiffness_N_m, 1e-6, fmt::format("N/um at {:.0f} rpm", rpm(speed_rad_s))) +
          "\n";
  text += "  its sensor reads   " + known_or_not(pedestal.sensor_gain, 100.0, "% of what is there");
  text += fmt::format(", at {} deg\n", measured(degrees(pedestal.sensor_angle_rad.value),
                                                degrees(coverage_factor * pedestal.sensor_angle_rad.u)));
  if (!drift) return text + "  drift              not known before 8 jobs\n";
  return text + fmt::format("  drift              {:+.1f} % in the newest jobs, ± {:.1f} %\n",
                            100.0 * drift->change.value, 100.0 * coverage_factor * drift->change.u);
}

std::string reach_text(const std::vector<Reach>& reach) {
  std::string text = "FORETOLD before the first spin, for a plain tube with 5 kg at its ends\n";
  for (const Reach& each : reach) {
    text +=
        fmt::format("  {:.1f} m between the supports, {:.1f} kg, {:4.0f} rpm   ± {:3.0f} %   {}\n", each.span_m,
                    each.mass_kg, rpm(each.speed_rad_s), 100.0 * coverage_factor * each.u_relative, reach_name(each));
  }
  return text;
}

/// A job that was spun at several speeds is more than one lesson, and so are several qualifications.
std::string taught_by_text(const RigShown& shown) {
  std::set<std::string> jobs(shown.teachers.begin(), shown.teachers.end());
  const bool qualified = jobs.erase(qualification_teacher) > 0;
  if (jobs.empty()) return "its qualification";
  return fmt::format("{} {}{}", jobs.size(), jobs.size() == 1 ? "job" : "jobs",
                     qualified ? " and its qualification" : "");
}

std::string text_of(const RigShown& shown) {
  std::string text =
      fmt::format("RIG {}   a {} rig, learnt from {}, {} to {}\n\n", shown.rig,
                  shown.model.kind == RigKind::hard ? "hard" : "soft", taught_by_text(shown),
                  utc_day(shown.model.lessons.front().at_unix_s), utc_day(shown.model.lessons.back().at_unix_s));
  for (std::size_t p : {0U, 1U})
    text += text_of(shown.condition.pedestals[p], shown.condition.drift[p], shown.sensors[p],
                    shown.condition.usual_speed_rad_s);
  const auto& [spring, mass, damping] = shown.condition.coupling;
  text += fmt::format("COUPLING of the pedestals through the base: stiffness {} %, mass {} %, damping {} %\n\n",
                      measured(100.0 * spring.value, 100.0 * coverage_factor * spring.u),
                      measured(100.0 * mass.value, 100.0 * coverage_factor * mass.u),
                      measured(100.0 * damping.value, 100.0 * coverage_factor * damping.u));
  text += reach_text(shown.condition.reach) + "\n";
  const auto sentences = sentences_of(shown);
  if (sentences.empty()) text += "Nothing to look at: no job is set aside, no sensor and no pedestal has changed.\n";
  for (const std::string& sentence : sentences) text += "LOOK AT  " + sentence + ".\n";
  return text;
}

std::string text_of(const SpeedAdvice& advice, const Shaft& shaft) {
  if (advice.speeds.empty())
    return fmt::format(
               "SHAFT {}   no speed to advise: none from 400 rpm on is safe for it, no faster than its service, "
               "and known on this rig\n\n",
               shaft.id) +
           cautions();
  std::string text = fmt::format("SHAFT {}   on this rig it resonates near", shaft.id);
  for (const Estimate& rate : advice.resonances_rad_s)
    if (rate.value < 2.0 * advice.speeds.back().speed_rad_s)
      text += fmt::format(" {},", measured(rpm(rate.value), rpm(coverage_factor * rate.u)));
  text.back() = ' ';
  text += "rpm\n";
  if (advice.best) {
    text += fmt::format(
        "  BALANCE at {:.0f} rpm: away from these, and read well; coefficients foretold to ± {:.0f} %\n",
        10.0 * std::floor(rpm(advice.best->speed_rad_s) / 10.0), 100.0 * coverage_factor * advice.best->u_relative);
  } else {
    text += fmt::format("  no speed to advise: none up to {:.0f} rpm is surely 30 % away from these\n",
                        std::floor(rpm(advice.speeds.back().speed_rad_s)));
  }
  return text + "\n" + cautions();
}

int run_rig_model(const RigModelAsked& asked) {
  Log log = asked.anew ? open_log(asked.log, false) : log_to_read(asked.log);
  const Rig rig = asked.rig_file.empty() ? newest_rig(log, asked.rig) : read_rig(asked.rig_file);
  if (asked.anew) log.forget_learnt(rig.name);
  const RigShown shown = shown_rig(log, rig);
  std::optional<Shaft> shaft;
  std::optional<SpeedAdvice> advice;
  std::vector<std::filesystem::path> read = files_of_log(asked.log);
  if (!asked.shaft_file.empty()) {
    shaft = read_shaft(asked.shaft_file);
    advice = advised_speed(shown.model, *shaft);
    read.emplace_back(asked.shaft_file);
  }
  if (asked.picture) write_picture(rig_model_picture(shown.condition, shown.sensors), asked.picture, read);
  if (asked.json) {
    Json document = document_of(shown);
    if (advice) document["shaft"] = document_of(*advice);
    print_json(document);
  } else {
    print(text_of(shown) + (advice ? "\n" + text_of(*advice, *shaft) : ""));
  }
  return 0;
}

}  // namespace

void add_rig_model(CLI::App& rig, int& exit_code) {
  auto asked = std::make_shared<RigModelAsked>();
  CLI::App* command = rig.add_subcommand("model", "What earlier jobs taught of a rig: pedestals, sensors, drift");
  add_log_option(*command, asked->log);
  command->add_flag("--json", asked->json, "One JSON document for programs");
  command->add_option("--rig-name", asked->rig, "Which rig; without it that of the newest job");
  command->add_option("--rig", asked->rig_file, "The rig's file as it is now, with its [pedestal]");
  command->add_option("--shaft", asked->shaft_file, "A shaft's file: which balancing speed suits it on this rig?");
  command->add_flag("--anew", asked->anew, "Forget what is kept, and learn it again from the jobs");
  add_picture_options(*command, asked->picture, "what each job says of the pedestals, with control limits,");
  command->footer("Example:\n  counterspot rig model --shaft shaft.toml");
  command->callback([asked, &exit_code] { exit_code = run_rig_model(*asked); });
}

}  // namespace counterspot::commands
