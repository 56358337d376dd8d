#pragma once

#include <fmt/format.h>

#include <optional>
#include <string>
#include <vector>

#include "counterspot/files/new_files.hpp"
#include "files/toml_text.hpp"

namespace counterspot {

/// The first of them without an answer that `called_for` lets through.
template <typename CalledFor>
std::optional<FileQuestion> first_unanswered(const std::vector<FileQuestion>& questions, const FileAnswers& answers,
                                             const CalledFor& called_for) {
  for (const FileQuestion& question : questions)
    if (!answers.contains(question.key) && called_for(question.key)) return question;
  return std::nullopt;
}

/// Empty if it was not answered.
inline std::string answer_to(const FileAnswers& answers, const std::string& key) {
  const auto found = answers.find(key);
  return found == answers.end() || found->second.empty() ? "" : found->second.front();
}

/// A line and, behind it in one column, how it was found.
inline std::string found_line(const std::string& key, const std::string& value, const std::string& how) {
  const std::string stated = key + " = " + value;
  return how.empty() ? stated + "\n" : fmt::format("{:<36}# {}\n", stated, how);
}

}  // namespace counterspot
