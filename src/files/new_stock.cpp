#include <fmt/format.h>

#include <algorithm>

#include "counterspot/files/new_files.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "files/asked_questions.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

constexpr double bead_beside_m = 2e-3;  // room for a weld bead between neighbours (common practice, no source)

std::string without_blanks(std::string_view text) {
  return std::string(trimmed(text));
}

/// 2,9 is a number, as everywhere else where quantities are typed.
bool is_decimal_comma(const std::string& text, std::size_t at) {
  const auto digit = [&](std::size_t i) { return i < text.size() && text[i] >= '0' && text[i] <= '9'; };
  return text[at] == ',' && at > 0 && digit(at - 1) && digit(at + 1);
}

std::vector<std::string> split_at(const std::string& text, char at) {
  std::vector<std::string> parts;
  std::size_t from = 0;
  for (std::size_t to = text.find(at); to != std::string::npos; to = text.find(at, to + 1)) {
    if (is_decimal_comma(text, to)) continue;
    parts.push_back(without_blanks(text.substr(from, to - from)));
    from = to + 1;
  }
  parts.push_back(without_blanks(text.substr(from)));
  return parts;
}

Error no_answer_like(const std::string& answer, const std::string& example) {
  return {Trouble::request, "bad_answer", fmt::format("'{}' is not understood", answer),
          fmt::format("write it like '{}'", example)};
}

double positive(const std::string& text, Dimension dimension, const std::string& example) {
  const double value = parse_quantity(text, dimension);
  if (value > 0.0) return value;
  throw no_answer_like(text, example);
}

/// "12 x 3 mm, 0.283 g/mm".
struct Strip {
  double width_m = 0.0;
  std::string section;  ///< as typed
  double linear_mass_kg_m = 0.0;
  std::string linear_mass;  ///< as typed; empty: from its section
};
Strip strip_of(const std::string& answer) {
  const std::string example = "12 x 3 mm, 0.283 g/mm";
  const auto parts = split_at(answer, ';');
  const auto both = split_at(parts.front(), ',');
  const auto cross = both.front().find('x');
  if (both.size() > 2 || parts.size() > 1 || cross == std::string::npos) throw no_answer_like(answer, example);
  const std::string thickness = without_blanks(both.front().substr(cross + 1));
  std::string width = without_blanks(both.front().substr(0, cross));
  if (width.find_first_not_of("0123456789.,") == std::string::npos)  // the unit stands behind both
    width += thickness.substr(std::min(thickness.find_first_not_of("0123456789., "), thickness.size()));
  Strip strip{positive(width, Dimension::length, example), both.front(), 0.0, ""};
  strip.linear_mass_kg_m =
      strip.width_m * positive(thickness, Dimension::length, example) * material_named("steel").density_kg_m3;
  if (both.size() < 2) return strip;
  strip.linear_mass = both[1];
  const double weighed = positive(strip.linear_mass, Dimension::linear_mass, example);
  if (weighed > 1.3 * strip.linear_mass_kg_m || weighed < 0.3 * strip.linear_mass_kg_m)  // lighter metals pass
    throw Error(Trouble::request, "other_section",
                fmt::format("'{}': steel of that section weighs {:.3g} g/mm", answer, strip.linear_mass_kg_m),
                "measure the strip again, and weigh a metre of it");
  strip.linear_mass_kg_m = weighed;
  return strip;
}

/// "16 mm: 2.9 g, 3.1 g": how long it is round the tube, and what it weighs, one mass or several to choose from.
struct ReadyPiece {
  double size_m = 0.0;
  std::string size;
  std::vector<std::string> masses;
};
ReadyPiece ready_piece_of(const std::string& answer) {
  const std::string example = "16 mm: 2.9 g";
  const auto colon = answer.find(':');
  if (colon == std::string::npos) throw no_answer_like(answer, example);
  ReadyPiece piece;
  piece.size = without_blanks(answer.substr(0, colon));
  piece.size_m = positive(piece.size, Dimension::length, example);
  piece.masses = split_at(answer.substr(colon + 1), ',');
  for (const std::string& mass : piece.masses) positive(mass, Dimension::mass, example);
  return piece;
}

