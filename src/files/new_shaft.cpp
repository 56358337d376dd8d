#include <fmt/format.h>

#include <cmath>

#include "counterspot/files/new_files.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/units/error.hpp"
#include "files/asked_questions.hpp"
#include "units/text.hpp"
#include "units/typed.hpp"

namespace counterspot {

namespace {

constexpr double caliper_m = 0.1e-3;  // what a wall is read to (common practice, no source)
constexpr double ends_unsure = 0.1;   // of their mass, where no ± is typed (common practice, no source)
constexpr double strip_half_height_m = 1.5e-3;

/// What a quantity must be for each key; none of those that are texts.
std::optional<Dimension> dimension_of(const std::string& key) {
  if (key == "material" || key == "limit") return std::nullopt;
  if (key == "mass" || key == "end-a" || key == "end-b") return Dimension::mass;
  return key == "service-speed" ? Dimension::speed : Dimension::length;
}

bool may_be_negative(const std::string& key) {
  return key == "center-of-mass" || key == "plane-a" || key == "plane-b";
}

/// Without these a plane would be taken to lie at bearing A.
bool is_place(const std::string& key) {
  return key == "supports" || key == "plane-a" || key == "plane-b";
}

bool is_grade(const std::string& limit) {
  return limit.starts_with('G') || limit.starts_with('g');
}

std::string grade_text(const std::string& typed) {
  return fmt::format("G{:g}", 1e3 * grade_m_s(typed));
}

std::string mm_text(double m) {
  return fmt::format("{:.10g} mm", 1e3 * m);
}
std::string deg_text(double rad) {
  return fmt::format("{:.10g} deg", degrees(rad));
}

/// All that is written, and where each line comes from.
class NewShaftFile {
 public:
  NewShaftFile(const std::string& id, const FileAnswers& answers, const std::optional<Shaft>& like)
      : answers_(answers), shaft_(like.value_or(Shaft{})), as_like_(like ? "as " + like->id : "") {
    shaft_.id = id;
    read_answers();
  }

  std::string text() {
    std::string text = as_like_.empty() ? "# Measured for 'counterspot shaft new'.\n"
                                        : fmt::format(
                                              "# A copy of {} by 'counterspot shaft new': measure what may "
                                              "differ.\n",
                                              as_like_.substr(3));
    text += shaft() + tube() + supports() + joints() + planes() + beam();
    return text;
  }

 private:
  std::string typed(const std::string& key) const { return answer_to(answers_, key); }
  double measured(const std::string& key) const { return parse_quantity(typed(key), *dimension_of(key)); }

  void read_answers() {
    if (!typed("outside-diameter").empty() || !typed("wall").empty() || !typed("length").empty() ||
        !typed("material").empty())
      read_tube();
    if (!typed("mass").empty()) shaft_.mass_kg = measured("mass");
    if (!typed("service-speed").empty()) shaft_.service_speed_rad_s = measured("service-speed");
    if (!typed("end-a").empty() && typed("mass").empty()) {
      estimate_ = estimated_mass(answers_);
      shaft_.mass_kg = estimate_->smallest_kg();
    }
    if (shaft_.mass_kg && shaft_.tube && *shaft_.mass_kg < 0.9 * tube_mass_kg(*shaft_.tube))
      throw Error(Trouble::request, "bad_value",
                  fmt::format("the shaft is said to weigh {:.3g} kg, and its tube alone weighs {:.3g} kg",
                              *shaft_.mass_kg, tube_mass_kg(*shaft_.tube)),
                  "weigh it again, and measure diameter, wall and length again");
    read_places();
    read_limit();
  }

  void read_tube() {
    if (!shaft_.tube) shaft_.tube = Tube{};
    Tube& tube = *shaft_.tube;
    if (!typed("outside-diameter").empty()) tube.outside_diameter_m = measured("outside-diameter");
    if (!typed("wall").empty()) tube.wall_m = measured("wall");
    if (!typed("length").empty()) tube.length_m = measured("length");
    if (!typed("material").empty()) tube.material = typed("material");
    if (2.0 * tube.wall_m > tube.outside_diameter_m)
      throw Error(Trouble::request, "bad_value", "the wall is thicker than half the tube",
                  "measure wall and outside diameter again");
  }

  void read_places() {
    if (!shaft_.supports && !typed("supports").empty()) shaft_.supports = Supports{};
    if (!typed("supports").empty()) {
      shaft_.supports->a_m = 0.0;
      shaft_.supports->b_m = measured("supports");
    }
    if (!typed("center-of-mass").empty() && shaft_.supports)
      shaft_.supports->center_of_mass_m = measured("center-of-mass");
    if (shaft_.planes.empty()) shaft_.planes = {{"A", 0.0, 0.0}, {"B", 0.0, 0.0}};
    if (!typed("plane-a").empty()) shaft_.planes.front().position_m = measured("plane-a");
    if (!typed("plane-b").empty()) shaft_.planes.back().position_m = measured("plane-b");
    const bool no_radius = shaft_.planes.front().radius_m <= 0.0;
    for (Plane& plane : shaft_.planes) {
      if (!typed("radius").empty())
        plane.radius_m = measured("radius");
      else if (no_radius && shaft_.tube)
        plane.radius_m = 0.5 * shaft_.tube->outside_diameter_m + strip_half_height_m;
    }
  }

