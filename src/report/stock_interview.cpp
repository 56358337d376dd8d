#include "report/stock_interview.hpp"

#include "report/text.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

const char* stage_name(StockStage stage) {
  switch (stage) {
    case StockStage::there: return "there";
    case StockStage::asking: return "asking";
    case StockStage::shown: return "shown";
  }
  return "";
}

Json question_json(const FileQuestion& question, const std::string& language) {
  Json keys = Json::array();
  for (const std::string& text : question.keys) keys.push_back({{"label", trimmed(text)}, {"text", text}});
  return {{"key", question.key},
          {"words", question.words.in(language)},
          {"help", question.help.in(language)},
          {"standard", question.standard},
          {"optional", question.optional},
          {"repeated", question.repeated},
          {"keys", keys}};
}

/// Of every question that was answered or done with.
Json answers_json(const StockTold& told, const std::string& language) {
  Json all = Json::array();
  for (const FileQuestion& question : stock_questions()) {
    const auto found = told.answers.find(question.key);
    const bool any = found != told.answers.end() && !found->second.empty();
    if (!any && !told.done.contains(question.key)) continue;
    all.push_back({{"key", question.key},
                   {"words", question.words.in(language)},
                   {"answers", any ? Json(found->second) : Json::array()},
                   {"repeated", question.repeated},
                   {"done", told.done.contains(question.key)}});
  }
  return all;
}

}  // namespace

Json document_of(const StockStanding& standing, const StockPlace& place, const Words& words) {
  const std::string language = words.language;
  const auto questions = stock_questions();
  std::size_t number = 1;
  while (standing.next && questions[number - 1].key != standing.next->key) ++number;
  return {{"seen", standing.seen},
          {"stage", stage_name(standing.stage)},
          {"file", place.file.string()},
          {"shops", standing.is_shops},
          {"there", standing.there},
          {"by_hand", standing.by_hand},
          {"kept_as", standing.kept_as.filename().string()},
          {"answers", answers_json(standing.told, language)},
          {"next", standing.next ? question_json(*standing.next, language) : Json(nullptr)},
          {"number", number},
          {"questions", questions.size()},
          {"text", standing.text},
          {"trouble", standing.trouble ? sentence_of(*standing.trouble).in(language) : ""}};
}

}  // namespace counterspot
