#include "counterspot/units/warning.hpp"

#include <algorithm>
#include <charconv>
#include <iterator>
#include <sstream>
#include <utility>

#include "units/warning_table.hpp"

namespace counterspot {

namespace {

constexpr std::size_t sentences_said = 3;
constexpr std::size_t figures_said = 3;

void add_once(std::vector<std::string>& list, const std::string& text) {
  if (std::find(list.begin(), list.end(), text) == list.end()) list.push_back(text);
}

/// "A", "A and B", "A, B and C".
std::string listed(const std::vector<std::string>& parts) {
  std::string text;
  for (std::size_t i = 0; i < parts.size(); ++i)
    text += (i == 0 ? "" : i + 1 == parts.size() ? " and " : ", ") + parts[i];
  return text;
}

std::vector<std::string> words_in_sentence(std::string_view text) {
  std::vector<std::string> words;
  std::istringstream stream{std::string(text)};
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

/// Where the number of a word stands that is one, perhaps in brackets or before a comma: "(24.2", "0.895;".
std::optional<std::pair<std::size_t, std::size_t>> number_in(const std::string& word) {
  const std::size_t begin = word.find_first_not_of('(');
  const std::size_t last = word.find_last_not_of(",;:)");
  if (begin == std::string::npos || last == std::string::npos || last < begin) return std::nullopt;
  const char* first = word.data() + begin + (word[begin] == '+' ? 1 : 0);
  double value = 0.0;
  const auto [end, error] = std::from_chars(first, word.data() + last + 1, value);
  if (error != std::errc() || end != word.data() + last + 1) return std::nullopt;
  return std::pair(begin, last + 1 - begin);
}

/// Sentences that are one but for their figures, as words; a word may have been said with several figures.
struct Sentence {
  std::vector<std::string> words;
  std::vector<std::vector<std::string>> figures;  ///< for each word: empty if it is no number

  explicit Sentence(const std::string& text) : words(words_in_sentence(text)), figures(words.size()) {
    for (std::size_t i = 0; i < words.size(); ++i) {
      const auto number = number_in(words[i]);
      if (!number) continue;
      figures[i] = {words[i].substr(number->first, number->second)};
      words[i].replace(number->first, number->second, "{}");
    }
  }

  bool takes(const Sentence& other) {
    if (words != other.words) return false;
    for (std::size_t i = 0; i < words.size(); ++i)
      for (const std::string& figure : other.figures[i]) add_once(figures[i], figure);
    return true;
  }

  /// All figures of a word, or from the least to the largest where they are many.
  static std::string joined(std::vector<std::string> figures) {
    std::stable_sort(figures.begin(), figures.end(),
                     [](const std::string& a, const std::string& b) { return std::stod(a) < std::stod(b); });
    return figures.size() > figures_said ? figures.front() + " to " + figures.back() : listed(figures);
  }

  std::string text() const {
    std::string text;
    bool several = false;
    for (std::size_t i = 0; i < words.size(); ++i) {
      std::string word = words[i];
      if (!figures[i].empty()) word.replace(word.find("{}"), 2, joined(figures[i]));
      several = several || figures[i].size() > 1;
      text += (i > 0 ? " " : "") + word;
    }
    return several ? of_several(text) : text;
  }

  /// What is said of one line, said of more.
  static std::string of_several(std::string text) {
    static constexpr std::pair<std::string_view, std::string_view> plurals[] = {
        {"a steady line at", "steady lines at"},
        {"was fitted along", "were fitted along"},
        {"turns with the shaft and", "turn with the shaft and"},
        {"it does not turn", "they do not turn"},
        {"it may also be", "they may also be"}};
    for (const auto& [one, many] : plurals)
      if (const auto at = text.find(one); at != std::string::npos) text.replace(at, one.size(), many);
    return text;
  }
};

/// "sensors A and B: ", as messages begin; empty for the tach, which names itself.
std::string sensors_before(const std::vector<std::string>& sensors) {
  if (sensors.empty() || sensors.front() == "tach") return "";
  return (sensors.size() > 1 ? "sensors " : "sensor ") + listed(sensors) + ": ";
}

/// A sentence, and the sensors that it names at its beginning.
struct SaidOf {
  Sentence sentence;
  std::vector<std::string> sensors;
};

/// What was said under one code, until all has been heard.
struct Gathering {
  Warning warning;
  std::vector<SaidOf> said = {};
};

void add_to(Gathering& gathering, const Warning& one) {
  Warning& whole = gathering.warning;
  std::vector<std::string> sensors = sensors_named(one);
  for (const std::string& sensor : sensors) add_once(whole.sensors, sensor);
  for (const std::string& spin : one.spins) add_once(whole.spins, spin);
  if (whole.remedy.empty()) whole.remedy = one.remedy;
  std::string text = one.message;
  const std::string before = sensors_before(sensors);
  if (text.starts_with(before))
    text.erase(0, before.size());
  else
    sensors.clear();
  text.erase(std::min(text.find(';'), text.size()));
  const Sentence sentence(text);
  const auto known = std::find_if(gathering.said.begin(), gathering.said.end(), [&](SaidOf& each) {
    return each.sensors.empty() == sensors.empty() && each.sentence.takes(sentence);
  });
  if (known == gathering.said.end()) return gathering.said.push_back({sentence, sensors});
  for (const std::string& sensor : sensors) add_once(known->sensors, sensor);
}

/// Sensors are named once where they are those of the sentence before.
std::string message_of(std::vector<SaidOf> heard) {
  const std::string between = ", ";  // what stands behind a semicolon is left out
  std::string message;
  std::string named;
  for (std::size_t i = 0; i < std::min(heard.size(), sentences_said); ++i) {
    std::sort(heard[i].sensors.begin(), heard[i].sensors.end());
    const std::string before = sensors_before(heard[i].sensors);
    message += (i > 0 ? between : "") + (before == named ? "" : before) + heard[i].sentence.text();
    named = before;
  }
  if (heard.size() > sentences_said)
    message += between + "and " + std::to_string(heard.size() - sentences_said) + " more like it";
  return message;
}

Warning whole_of(Gathering gathering) {
  Warning& whole = gathering.warning;
  std::sort(whole.sensors.begin(), whole.sensors.end());
  whole.message = message_of(gathering.said);
  return std::move(whole);
}

Warnings only(const Warnings& warnings, bool that_hold) {
  Warnings chosen;
  std::copy_if(warnings.begin(), warnings.end(), std::back_inserter(chosen),
               [&](const Warning& warning) { return holds_back(warning.code) == that_hold; });
  return chosen;
}

}  // namespace

std::string warning_code(WarningCode code) {
  const WarningRow* const row = warning_row(code);
  return row != nullptr ? row->name : "unknown";
}

std::optional<WarningCode> warning_code_named(std::string_view name) {
  const WarningRow* const row = warning_row(name);
  return row != nullptr ? std::optional(row->code) : std::nullopt;
}

Severity severity_of(WarningCode code) {
  const WarningRow* const row = warning_row(code);
  return row != nullptr ? row->severity : Severity::warning;
}

std::string_view severity_name(Severity severity) {
  switch (severity) {
    case Severity::holds_back: return "holds_back";
    case Severity::warning: return "warning";
    case Severity::note: return "note";
  }
  return "";
}

bool holds_back(WarningCode code) {
  return severity_of(code) == Severity::holds_back;
}

std::string_view remedy_of(WarningCode code) {
  const WarningRow* const row = warning_row(code);
  return row != nullptr ? row->remedy : "";
}

std::vector<std::string> sensors_named(const Warning& warning) {
  if (!warning.sensors.empty() || !warning.sensor) return warning.sensors;
  return {*warning.sensor};
}

Warnings gathered(const Warnings& warnings) {
  std::vector<Gathering> gatherings;
  for (const Warning& one : warnings) {
    auto known = std::find_if(gatherings.begin(), gatherings.end(),
                              [&](const Gathering& each) { return each.warning.code == one.code; });
    if (known == gatherings.end()) known = gatherings.insert(known, Gathering{Warning{one.code, one.sensor, {}}});
    add_to(*known, one);
  }
  Warnings all;
  for (Gathering& each : gatherings) all.push_back(whole_of(std::move(each)));
  std::stable_sort(all.begin(), all.end(),
                   [](const Warning& a, const Warning& b) { return severity_of(a.code) < severity_of(b.code); });
  return all;
}

std::vector<std::string> figures_in(std::string_view message) {
  static constexpr std::string_view units[] = {"Hz", "rpm", "%",  "deg", "g·mm", "mm/s", "m/s2",
                                               "um", "s",   "ms", "V",   "g",    "kg"};
  const std::vector<std::string> words = words_in_sentence(message);
  std::vector<std::string> figures;
  std::string figure;
  for (const std::string& word : words) {
    const std::string bare = word.substr(0, word.find_last_not_of(",;:)") + 1);
    if (const auto number = number_in(word)) {
      figure += (figure.empty() ? "" : " ") + word.substr(number->first, number->second);
    } else if (!figure.empty() && (word == "and" || word == "to" || word == "±")) {
      figure += " " + word;
    } else {
      if (!figure.empty() && std::find(std::begin(units), std::end(units), bare) != std::end(units))
        add_once(figures, figure + " " + bare);
      figure.clear();
    }
  }
  return figures;
}

bool holds_for_all(const Warning& warning, const std::vector<std::string>& spins) {
  return spins.size() > 1 && std::all_of(spins.begin(), spins.end(), [&](const std::string& spin) {
           return std::find(warning.spins.begin(), warning.spins.end(), spin) != warning.spins.end();
         });
}

std::string sentence_of(const Warning& warning) {
  if (warning.spins.empty()) return warning.message;
  std::string names;
  for (const std::string& spin : warning.spins) names += (names.empty() ? "'" : ", '") + spin + "'";
  return (warning.spins.size() > 1 ? "spins " : "spin ") + names + ": " + warning.message;
}

Warnings holding(const Warnings& warnings) {
  return only(warnings, true);
}

Warnings not_holding(const Warnings& warnings) {
  return only(warnings, false);
}

}  // namespace counterspot
