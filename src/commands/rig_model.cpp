#include "commands/rig_model.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/guide/rig_teaching.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/units/coverage.hpp"
#include "job/rig_lessons.hpp"
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

std::string text_of(const RigShown& shown) {
  // A qualification and a job spun at several speeds are more than one lesson.
  std::vector<std::string> teachers = shown.teachers;
  std::sort(teachers.begin(), teachers.end());
  teachers.erase(std::unique(teachers.begin(), teachers.end()), teachers.end());
  std::string text = fmt::format("RIG {}   a {} rig, learnt from {} {}, {} to {}\n\n", shown.rig,
                                 shown.model.kind == RigKind::hard ? "hard" : "soft", teachers.size(),
                                 teachers.size() == 1 ? "job" : "jobs", utc_day(shown.model.lessons.front().at_unix_s),
                                 utc_day(shown.model.lessons.back().at_unix_s));
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
  std::string text = fmt::format("SHAFT {}   on this rig it resonates near", shaft.id);
  for (const double rate : advice.resonances_rad_s) text += fmt::format(" {:.0f},", rpm(rate));
  text.back() = ' ';
  text += "rpm\n";
  if (!advice.best)
    return text +
           "  No safe speed is 30 % away from all of these: balance where it reads well, and expect trial spins.\n";
  return text +
         fmt::format("  BALANCE at {:.0f} rpm: away from these, and read well; coefficients foretold to ± {:.0f} %\n",
                     10.0 * std::round(rpm(advice.best->speed_rad_s) / 10.0),
                     100.0 * coverage_factor * advice.best->u_relative);
}

SpeedAdvice advice_for(const RigShown& shown, const Shaft& shaft, const std::string& file) {
  const auto body = body_of(shaft);
  if (!body) {
    throw Error(Trouble::request, "no_body", file + ": how this shaft moves on pedestals cannot be said",
                "give its mass, its tube or sections, and two supports");
  }
  // Neither faster than is safe, nor than in service, nor than this rig was ever spun in what it learnt from.
  double most_rad_s = 0.0;
  for (const RigLesson& lesson : shown.model.lessons) most_rad_s = std::max(most_rad_s, lesson.speed_rad_s);
  for (const auto& limit : {safe_speed_rad_s(shaft), shaft.service_speed_rad_s})
    if (limit) most_rad_s = std::min(most_rad_s, *limit);
  const double least_rad_s = rad_per_s(400.0);
  return speed_advice(shown.model, *body, least_rad_s, std::max(1.1 * least_rad_s, most_rad_s));
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
    advice = advice_for(shown, *shaft, asked.shaft_file);
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