  void read_limit() {
    const std::string limit = typed("limit");
    if (limit.empty()) return;
    shaft_.grade = is_grade(limit) ? grade_text(limit) : "";
    shaft_.limits_kg_m.clear();
    if (is_grade(limit)) return;
    for (const Plane& plane : shaft_.planes)
      shaft_.limits_kg_m[plane.name] = parse_quantity(limit, Dimension::unbalance);
  }

  /// As typed if it was, else as the shaft has it.
  std::string line(const std::string& key, const std::string& answer, const std::string& value,
                   const std::string& how = "as measured") const {
    const std::string said = typed(answer);
    return said.empty() ? found_line(key, toml_text(value), as_like_) : found_line(key, toml_text(said), how);
  }

  std::string mass() const {
    if (estimate_) {
      return found_line("mass", fmt::format("\"{:.4g} kg\"", estimate_->smallest_kg()),
                        fmt::format("not weighed: tube {:.3g} kg and ends come to {:.3g} kg ± {:.2g} kg; the least of "
                                    "it, for the limit grows with the mass",
                                    tube_mass_kg(*shaft_.tube), estimate_->value_kg, estimate_->plus_minus_kg));
    }
    return shaft_.mass_kg ? line("mass", "mass", fmt::format("{:.10g} kg", *shaft_.mass_kg), "as weighed") : "";
  }

  std::string shaft() const {
    std::string text = "[shaft]\n" + found_line("id", toml_text(shaft_.id), "as typed") + mass();
    if (shaft_.service_speed_rad_s)
      text += line("service_speed", "service-speed", fmt::format("{:.10g} rpm", rpm(*shaft_.service_speed_rad_s)),
                   "as typed");
    const std::string how = typed("limit").empty() ? as_like_ : "as typed; the responsible engineer decides";
    if (!shaft_.grade.empty()) return text + found_line("grade", toml_text(shaft_.grade), how);
    std::string limits;
    for (const auto& [plane, limit] : shaft_.limits_kg_m)
      limits += fmt::format("{}{} = \"{:.10g} g·mm\"", limits.empty() ? "" : ", ", plane, in_g_mm(limit));
    return limits.empty() ? text : text + found_line("limit", "{ " + limits + " }", how);
  }

  std::string tube() const {
    if (!shaft_.tube) return "";
    const Tube& tube = *shaft_.tube;
    return "[tube]\n" + line("outside_diameter", "outside-diameter", mm_text(tube.outside_diameter_m)) +
           line("wall", "wall", mm_text(tube.wall_m)) + line("length", "length", mm_text(tube.length_m)) +
           line("material", "material", tube.material, "as typed");
  }

  std::string supports() const {
    if (!shaft_.supports) return "";
    const Supports& at = *shaft_.supports;
    const bool measured_here = !typed("supports").empty();
    std::string text = "[supports]\n";
    text += found_line("A", toml_text(mm_text(at.a_m)), measured_here ? "from here all is measured" : as_like_);
    text += line("B", "supports", mm_text(at.b_m));
    if (at.center_of_mass_m)
      text += line("center_of_mass", "center-of-mass", mm_text(*at.center_of_mass_m), "where it balances on an edge");
    else
      text += "# no center_of_mass: it is taken as in the middle\n";
    if (at.c_m) text += found_line("C", toml_text(mm_text(*at.c_m)), as_like_);
    return text;
  }

  std::string joints() const {
    if (!shaft_.joints) return "";
    return "[joints]\n" + found_line("angle_A", toml_text(deg_text(shaft_.joints->angle_a_rad)), as_like_) +
           found_line("angle_B", toml_text(deg_text(shaft_.joints->angle_b_rad)), as_like_) +
           found_line("yoke_phase", toml_text(deg_text(shaft_.joints->yoke_phase_rad)), as_like_);
  }

  std::string planes() const {
    std::string text;
    for (const Plane& plane : shaft_.planes) {
      const bool first = &plane == &shaft_.planes.front();
      const bool last = &plane == &shaft_.planes.back();
      text += "[[plane]]\n" + found_line("name", toml_text(plane.name), as_like_);
      text += line("position", first ? "plane-a" : last ? "plane-b" : "", mm_text(plane.position_m));
      const std::string how = as_like_.empty() ? "half the tube and half a strip of 3 mm" : as_like_;
      text += typed("radius").empty() ? found_line("radius", toml_text(mm_text(plane.radius_m)), how)
                                      : found_line("radius", toml_text(typed("radius")), "as measured");
      if (plane.at_most_kg)
        text += found_line("at_most", fmt::format("\"{:.10g} g\"", 1e3 * *plane.at_most_kg), as_like_);
    }
    return text;
  }

