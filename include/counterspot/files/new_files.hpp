#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/model/shaft.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/units/said.hpp"

namespace counterspot {

/// New files from what a tape measure and a scale give, asked one question at a time. What is asked next hangs on what
/// was answered alone, so that it may be asked at a terminal, through a pipe, by options or on a page.

struct FileQuestion {
  std::string key;                     ///< "service-speed": the name of its option too
  Said words;                          ///< the question
  Said help;                           ///< what helps to answer it; empty: nothing
  std::string standard;                ///< taken for an empty answer
  bool optional = false;               ///< an empty answer says that there is none
  bool repeated = false;               ///< asked again until an answer is empty
  std::vector<std::string> keys = {};  ///< what its answers are made of beside figures: for a pad of keys
};

/// By key, as typed, in the order given; of one that was asked and has no answer, an empty list.
using FileAnswers = std::map<std::string, std::vector<std::string>>;

/// All questions of a kind of file, in their order: for options.
std::vector<FileQuestion> shaft_questions();
std::vector<FileQuestion> stock_questions();

/// What helps to choose the balance quality grade of a shaft.
Said grade_help();

/// The first that is not answered and that the answers call for; empty: all is said.
std::optional<FileQuestion> next_shaft_question(const FileAnswers& answers);
std::optional<FileQuestion> next_stock_question(const FileAnswers& answers);

/// @throws Error(request, …) "bad_quantity", "bad_grade", "bad_value", "bad_answer", "other_section" for what is no
/// answer to this question.
void check_shaft_answer(const std::string& key, const std::string& answer);
void check_stock_answer(const std::string& key, const std::string& answer);

/// The answers of a form, which asks everything at once: what is left empty is not answered, and a tube is of the
/// standard material where nobody says of what.
/// @param typed gives what stands at a question's key; empty: nothing
/// @throws as check_shaft_answer; "no_answer" where bearings or planes are missing.
FileAnswers shaft_answers(const std::function<std::string(const std::string& key)>& typed);

/// The mass of a shaft that nobody could weigh: its tube and what its ends weigh beyond it.
struct EstimatedMass {
  double value_kg = 0.0;
  double plus_minus_kg = 0.0;  ///< holds 95 %
  double smallest_kg() const { return value_kg - plus_minus_kg; }
};
/// The tube's own ± is that of a wall read to 0.1 mm with a caliper; ends stated without one are taken as ± 10 % (both
/// common practice, no source). What is independent adds up by squares (JCGM 100:2008, 5.1.2).
EstimatedMass estimated_mass(const FileAnswers& answers);

/// The text of a shaft's file, each line with how it was found. A mass that was estimated is stated as the smallest it
/// can be, for a limit by grade grows with the mass.
/// @param like an earlier shaft, which gives all that is not answered; empty: all must be. What is of that one piece
/// alone, dial readings and order, is not taken over.
/// @throws Error(request, "bad_value") for answers that cannot be together: a shaft lighter than its tube.
std::string new_shaft_text(const std::string& id, const FileAnswers& answers, const std::optional<Shaft>& like = {});

/// The text of a stock's file, likewise. @param language of its remarks and of what pieces are called.
/// @throws Error(request, …) "no_pieces"; "other_plane" for an arc of a plane that is not among the planes.
std::string new_stock_text(const FileAnswers& answers, const std::string& language = "en");

/// As read_stock, for a text that is held against no shaft; its rules may name any plane. @throws as read_stock.
Stock read_stock_text(const std::string& text, const std::filesystem::path& path);

}  // namespace counterspot