/// "60-80: 8.5 g, 12.5 g, 250 N": its name, what acts, and the pull it is stated to hold.
struct ClampKind {
  std::string name;
  std::vector<std::string> lumps;
  std::string holds;
};
ClampKind clamp_of(const std::string& answer) {
  const std::string example = "60-80: 8.5 g, 250 N";
  const auto colon = answer.find(':');
  if (colon == std::string::npos || without_blanks(answer.substr(0, colon)).empty())
    throw no_answer_like(answer, example);
  ClampKind clamp{without_blanks(answer.substr(0, colon)), {}, ""};
  for (const std::string& part : split_at(answer.substr(colon + 1), ',')) {
    if (part.ends_with('N') || part.ends_with("lbf")) {
      positive(part, Dimension::force, example);
      clamp.holds = part;
    } else {
      positive(part, Dimension::mass, example);
      clamp.lumps.push_back(part);
    }
  }
  if (clamp.lumps.empty()) throw no_answer_like(answer, example);
  return clamp;
}

/// "A: 352 deg to 8 deg, weld seam"; without a plane it holds for all.
struct ClosedArc {
  std::string plane, from, to, why;
};
ClosedArc arc_of(const std::string& answer) {
  const std::string example = "A: 352 deg to 8 deg, weld seam";
  const auto colon = answer.find(':');
  auto comma = answer.find(',');
  while (comma != std::string::npos && is_decimal_comma(answer, comma)) comma = answer.find(',', comma + 1);
  const std::size_t begin = colon == std::string::npos ? 0 : colon + 1;
  const auto to = answer.find(" to ", begin);
  if (comma == std::string::npos || to == std::string::npos || to > comma) throw no_answer_like(answer, example);
  ClosedArc arc{colon == std::string::npos ? "" : without_blanks(answer.substr(0, colon)),
                without_blanks(answer.substr(begin, to - begin)), without_blanks(answer.substr(to + 4, comma - to - 4)),
                without_blanks(answer.substr(comma + 1))};
  for (const std::string& angle : {arc.from, arc.to}) parse_quantity(angle, Dimension::angle);
  if (arc.why.empty()) throw no_answer_like(answer, example);
  return arc;
}

/// "1,2" are two.
std::vector<std::string> planes_of(const std::string& answer) {
  std::string separated = answer;
  std::ranges::replace(separated, ',', ';');
  std::vector<std::string> planes = split_at(separated, ';');
  std::vector<std::string> each = planes;
  std::ranges::sort(each);
  if (each.front().empty() || std::ranges::adjacent_find(each) != each.end()) throw no_answer_like(answer, "A, B");
  return planes;
}

void check_bead(const std::string& answer) {
  const bool share = answer.find('%') != std::string::npos;
  if (parse_quantity(answer, share ? Dimension::fraction : Dimension::mass) < 0.0) throw no_answer_like(answer, "4 %");
}

const std::vector<std::string>& answers_to(const FileAnswers& answers, const std::string& key) {
  static const std::vector<std::string> none;
  const auto found = answers.find(key);
  return found == answers.end() ? none : found->second;
}

std::string list_of(const std::vector<std::string>& texts) {
  std::string list;
  for (const std::string& text : texts) list += (list.empty() ? "" : ", ") + toml_text(text);
  return "[" + list + "]";
}

/// The file, and how long the longest piece is round the tube.
class NewStockFile {
 public:
  NewStockFile(const FileAnswers& answers, std::string language) : answers_(answers), language_(std::move(language)) {}

  std::string text() {
    std::string text = in_words(
        {"# Measured for 'counterspot stock new'.\n[stock]\n", "# Gemessen für 'counterspot stock new'.\n[stock]\n"});
    text += found_line("name", toml_text(answer_to(answers_, "name")), in_words({"as typed", "wie eingegeben"}));
    const std::string bead = answer_to(answers_, "bead");
    text += bead.empty() ? in_words({"# no bead: what welding adds is not known; weigh a few pieces before and after\n",
                                     "# ohne bead: was das Schweißen hinzufügt, ist nicht bekannt; einige Stücke "
                                     "vorher und nachher wiegen\n"})
                         : found_line("bead", toml_text(bead),
                                      in_words({"what welding adds to a piece, as weighed",
                                                "was beim Schweißen zu einem Stück hinzukommt, wie gewogen"}));
    for (const std::string& each : answers_to(answers_, "washer"))
      text += ready(ready_piece_of(each), in_words({"washer", "Scheibe"}));
    for (const std::string& each : answers_to(answers_, "slug"))
      text += ready(ready_piece_of(each), in_words({"slug", "Klotz"}));
    for (const std::string& each : answers_to(answers_, "strip")) text += strip(strip_of(each));
    for (const std::string& each : answers_to(answers_, "clamp")) text += clamp(clamp_of(each));
    if (!any_) {
      throw Error(Trouble::request, "no_pieces", "no piece is stated that could be fitted",
                  "name a washer as in 16 mm: 2.9 g, a strip as in 12 x 3 mm, a slug or a clamp");
    }
    return text + planes();
  }

