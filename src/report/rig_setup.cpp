#include "report/rig_setup.hpp"

#include "counterspot/rig_setup/setup.hpp"
#include "report/documents.hpp"
#include "report/text.hpp"

namespace counterspot {
namespace {

Json sentences_of(const std::vector<Said>& all) {
  Json sentences = Json::array();
  for (const Said& sentence : all) sentences.push_back(sentence.en);
  return sentences;
}

}  // namespace

std::string act_of(const SetupInstruction& next, const std::string& language) {
  std::string act;
  for (const Said* sentence : {&next.by_hand, &next.act, &next.typed})
    if (!sentence->empty()) act += (act.empty() ? "" : " ") + sentence->in(language);
  return act;
}

/// An error's code has words in every language.
AgainWords words_of(const Again& again, const Words& words) {
  if (again.code.empty()) return {again.why.in(words.language), again.instead.in(words.language)};
  return {meaning_text(again.code, again.why.en, {}, words), remedy_text(again.code, again.instead.en, words)};
}

Json document_of(const SetupStanding& standing, const SetupTold& told, const std::string& written) {
  Json document = {{"found", sentences_of(standing.found)}};
  if (standing.next) {
    const SetupInstruction next = instruction_of(*standing.next, told);
    document["next"] = {
        {"step", setup_step_name(*standing.next)}, {"act", act_of(next, "en")}, {"caution", next.caution.en}};
  }
  if (standing.again) document["again"] = {{"why", standing.again->why.en}, {"instead", standing.again->instead.en}};
  if (const auto& proof = standing.proof) {
    document["proof"] = {{"held", proof->result == ProofResult::held},
                         {"against", sentences_of(proof->against)},
                         {"found_mass_g", 1e3 * proof->found_mass_kg},
                         {"found_clock_deg", degrees(proof->found_clock_rad)},
                         {"off_fraction", proof->off},
                         {"smallest_residual_gmm",
                          {in_g_mm(proof->smallest_residual_kg_m[0]), in_g_mm(proof->smallest_residual_kg_m[1])}}};
  }
  document["written"] = text_or_null(written);
  return document;
}

}  // namespace counterspot
