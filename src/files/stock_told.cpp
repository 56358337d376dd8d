#include "counterspot/files/stock_told.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "counterspot/files/work_order.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

constexpr std::size_t longest_answer = 200;

FileQuestion stock_question(const std::string& key) {
  const auto questions = stock_questions();
  const auto found = std::ranges::find(questions, key, &FileQuestion::key);
  if (found == questions.end()) throw stock_moved_on();
  return *found;
}

void check_length(const std::string& answer) {
  if (answer.size() <= longest_answer && is_one_line(answer)) return;
  throw Error(Trouble::request, "bad_name", "this answer is too long, or holds a control character",
              "write it in one line, with letters, digits and marks that can be seen");
}

}  // namespace

Error stock_moved_on() {
  return {Trouble::request, "stock_moved_on", "the stock was changed meanwhile, here or elsewhere",
          "look at what stands there now, and do it again"};
}

std::optional<FileQuestion> question_asked_of(const StockTold& told) {
  for (const FileQuestion& question : stock_questions())
    if (!told.done.contains(question.key)) return question;
  return std::nullopt;
}

void answer_stock(StockTold& told, const std::string& key, const std::string& typed) {
  const auto asked = question_asked_of(told);
  if (!asked || asked->key != key) throw stock_moved_on();
  const std::string answer(trimmed(typed).empty() ? asked->standard : std::string(trimmed(typed)));
  if (answer.empty() && !asked->optional)
    throw Error(Trouble::request, "no_answer", "'" + key + "' is not answered: " + asked->words.en, "answer it");
  if (!answer.empty()) {
    check_length(answer);
    check_stock_answer(key, answer);
    told.answers[key].push_back(answer);
  }
  if (answer.empty() || !asked->repeated) told.done.insert(key);
}

void take_out_of_stock(StockTold& told, const std::string& key, std::size_t which) {
  const FileQuestion question = stock_question(key);
  std::vector<std::string>& answers = told.answers[key];
  if (which >= answers.size()) throw stock_moved_on();
  answers.erase(answers.begin() + static_cast<std::ptrdiff_t>(which));
  if (!question.repeated) told.done.erase(key);
}

void ask_stock_again(StockTold& told, const std::string& key) {
  if (!stock_question(key).repeated) told.answers.erase(key);
  told.done.erase(key);
}

std::string text_of(const StockTold& told) {
  const nlohmann::ordered_json kept = {{"answers", told.answers},
                                       {"done", told.done},
                                       {"changing", told.changing},
                                       {"written", told.written},
                                       {"written_of", told.written_of}};
  try {
    return kept.dump(1) + "\n";
  } catch (const nlohmann::json::type_error&) {
    throw Error(Trouble::request, "bad_name", "an answer holds bytes that are no letters (UTF-8)",
                "write it with letters, digits and marks that can be seen");
  }
}

StockTold stock_told_of(const std::string& text, const std::string& where) {
  try {
    const auto kept = nlohmann::json::parse(text);
    return {kept.at("answers"), kept.at("done"), kept.at("changing"), kept.at("written"), kept.at("written_of")};
  } catch (const nlohmann::json::exception&) {
    throw Error(Trouble::request, "bad_kept", where + " is not what is kept of a stock that is being written",
                "move it away, and begin anew");
  }
}

}  // namespace counterspot
