#include "files/result_form.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <optional>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

struct Ending {
  const char* text;
  ResultForm form;
};
constexpr std::array<Ending, 7> endings = {{{".csv", ResultForm::csv},
                                            {".json", ResultForm::json},
                                            {".jsonl", ResultForm::jsonl},
                                            {".npz", ResultForm::npz},
                                            {".mat", ResultForm::mat},
                                            {".uff", ResultForm::uff},
                                            {".unv", ResultForm::uff}}};

std::optional<ResultForm> form_by_ending(const std::filesystem::path& file) {
  std::string ending = file.extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(), [](unsigned char c) { return std::tolower(c); });
  const auto found =
      std::find_if(endings.begin(), endings.end(), [&](const Ending& one) { return ending == one.text; });
  return found == endings.end() ? std::nullopt : std::optional(found->form);
}

Error bad_ending(const std::filesystem::path& file, const std::string& more) {
  const std::string ending = file.extension().string();
  return {Trouble::request, "bad_ending",
          fmt::format("{}: the name's ending says how results are written, and {}", file.string(),
                      ending.empty() ? "this name has none" : fmt::format("'{}' is none of them", ending)),
          "end the name with .csv (a table), .json (one document)" + more};
}

}  // namespace

ResultForm form_of_name(const std::filesystem::path& file) {
  if (const auto form = form_by_ending(file)) return *form;
  throw bad_ending(file, ", .jsonl (a document a line), .npz (NumPy), .mat (MATLAB) or .uff (universal file)");
}

ResultForm form_of_growing_name(const std::filesystem::path& file) {
  const auto form = form_by_ending(file);
  if (form == ResultForm::csv || form == ResultForm::json || form == ResultForm::jsonl) return *form;
  throw bad_ending(file, " or .jsonl (a document a line)");
}

}  // namespace counterspot
