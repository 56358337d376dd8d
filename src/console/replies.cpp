#include "console/replies.hpp"

#include <charconv>

#include "report/text.hpp"

namespace counterspot {

namespace {

int status_of(const Error& error) {
  if (error.code() == "job_moved_on" || error.code() == "stock_moved_on") return 409;
  switch (error.trouble()) {
    case Trouble::request: return 400;
    case Trouble::recording: return 422;
    case Trouble::machine: return 500;
  }
  return 500;
}

/// What is named in a refusal, such as what was typed: it is the same in every language.
std::string named_in(const std::string& message) {
  const auto from = message.find('\'');
  const auto to = from == std::string::npos ? from : message.find('\'', from + 1);
  return to == std::string::npos ? "" : ": " + message.substr(from, to + 1 - from);
}

}  // namespace

Reply reply_of(const Json& document, int status) {
  return {one_line(document), "application/json", status};
}

Reply reply_of(const Error& error, int status, const Words& words) {
  Json document = json_of(error);
  const std::string meant = meaning_text(error.code(), error.what(), {}, words);
  document["message"] = meant == error.what() ? meant : meant + named_in(error.what());
  document["remedy"] = remedy_text(error.code(), error.remedy(), words);
  return reply_of(document, status);
}

Reply answered(const Words& words, const std::function<Reply()>& answer) {
  try {
    return answer();
  } catch (const Error& error) {
    return reply_of(error, status_of(error), words);
  } catch (const std::exception&) {
    return reply_of(Error(Trouble::machine, "fault", "this is a fault of the program", "report it"), 500);
  }
}

Said trouble_in(const std::function<void()>& work) {
  try {
    work();
    return {};
  } catch (const Error& error) {
    return sentence_of(error);
  } catch (const std::exception& fault) {
    return sentence_of(fault);
  }
}

std::string drawn(const Picture& picture, Theme theme) {
  DrawingOptions options;
  options.theme = theme;
  return draw(picture, options);
}

std::string text_in(const Parameters& parameters, const std::string& name) {
  const auto found = parameters.find(name);
  return found == parameters.end() ? "" : found->second;
}

double size_in(const Parameters& parameters, const std::string& name) {
  const std::string text = text_in(parameters, name);
  double number = 0.0;
  const auto [end, trouble] = std::from_chars(text.data(), text.data() + text.size(), number);
  return trouble == std::errc() && end == text.data() + text.size() ? number : 0.0;
}

int number_in(const Parameters& parameters, const std::string& name) {
  const std::string text = text_in(parameters, name);
  int number = -1;
  const auto [end, trouble] = std::from_chars(text.data(), text.data() + text.size(), number);
  return trouble == std::errc() && end == text.data() + text.size() ? number : -1;
}

Theme theme_in(const Parameters& parameters) {
  return text_in(parameters, "theme") == "dark" ? Theme::dark : Theme::light;
}

}  // namespace counterspot