  /// What only an earlier shaft's file can give.
  std::string beam() const {
    std::string text;
    for (const BeamSection& part : shaft_.sections) {
      text += "[[section]]\n" + found_line("begin", toml_text(mm_text(part.begin_m)), as_like_) +
              found_line("end", toml_text(mm_text(part.end_m)), as_like_) +
              found_line("outside_diameter", toml_text(mm_text(part.outside_diameter_m)), as_like_);
      if (part.bore_m > 0.0)
        text += found_line("wall", toml_text(mm_text(0.5 * (part.outside_diameter_m - part.bore_m))), as_like_);
      text += found_line("material", toml_text(part.material.name), as_like_) +
              found_line("stiffness", fmt::format("\"{:.10g} %\"", 100.0 * part.stiffness_fraction), as_like_);
    }
    for (const BeamMass& mass : shaft_.masses)
      text += "[[mass]]\n" + found_line("position", toml_text(mm_text(mass.position_m)), as_like_) +
              found_line("mass", fmt::format("\"{:.10g} kg\"", mass.mass_kg), as_like_);
    for (const BeamSupport& support : shaft_.bearings) {
      text += "[[support]]\n" + found_line("position", toml_text(mm_text(support.position_m)), as_like_);
      if (support.stiffness_N_m)
        text += found_line("stiffness", fmt::format("\"{:.10g} N/m\"", *support.stiffness_N_m), as_like_);
      if (support.clamped) text += found_line("clamped", "true", as_like_);
    }
    return text;
  }

