#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <memory>
#include <sstream>

#include "commands/command.hpp"
#include "commands/job_text.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "counterspot/files.hpp"
#include "counterspot/learning.hpp"
#include "counterspot/recording.hpp"
#include "counterspot/tracking.hpp"

namespace counterspot::commands {

namespace {

struct Asked {
  std::string log;
  std::string job;
  std::string shaft, rig;
  std::string recording, label, speed, reason;
  std::vector<std::string> vectors;
  std::vector<std::string> pieces;
  std::vector<int> off;
  int entry = 0;
  bool none = false;
  bool only = false;
  bool as_asked = false;
  bool json = false;
};

std::string text_in(const std::string& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

std::string absolute(const std::string& file) {
  return std::filesystem::absolute(file).lexically_normal().string();
}

/// The job named, or the only open one.
Job chosen_job(const Log& log, const std::string& name) {
  if (!name.empty()) return log.job(name);
  const auto open = log.list({"", "", "open", {}, {}});
  if (open.size() == 1) return log.job(open.front().name);
  std::string names;
  for (const JobLine& line : open) names += (names.empty() ? "" : ", ") + line.name;
  throw Error(Trouble::request, "which_job",
              open.empty() ? "there is no open job" : fmt::format("several jobs are open: {}", names),
              open.empty() ? "open one with 'job open shaft.toml --rig rig.toml'" : "say which with --job");
}

constexpr int jobs_to_look_at = 600;

/// A job with what its own spins and earlier shafts say.
struct Known {
  Job job;
  std::optional<FamilyPrior> prior;
  Analysis analysis;
};

Known known_of(const Log& log, Job job) {
  Known known{std::move(job), {}, {}};
  const auto planes = static_cast<int>(known.job.shaft().planes.size());
  known.prior = prior_from(log.jobs_to_learn_from(known.job.rig().name, planes, jobs_to_look_at), known.job);
  known.analysis = analyse(known.job, known.prior);
  return known;
}

Json json_of(const FittedWeight& piece, const Shaft& shaft) {
  return {{"plane", shaft.planes[static_cast<std::size_t>(piece.plane)].name},
          {"mass_g", piece.mass_kg * 1e3},
          {"radius_mm", piece.radius_m * 1e3},
          {"angle_deg", degrees(wrap_positive(piece.angle_rad))}};
}

Json json_of(const std::vector<FittedWeight>& pieces, const Shaft& shaft) {
  Json list = Json::array();
  for (const FittedWeight& piece : pieces) list.push_back(json_of(piece, shaft));
  return list;
}

const char* kind_name(StepKind kind) {
  switch (kind) {
    case StepKind::spin_as_found: return "spin_as_found";
    case StepKind::spin: return "spin";
    case StepKind::spin_again: return "spin_again";
    case StepKind::fit_trial: return "fit_trial";
    case StepKind::fit_correction: return "fit_correction";
    case StepKind::close: return "close";
    case StepKind::mend: return "mend";
    case StepKind::nothing: return "nothing";
  }
  return "nothing";
}

Json held_of(const Finding& finding) {
  Json places = Json::array();
  for (const Held& held : finding.held) {
    places.push_back({{"place", held.place},
                      {"residual_gmm", in_g_mm(held.residual_kg_m)},
                      {"u_residual_gmm", in_g_mm(held.u_residual_kg_m)},
                      {"limit_gmm", in_g_mm(held.limit_kg_m)},
                      {"verdict", verdict_name(held.verdict)}});
  }
  return places;
}

Json json_of(const Known& known, const NextStep& step) {
  const Shaft shaft = known.job.shaft();
  const auto finding = finding_of(known.analysis);
  return {{"job", known.job.name},
          {"entries", known.job.events.size()},
          {"open", state_of(known.job.events).open},
          {"step", kind_name(step.kind)},
          {"words", step.words},
          {"details", step.details},
          {"pieces", json_of(step.pieces, shaft)},
          {"on_shaft", json_of(state_of(known.job.events).on_shaft, shaft)},
          {"verdict", finding ? Json(verdict_name(finding->verdict)) : Json(nullptr)},
          {"held", finding ? held_of(*finding) : Json::array()},
          {"earlier_shafts", known.prior ? known.prior->shafts : 0},
          {"used_earlier_shafts", known.analysis.used_prior},
          {"warnings", to_json(known.analysis.warnings)}};
}

std::string instruction(const Known& known, const NextStep& step) {
  std::string text = fmt::format("JOB {}\n\n  {}\n\n", known.job.name, step.words);
  for (const std::string& line : step.details) text += "  " + line + "\n";
  if (const auto finding = finding_of(known.analysis)) text += "\n  now " + text_of(*finding) + "\n";
  return text + (step.cautions ? "\n" + std::string(cautions) : "");
}

void print_next(const Known& known, bool json) {
  const NextStep step = next_step(known.job, known.analysis, known.prior);
  if (!json) print_warnings(known.analysis.warnings);
  json ? print_json(json_of(known, step)) : print(instruction(known, step));
}

void open_job(const Asked& asked) {
  read_rig(asked.rig);  // for its errors, which name the file as the person did
  read_shaft(asked.shaft);
  Log log = open_log(asked.log, true);
  const Job job = log.open_job({absolute(asked.rig), text_in(asked.rig), absolute(asked.shaft), text_in(asked.shaft),
                                program_name(), now_unix_s()});
  print_next(known_of(log, job), asked.json);
}

std::vector<SaidWarning> said(const Warnings& warnings) {
  std::vector<SaidWarning> list;
  for (const Warning& warning : warnings)
    list.push_back({warning_code(warning.code), warning.sensor.value_or(""), warning.message});
  return list;
}

Spun spun_of_recording(const std::string& file, const Rig& rig) {
  RecordingOptions options;
  options.sample_rate_Hz = rig.sample_rate_Hz;
  auto recording = open_recording(file, options);
  const Track tracked = track(*recording, rig);
  print_warnings(tracked.warnings);
  Spun spun;
  for (const SensorTrack& sensor : tracked.sensors) {
    const OrderVector& vector = sensor.orders.front();
    spun.readings.push_back({sensor.name, sensor.motion, vector.value, vector.covariance});
  }
  spun.speed_rad_s = tracked.speed_rad_s;
  spun.speed_drift_fraction = tracked.speed_drift_fraction;
  spun.revolutions = tracked.revolutions;
  spun.duration_s = tracked.duration_s;
  spun.warnings = said(tracked.warnings);
  spun.recording = file == "-" ? "standard input" : absolute(file);
  if (file != "-") spun.sha256 = sha256_of_file(file);
  return spun;
}

/// "A=6.0 mm/s @ 35 deg ± 0.1 mm/s", one for each sensor.
Spun spun_of_vectors(const Asked& asked, const Rig& rig) {
  Spun spun;
  if (!asked.speed.empty()) spun.speed_rad_s = parse_quantity(asked.speed, Dimension::speed);
  for (const Sensor& sensor : rig.sensors) {
    auto typed = std::find_if(asked.vectors.begin(), asked.vectors.end(),
                              [&](const std::string& text) { return text.starts_with(sensor.name + "="); });
    if (typed == asked.vectors.end()) {
      throw Error(Trouble::request, "wrong_sensors", fmt::format("there is no --vector for sensor {}", sensor.name),
                  fmt::format("give one, as in --vector \"{}=6.0 mm/s @ 35 deg ± 0.1 mm/s\"", sensor.name));
    }
    const TypedVector vector = parse_vector(typed->substr(sensor.name.size() + 1));
    const double u = vector.standard_uncertainty.value_or(0.0);
    spun.readings.push_back({sensor.name, vector.motion, vector.value, u * u * Eigen::Matrix2d::Identity()});
  }
  return spun;
}

/// What the job stands at with this spin in it, found before the spin is kept, so that both are kept together.
std::optional<Finding> finding_with(const Log& log, Job job, const Spun& spun) {
  job.events.push_back({static_cast<int>(job.events.size()) + 1, 0, "", spun});
  return finding_of(known_of(log, std::move(job)).analysis);
}

void add_spin(const Asked& asked) {
  Log log = open_log(asked.log, false);
  const Job job = chosen_job(log, asked.job);
  if (asked.recording.empty() == asked.vectors.empty()) {
    throw Error(Trouble::request, "no_spin", "a spin is either a recording or typed vectors",
                "name the recording's file, or - for standard input, or give --vector for every sensor");
  }
  const Rig rig = job.rig();
  Spun spun = asked.recording.empty() ? spun_of_vectors(asked, rig) : spun_of_recording(asked.recording, rig);
  const std::size_t spins = state_of(job.events).spins.size();
  spun.label = !asked.label.empty() ? asked.label : spins == 0 ? "as found" : fmt::format("spin {}", spins + 1);
  spun.finding = finding_with(log, job, spun);
  print_next(known_of(log, log.append(job, spun, program_name(), now_unix_s())), asked.json);
}

Error bad_piece(const std::string& text) {
  return {Trouble::request, "bad_piece", fmt::format("'{}' is not a piece", text),
          "write plane, mass and place, as in \"A 12.5 g @ 138.4 deg\", \"A 12.5 g @ 4:37\" or "
          "\"A 12.5 g @ 138.4 deg, radius 41 mm\""};
}

double angle_of(const std::string& text, const Rig& rig) {
  const auto colon = text.find(':');
  if (colon == std::string::npos) return parse_quantity(text, Dimension::angle);
  int hours = 0;
  int minutes = 0;
  char more = 0;
  const int read = std::sscanf(text.c_str(), " %2d:%2d %c", &hours, &minutes, &more);  // NOLINT(cert-err34-c)
  if (read != 2 || hours < 1 || hours > 12 || minutes < 0 || minutes > 59) {
    throw Error(Trouble::request, "bad_piece", fmt::format("'{}' is not a clock position", text),
                "write hours 1 to 12 and minutes, as in 4:37");
  }
  return shaft_angle_of_clock({hours % 12 * 60 + minutes}, rig.rotation);
}

FittedWeight piece_of(const std::string& text, const Rig& rig, const Shaft& shaft) {
  const auto at = text.find('@');
  const auto plane = std::find_if(shaft.planes.begin(), shaft.planes.end(),
                                  [&](const Plane& each) { return text.starts_with(each.name + " "); });
  if (at == std::string::npos || plane == shaft.planes.end()) throw bad_piece(text);
  const std::size_t name = plane->name.size();
  FittedWeight piece{static_cast<int>(plane - shaft.planes.begin()), 0.0, plane->radius_m, 0.0};
  piece.mass_kg = parse_quantity(text.substr(name, at - name), Dimension::mass);
  std::string place = text.substr(at + 1);
  const auto radius = place.find(", radius ");
  if (radius != std::string::npos) {
    piece.radius_m = parse_quantity(place.substr(radius + 9), Dimension::length);
    place.resize(radius);
  }
  piece.angle_rad = angle_of(place, rig);
  return piece;
}

/// What is on the shaft after this.
std::vector<FittedWeight> pieces_after(const Asked& asked, const Known& known) {
  const Rig rig = known.job.rig();
  const Shaft shaft = known.job.shaft();
  std::vector<FittedWeight> pieces = state_of(known.job.events).on_shaft;
  std::vector<int> off = asked.off;
  std::sort(off.rbegin(), off.rend());
  for (int number : off) {
    if (number < 1 || number > static_cast<int>(pieces.size())) {
      throw Error(Trouble::request, "no_such_piece", fmt::format("there is no piece {} on the shaft", number),
                  fmt::format("the pieces are 1 to {}, in the order of 'job show'", pieces.size()));
    }
    pieces.erase(pieces.begin() + (number - 1));
  }
  if (asked.none || asked.only) pieces.clear();
  if (asked.as_asked) {
    const NextStep step = next_step(known.job, known.analysis, known.prior);
    if (step.pieces.empty()) {
      throw Error(Trouble::request, "nothing_asked", "the next step of this job is not to fit a weight of known mass",
                  "see 'job next', or say what was fitted");
    }
    pieces.insert(pieces.end(), step.pieces.begin(), step.pieces.end());
  }
  for (const std::string& text : asked.pieces) pieces.push_back(piece_of(text, rig, shaft));
  return pieces;
}

void add_fit(const Asked& asked) {
  if (asked.pieces.empty() && asked.off.empty() && !asked.none && !asked.as_asked) {
    throw Error(Trouble::request, "bad_piece", "it is not said what was fitted",
                "write it as in: job fit \"A 12.5 g @ 138.4 deg\"; or use --as-asked, --off or --none");
  }
  Log log = open_log(asked.log, false);
  const Known known = known_of(log, chosen_job(log, asked.job));
  const Fitted fitted{pieces_after(asked, known)};
  print_next(known_of(log, log.append(known.job, fitted, program_name(), now_unix_s())), asked.json);
}

void take_back(const Asked& asked) {
  Log log = open_log(asked.log, false);
  const Job job = chosen_job(log, asked.job);
  const TakenBack back{asked.entry, asked.reason};
  print_next(known_of(log, log.append(job, back, program_name(), now_unix_s())), asked.json);
}

void show_next(const Asked& asked) {
  const Log log = open_log(asked.log, false);
  print_next(known_of(log, chosen_job(log, asked.job)), asked.json);
}

void show_job(const Asked& asked) {
  const Log log = open_log(asked.log, false);
  const Job job = chosen_job(log, asked.job);
  print(asked.json ? job_to_json_line(job) + "\n" : text_of(job));
}

int close_job(const Asked& asked) {
  Log log = open_log(asked.log, false);
  const Known known = known_of(log, chosen_job(log, asked.job));
  const auto finding = finding_of(known.analysis);
  Closed closed{state_of(known.job.events).final_spin(), finding, asked.reason};
  if (!closed.final_spin || !finding) closed = {std::nullopt, std::nullopt, asked.reason};
  const Job job = log.append(known.job, closed, program_name(), now_unix_s());
  const bool within = closed.finding && closed.finding->verdict == Verdict::within;
  asked.json ? print_json({{"job", job.name},
                           {"closed", true},
                           {"verdict", closed.finding ? Json(verdict_name(closed.finding->verdict)) : Json(nullptr)},
                           {"held", closed.finding ? held_of(*closed.finding) : Json::array()}})
             : print(fmt::format("JOB {} is closed.\n  {}\n", job.name,
                                 closed.finding ? text_of(*closed.finding) : "without a final residual"));
  return within ? 0 : 1;
}

CLI::App* add(CLI::App& job, const std::string& name, const std::string& words, Asked& asked) {
  CLI::App* command = job.add_subcommand(name, words);
  add_log_option(*command, asked.log);
  command->add_flag("--json", asked.json, "One JSON document for programs");
  if (name != "open") command->add_option("--job", asked.job, "Which job; not needed while only one is open");
  return command;
}

void add_open_and_spin(CLI::App& job, const std::shared_ptr<Asked>& asked) {
  CLI::App* open = add(job, "open", "Begin with a shaft", *asked);
  open->add_option("shaft", asked->shaft, "The shaft's file")->required();
  open->add_option("--rig", asked->rig, "The rig's file")->required();
  open->footer("Example:\n  counterspot job open shaft.toml --rig rig.toml");
  open->callback([asked] { open_job(*asked); });

  CLI::App* spin = add(job, "spin", "Measure a spin, keep it, and say what it means", *asked);
  spin->add_option("recording", asked->recording, "The recording, or - for standard input");
  spin->add_option("--label", asked->label, "What to call it");
  spin->add_option("--vector", asked->vectors, "Typed instead of recorded: \"A=6.0 mm/s @ 35 deg ± 0.1 mm/s\"")
      ->allow_extra_args(false);
  spin->add_option("--speed", asked->speed, "Of typed vectors, as in \"1800 rpm\"");
  spin->footer("Example:\n  counterspot job spin 00-as-found.wav");
  spin->callback([asked] { add_spin(*asked); });
}

void add_fit_and_back(CLI::App& job, const std::shared_ptr<Asked>& asked) {
  CLI::App* fit = add(job, "fit", "State what was really fitted, on top of what is on the shaft", *asked);
  fit->add_option("pieces", asked->pieces,
                  "Pieces as \"A 12.5 g @ 138.4 deg\" or \"A 12.5 g @ 4:37\"; negative: removed");
  fit->add_flag("--as-asked", asked->as_asked, "Just what 'job next' asked for");
  fit->add_option("--off", asked->off, "Numbers of pieces that came off, as 'job show' lists them")
      ->allow_extra_args(false);
  fit->add_flag("--only", asked->only, "The pieces named are all that is on");
  fit->add_flag("--none", asked->none, "Everything came off");
  fit->footer("Example:\n  counterspot job fit \"A 12.5 g @ 138.4 deg\" \"B 8 g @ 9:02\"");
  fit->callback([asked] { add_fit(*asked); });

  CLI::App* back = add(job, "back", "Take an entry back; it stays in the log and no longer counts", *asked);
  back->add_option("entry", asked->entry, "Its number in 'job show'")->required();
  back->add_option("--reason", asked->reason, "Why")->required();
  back->footer("Example:\n  counterspot job back 3 --reason \"that was the recording of PS-1043\"");
  back->callback([asked] { take_back(*asked); });
}

}  // namespace

void add_job(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<Asked>();
  CLI::App* job = program.add_subcommand("job", "The guided way: one shaft from as found to within limit");
  job->require_subcommand(1);
  job->footer("Example:\n  counterspot job next\n\n" + std::string(cautions));
  add_open_and_spin(*job, asked);
  add_fit_and_back(*job, asked);

  CLI::App* next = add(*job, "next", "What to do next", *asked);
  next->footer("Example:\n  counterspot job next");
  next->callback([asked] { show_next(*asked); });

  CLI::App* show = add(*job, "show", "Everything that happened in a job", *asked);
  show->footer("Example:\n  counterspot job show --job PS-1042/1");
  show->callback([asked] { show_job(*asked); });

  CLI::App* close = add(*job, "close", "End the job with the residual of its last spin", *asked);
  close->add_option("--reason", asked->reason, "Needed if there is no spin after the last change of weights");
  close->footer("Example:\n  counterspot job close\nExit code 0: within limit; 1: not, or it cannot be said.");
  close->callback([asked, &exit_code] { exit_code = close_job(*asked); });
}

}  // namespace counterspot::commands