 private:
  std::string ready(const ReadyPiece& piece, const std::string& what) {
    widest_m_ = std::max(widest_m_, piece.size_m);
    any_ = true;
    std::string text = "[[piece]]\n" + found_line("name", toml_text(what + " " + piece.size),
                                                  in_words({"how long it is round", "wie lang es um das Rohr ist"}));
    return text + (piece.masses.size() == 1
                       ? found_line("mass", toml_text(piece.masses.front()), in_words({"as weighed", "wie gewogen"}))
                       : found_line("masses", list_of(piece.masses), in_words({"as weighed", "wie gewogen"})));
  }

  std::string strip(const Strip& strip) {
    widest_m_ = std::max(widest_m_, strip.width_m);
    any_ = true;
    const std::string from_section = fmt::format("{:.4g} g/mm", strip.linear_mass_kg_m);
    std::string text = "[[strip]]\n" + found_line("name", toml_text(in_words({"strip ", "Streifen "}) + strip.section),
                                                  in_words({"lies along the tube", "liegt längs am Rohr"}));
    text += found_line("linear_mass", toml_text(strip.linear_mass.empty() ? from_section : strip.linear_mass),
                       strip.linear_mass.empty()
                           ? in_words({"steel of that section, 7850 kg/m3: weigh a metre of it",
                                       "Stahl dieses Querschnitts, 7850 kg/m3: einen Meter davon wiegen"})
                           : in_words({"as weighed", "wie gewogen"}));
    text +=
        found_line("shortest", "\"15 mm\"", in_words({"common practice, no source", "Übung im Handwerk, ohne Quelle"}));
    text += found_line("longest", "\"90 mm\"", in_words({"likewise", "ebenso"}));
    return text + found_line("step", "\"5 mm\"", in_words({"likewise", "ebenso"}));
  }

  std::string clamp(const ClampKind& clamp) {
    any_ = true;
    std::string text = "[[clamp]]\n" + found_line("name", toml_text(in_words({"clamp ", "Schelle "}) + clamp.name),
                                                  in_words({"as typed", "wie eingegeben"}));
    text += clamp.lumps.size() == 1
                ? found_line("lump", toml_text(clamp.lumps.front()),
                             in_words({"its screw, which acts", "ihre Schraube, die wirkt"}))
                : found_line("lumps", list_of(clamp.lumps),
                             in_words({"its screw, and with nuts on it", "ihre Schraube, und mit Muttern darauf"}));
    return text +
           (clamp.holds.empty()
                ? in_words(
                      {"# no pull that it holds is known: see that it cannot come off at speed\n",
                       "# welche Kraft sie hält, ist nicht bekannt: darauf achten, dass sie sich im Lauf nicht löst\n"})
                : found_line("holds", toml_text(clamp.holds),
                             in_words({"as stated by its maker", "nach Angabe des Herstellers"})));
  }

  /// An arc that no plane takes would be lost, and a weight put where none may lie.
  void admit_arcs(const std::vector<std::string>& planes) const {
    for (const std::string& each : answers_to(answers_, "closed-arc")) {
      const std::string plane = arc_of(each).plane;
      if (plane.empty() || std::ranges::find(planes, plane) != planes.end()) continue;
      throw Error(Trouble::request, "other_plane", fmt::format("'{}': there is no plane '{}'", each, plane),
                  "name one of the planes, or leave it out: then it holds for all");
    }
  }

  std::string planes() const {
    std::string text;
    const std::vector<std::string> planes = planes_of(answer_to(answers_, "planes"));
    admit_arcs(planes);
    for (const std::string& plane : planes) {
      text += "[[plane]]\n" + found_line("name", toml_text(plane), in_words({"as typed", "wie eingegeben"}));
      if (widest_m_ > 0.0)
        text += found_line(
            "smallest_gap", fmt::format("\"{:.4g} mm\"", 1e3 * (widest_m_ + bead_beside_m)),
            in_words({"the widest piece, and 2 mm for a bead", "das breiteste Stück, und 2 mm für eine Naht"}));
      std::string arcs;
      for (const std::string& each : answers_to(answers_, "closed-arc")) {
        const ClosedArc arc = arc_of(each);
        if (!arc.plane.empty() && arc.plane != plane) continue;
        arcs += fmt::format("  {{ from = {}, to = {}, why = {} }},\n", toml_text(arc.from), toml_text(arc.to),
                            toml_text(arc.why));
      }
      if (!arcs.empty()) text += "forbidden = [\n" + arcs + "]\n";
    }
    return text;
  }

