#include <nlohmann/json.hpp>

#include "counterspot/rig_setup/setup.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

struct NamedStep {
  SetupStep step;
  std::string_view name;
  std::string_view group;
};
constexpr NamedStep setup_steps[] = {{SetupStep::rest, "rest", ""},
                                     {SetupStep::running, "running", ""},
                                     {SetupStep::knocks_a, "knocks-a", "knocks"},
                                     {SetupStep::knocks_b, "knocks-b", "knocks"},
                                     {SetupStep::hand_turn, "hand", "tach"},
                                     {SetupStep::slow_run, "slow", "tach"},
                                     {SetupStep::direction, "direction", ""},
                                     {SetupStep::bare, "bare", "proof"},
                                     {SetupStep::at_a, "at-a", "proof"},
                                     {SetupStep::at_b, "at-b", "proof"},
                                     {SetupStep::known, "known", "proof"},
                                     {SetupStep::shaker_a, "shaker-a", "sensitivity"},
                                     {SetupStep::shaker_b, "shaker-b", "sensitivity"},
                                     {SetupStep::sweep, "sweep", ""}};

/// The words that are kept, each under its key.
std::vector<std::pair<const char*, std::string SetupTold::*>> kept_words() {
  return {{"top_goes", &SetupTold::top_goes},
          {"name", &SetupTold::name},
          {"viewing_end", &SetupTold::viewing_end},
          {"known_seen_from", &SetupTold::known_seen_from},
          {"full_scale", &SetupTold::full_scale},
          {"weight", &SetupTold::weight},
          {"radius", &SetupTold::radius},
          {"written", &SetupTold::written},
          {"source", &SetupTold::source},
          {"source_rate", &SetupTold::source_rate},
          {"source_channels", &SetupTold::source_channels},
          {"source_format", &SetupTold::source_format}};
}

}  // namespace

std::string_view setup_step_name(SetupStep step) {
  for (const NamedStep& named : setup_steps)
    if (named.step == step) return named.name;
  return "";
}

std::vector<SetupStep> setup_steps_named(const std::string& name) {
  std::vector<SetupStep> steps;
  std::string names;
  for (const NamedStep& named : setup_steps) {
    if (named.name == name || named.group == name) steps.push_back(named.step);
    names += std::string(named.name) + ", ";
  }
  if (!steps.empty() && !name.empty()) return steps;
  throw Error(Trouble::request, "no_such_step", "there is no step '" + name + "'",
              "the steps are " + names + "and together knocks, tach, proof, sensitivity");
}

std::string text_of(const SetupTold& told) {
  nlohmann::ordered_json kept;
  for (const auto& [key, word] : kept_words())
    if (!(told.*word).empty()) kept[key] = told.*word;
  for (std::size_t s : {0U, 1U})
    if (!told.sensitivity[s].empty()) kept["sensitivity"][s == 0 ? "A" : "B"] = told.sensitivity[s];
  for (const auto& [step, file] : told.recordings) kept["recordings"][std::string(setup_step_name(step))] = file;
  for (const SetupStep step : told.wanted) kept["wanted"].push_back(std::string(setup_step_name(step)));
  try {
    return kept.dump(1) + "\n";
  } catch (const nlohmann::json::type_error&) {  // replaced by another letter, a name would not lead to its file again
    throw Error(Trouble::request, "bad_name",
                "a name that is to be kept of the rig holds bytes that are no letters (UTF-8)",
                "rename the file, or write the name, with letters, digits and marks that can be seen");
  }
}

SetupTold setup_told_of(const std::string& text, const std::string& where) {
  SetupTold told;
  try {
    const auto kept = nlohmann::json::parse(text);
    for (const auto& [key, word] : kept_words()) told.*word = kept.value(key, told.*word);
    const auto sensitivity = kept.value("sensitivity", nlohmann::json::object());
    for (std::size_t s : {0U, 1U}) told.sensitivity[s] = sensitivity.value(s == 0 ? "A" : "B", "");
    const nlohmann::json recordings = kept.value("recordings", nlohmann::json::object());
    for (const auto& [name, file] : recordings.items())
      told.recordings[setup_steps_named(name).at(0)] = file.get<std::string>();
    const nlohmann::json wanted = kept.value("wanted", nlohmann::json::array());
    for (const auto& name : wanted) told.wanted.insert(setup_steps_named(name.get<std::string>()).at(0));
  } catch (const nlohmann::json::exception&) {
    throw Error(Trouble::request, "bad_kept", where + " is not what 'rig new' keeps of a rig that is being set up",
                "move it away and begin anew, or name another rig file with --out");
  }
  return told;
}

}  // namespace counterspot