  const FileAnswers& answers_;
  Shaft shaft_;
  std::string as_like_;  ///< "as PS-1042"; empty: it is like none
  std::optional<EstimatedMass> estimate_;
};

}  // namespace

Said grade_help() {
  // ISO 21940-11:2016, Table 1 names kinds of machinery; their wording here is from memory.
  return said(
      {"ISO 21940-11 has G40 (drive shafts of cars), G16 (drive shafts of farm and other machines, pumps), G6.3 (where "
       "more is asked for), and others; which one is common practice, and the responsible engineer decides",
       "ISO 21940-11 hat G40 (Gelenkwellen von Autos), G16 (Gelenkwellen von Land- und anderen Maschinen, Pumpen), "
       "G6.3 (wo mehr verlangt ist), und weitere; welche gilt, ist Übung im Handwerk, und der verantwortliche "
       "Ingenieur "
       "entscheidet"});
}

std::vector<FileQuestion> shaft_questions() {
  const Said end_help =
      said({"a yoke or flange as it is welded on, from its drawing or a loose one on the scale, as in 2.1 kg ± 0.3 kg",
            "eine Gabel oder ein Flansch, wie angeschweißt, nach Zeichnung oder lose gewogen, wie 2,1 kg ± 0,3 kg"});
  return {
      {"mass",
       said({"What does the shaft weigh, as it turns on the rig?", "Was wiegt die Welle, wie sie auf der Bank läuft?"}),
       said({"as in 14.6 kg; nothing: there is no scale", "wie 14,6 kg; nichts: es gibt keine Waage"}), "", true},
      {"outside-diameter", said({"What is the tube's outside diameter?", "Was ist der Außendurchmesser des Rohrs?"}),
       said({"as in 76.2 mm", "wie 76,2 mm"}), ""},
      {"wall", said({"How thick is its wall?", "Wie dick ist seine Wand?"}), said({"as in 2.1 mm", "wie 2,1 mm"}), ""},
      {"length",
       said({"How long is the tube, between the welds?", "Wie lang ist das Rohr, zwischen den Schweißnähten?"}),
       said({"as in 1420 mm", "wie 1420 mm"}), ""},
      {"material", said({"Of what is it?", "Woraus ist es?"}),
       said({"steel, stainless steel or aluminium", "steel (Stahl), stainless steel (Edelstahl) oder aluminium"}),
       "steel"},
      {"end-a",
       said({"What does end A weigh beyond the tube, and by how much may that be wrong?",
             "Was wiegt Ende A über das Rohr hinaus, und um wie viel kann das falsch sein?"}),
       end_help, ""},
      {"end-b", said({"And end B?", "Und Ende B?"}), end_help, ""},
      {"service-speed", said({"How fast does it turn in service?", "Wie schnell dreht sie im Betrieb?"}),
       said({"as in 3200 rpm", "wie 3200 rpm"}), ""},
      {"limit",
       said({"Which balance quality grade, or what residual unbalance in each plane, is permissible?",
             "Welche Auswucht-Gütestufe oder welche Restunwucht je Ebene ist zulässig?"}),
       grade_help(), ""},
      {"supports",
       said({"How far is it from the middle of bearing A to the middle of bearing B?",
             "Wie weit ist es von der Mitte des Lagers A bis zur Mitte des Lagers B?"}),
       said({"as in 1500 mm", "wie 1500 mm"}), ""},
      {"center-of-mass",
       said({"Where does the shaft balance on an edge, from the middle of bearing A?",
             "Wo ist die Welle auf einer Kante im Gleichgewicht, von der Mitte des Lagers A?"}),
       said({"as in 763 mm; nothing: in the middle", "wie 763 mm; nichts: in der Mitte"}), "", true},
      {"plane-a",
       said({"Where do weights go at end A, from the middle of bearing A?",
             "Wo kommen Gewichte an Ende A hin, von der Mitte des Lagers A?"}),
       said({"as in 70 mm", "wie 70 mm"}), ""},
      {"plane-b", said({"And at end B, from the middle of bearing A?", "Und an Ende B, von der Mitte des Lagers A?"}),
       said({"as in 1430 mm", "wie 1430 mm"}), ""},
      {"radius",
       said({"At what radius does the middle of a weight sit?", "Auf welchem Radius sitzt die Mitte eines Gewichts?"}),
       said({"nothing: half the tube and half a strip of 3 mm",
             "nichts: das halbe Rohr und ein halber Streifen von 3 mm"}),
       "", true},
  };
}

std::optional<FileQuestion> next_shaft_question(const FileAnswers& answers) {
  const bool weighed = !answer_to(answers, "mass").empty();
  return first_unanswered(shaft_questions(), answers,
                          [&](const std::string& key) { return !weighed || (key != "end-a" && key != "end-b"); });
}

void check_shaft_answer(const std::string& key, const std::string& answer) {
  if (key == "material") return static_cast<void>(material_named(answer));
  if (key == "limit") {
    if (is_grade(answer)) return static_cast<void>(grade_m_s(answer));
    if (parse_quantity(answer, Dimension::unbalance) > 0.0) return;
  } else if (key == "end-a" || key == "end-b") {
    const TypedSize size = parse_size_with_plus_minus(answer, Dimension::mass);
    if (size.value >= 0.0 && size.plus_minus.value_or(0.0) >= 0.0) return;
  } else if (parse_quantity(answer, *dimension_of(key)) > 0.0 || may_be_negative(key)) {
    return;
  }
  throw Error(Trouble::request, "bad_value", fmt::format("{}: '{}' must be more than nothing", key, answer),
              "measure again, and type it with its unit");
}

FileAnswers shaft_answers(const std::function<std::string(const std::string& key)>& typed) {
  FileAnswers answers;
  const std::vector<FileQuestion> questions = shaft_questions();
  for (const FileQuestion& question : questions) {
    std::string answer(trimmed(typed(question.key)));
    if (answer.empty() && answers.contains("outside-diameter")) answer = question.standard;
    if (answer.empty()) continue;
    check_shaft_answer(question.key, answer);
    answers[question.key] = {answer};
  }
  for (const FileQuestion& question : questions)
    if (is_place(question.key) && !answers.contains(question.key))
      throw Error(Trouble::request, "no_answer", fmt::format("'{}' is not said of the shaft", question.key),
                  "measure and type it");
  return answers;
}

EstimatedMass estimated_mass(const FileAnswers& answers) {
  Tube tube;
  tube.outside_diameter_m = parse_quantity(answer_to(answers, "outside-diameter"), Dimension::length);
  tube.wall_m = parse_quantity(answer_to(answers, "wall"), Dimension::length);
  tube.length_m = parse_quantity(answer_to(answers, "length"), Dimension::length);
  tube.material = answer_to(answers, "material");
  EstimatedMass mass{tube_mass_kg(tube), tube_mass_kg(tube) * caliper_m / tube.wall_m};
  for (const char* end : {"end-a", "end-b"}) {
    const TypedSize size = parse_size_with_plus_minus(answer_to(answers, end), Dimension::mass);
    mass.value_kg += size.value;
    mass.plus_minus_kg = std::hypot(mass.plus_minus_kg, size.plus_minus.value_or(ends_unsure * size.value));
  }
  if (mass.smallest_kg() > 0.0) return mass;
  throw Error(Trouble::request, "bad_value", "the mass is as unsure as it is large", "weigh the shaft");
}

std::string new_shaft_text(const std::string& id, const FileAnswers& answers, const std::optional<Shaft>& like) {
  return NewShaftFile(id, answers, like).text();
}

}  // namespace counterspot