  std::string in_words(const SaidWords& words) const { return language_ == "de" ? words.de : words.en; }

  const FileAnswers& answers_;
  std::string language_;
  double widest_m_ = 0.0;
  bool any_ = false;
};

}  // namespace

std::vector<FileQuestion> stock_questions() {
  using Keys = std::vector<std::string>;
  const auto repeated = [](const char* key, const SaidWords& words, const SaidWords& help, const Keys& keys) {
    return FileQuestion{key, said(words), said(help), "", true, true, keys};
  };
  return {
      {"name", said({"What is this stock called?", "Wie heißt dieser Vorrat?"}), {}, "stock"},
      repeated("washer",
               {"Which washers are there: across, and mass?", "Welche Scheiben gibt es: Durchmesser und Masse?"},
               {"one at a time, as in 16 mm: 2.9 g; weigh ten of them; nothing: no more",
                "eine nach der anderen, wie 16 mm: 2.9 g; zehn davon wiegen; nichts: keine weiteren"},
               {" mm", " in", ": ", " g", " oz"}),
      repeated("slug",
               {"Which slugs are there: how long round the tube, and masses?",
                "Welche Klötze gibt es: wie lang um das Rohr, und Massen?"},
               {"one size at a time, as in 20 mm: 10 g, 15 g, 20 g; nothing: no more",
                "eine Größe nach der anderen, wie 20 mm: 10 g, 15 g, 20 g; nichts: keine weiteren"},
               {" mm", " in", ": ", " g", " oz", ", "}),
      repeated("strip",
               {"Which strips are there to cut from: width and thickness, and mass per length?",
                "Von welchen Streifen wird geschnitten: Breite und Dicke, und Masse je Länge?"},
               {"as in 12 x 3 mm, 0.283 g/mm; without the mass it is that of steel; nothing: no more",
                "wie 12 x 3 mm, 0.283 g/mm; ohne die Masse gilt Stahl; nichts: keine weiteren"},
               {" x ", " mm", " in", ", ", " g/mm"}),
      repeated("clamp",
               {"Which clamps are there: name, what their screw weighs, and the pull they hold?",
                "Welche Schellen gibt es: Name, was ihre Schraube wiegt, und welche Kraft sie halten?"},
               {"as in 60-80: 8.5 g, 12.5 g, 250 N; the pull as the maker states it; nothing: no more",
                "wie 60-80: 8.5 g, 12.5 g, 250 N; die Kraft nach Angabe des Herstellers; nichts: keine weiteren"},
               {"-", ": ", " g", " oz", ", ", " N", " lbf"}),
      {"bead",
       said({"What does welding add to a piece?", "Was kommt beim Schweißen zu einem Stück hinzu?"}),
       said({"as in 4 % or 0.6 g; weigh a few before and after; nothing: not known",
             "wie 4 % oder 0.6 g; einige vorher und nachher wiegen; nichts: nicht bekannt"}),
       "",
       true,
       false,
       {" %", " g", " oz"}},
      {"planes", said({"What are the planes of your shafts called?", "Wie heißen die Ebenen der Wellen?"}),
       said({"as the shafts' files name them", "wie die Wellendateien sie nennen"}), "A, B"},
      repeated("closed-arc", {"Where may no weight lie?", "Wo darf kein Gewicht liegen?"},
               {"from the mark against the rotation, as in A: 352 deg to 8 deg, weld seam; a seam takes about 8 deg "
                "either side (common practice); without a plane it holds for all; nothing: no more",
                "von der Marke gegen die Drehrichtung, wie A: 352 deg to 8 deg, Schweißnaht; eine Naht braucht etwa 8 "
                "deg nach beiden Seiten (Übung im Handwerk); ohne Ebene gilt es für alle; nichts: keine weiteren"},
               {"A: ", "B: ", " deg", " to ", ", "}),
  };
}

std::optional<FileQuestion> next_stock_question(const FileAnswers& answers) {
  return first_unanswered(stock_questions(), answers, [](const std::string&) { return true; });
}

void check_stock_answer(const std::string& key, const std::string& answer) {
  if (key == "washer" || key == "slug") ready_piece_of(answer);
  if (key == "strip") strip_of(answer);
  if (key == "clamp") clamp_of(answer);
  if (key == "closed-arc") arc_of(answer);
  if (key == "planes") planes_of(answer);
  if (key == "bead") check_bead(answer);
}

std::string new_stock_text(const FileAnswers& answers, const std::string& language) {
  return NewStockFile(answers, language).text();
}

}  // namespace counterspot
