#include "console/page_service.hpp"

#include <future>
#include <utility>

#include "console/addresses.hpp"
#include "console/assets.hpp"
#include "counterspot/console/console.hpp"
#include "counterspot/units/error.hpp"
#include "units/part.hpp"

namespace counterspot {

PageService::PageService(std::string language) : language_(std::move(language)) {
  static_cast<void>(page_words_in(language_));  // made before who tells them, the texts outlive it
  add_file("/console.css", page_css, "text/css; charset=utf-8");
  add_document("/api/words", [](const Parameters&, const Viewer& viewer) { return viewer.texts.texts(); });
}

Viewer PageService::viewer_in(const Parameters& parameters) const {
  const std::string language = text_in(parameters, "language");
  return {text_in(parameters, "units") == "inch" ? UnitSystem::inch : UnitSystem::metric,
          page_words_in(language.empty() ? language_ : language)};
}

void PageService::add_file(const char* path, std::string_view text, const char* kind) {
  add_query(path, [text, kind](const auto&, const auto&) { return Reply{std::string(text), kind}; });
}

void PageService::add_query(const char* path, const std::function<Reply(const Parameters&, const Viewer&)>& answer) {
  queries_[path] = answer;
}

void PageService::add_document(const char* path, const std::function<Json(const Parameters&, const Viewer&)>& told) {
  add_query(path, [told](const Parameters& asked, const Viewer& viewer) { return reply_of(told(asked, viewer)); });
}

void PageService::add_picture(const char* path,
                              const std::function<std::string(const Parameters&, const Viewer&)>& drawn,
                              const char* kind) {
  add_query(path, [this, drawn, kind](const Parameters& asked, const Viewer& viewer) {
    const std::scoped_lock lock(drawing_);
    return Reply{std::async(std::launch::async, [&] { return drawn(asked, viewer); }).get(), kind};
  });
}

void PageService::add_command(const char* path, std::function<void(const Json&)> obey) {
  commands_[path] = std::move(obey);
}

void PageService::add_stock(StockSession& stock) {
  add_file("/stock.js", page_stock, "text/javascript; charset=utf-8");
  add_file("/stock.css", page_stock_css, "text/css; charset=utf-8");
  add_document("/api/stock-file", [&stock](const Parameters&, const Viewer& viewer) { return stock.now(viewer); });
  add_command("/api/stock-answer", [&stock](const Json& said) { stock.answer(said); });
  add_command("/api/stock-out", [&stock](const Json& said) { stock.take_out(said); });
  add_command("/api/stock-ask", [&stock](const Json& said) { stock.ask_again(said); });
  add_command("/api/stock-change", [&stock](const Json& said) { stock.change(said); });
  add_command("/api/stock-leave", [&stock](const Json& said) { stock.leave(said); });
  add_command("/api/stock-write", [&stock](const Json& said) { stock.write(said); });
}

void PageService::serve(const std::string& address, int port, const std::string& token, const std::string& watch_token,
                        std::uint64_t most_upload_bytes) {
  static void* const part =
      function_of_part("libcounterspot_http.so", "counterspot_serve", "no_http", "that serves the page");
  where_ = {address, port, token, fresh_token(), watch_token, fresh_token(), most_upload_bytes};
  reinterpret_cast<Serve>(part)(where_, *this, server_);
  where_.port = server_->port();
}

std::vector<std::string> PageService::urls() const {
  return page_urls(where_.address, where_.port, where_.token);
}

std::vector<std::string> PageService::watch_urls() const {
  if (where_.watch_token.empty()) return {};
  return page_urls(where_.address, where_.port, where_.watch_token);
}

Reply PageService::refusal(const std::string& code, const std::string& message, const std::string& remedy, int status) {
  return reply_of(Error(Trouble::request, code, message, remedy), status);
}

Reply PageService::query(const std::string& path, const Parameters& parameters) {
  const auto found = queries_.find(path);
  if (found == queries_.end()) return refusal("not_found", "there is nothing here", "open the page itself", 404);
  const Viewer viewer = viewer_in(parameters);
  return answered(viewer.words(), [&] { return found->second(parameters, viewer); });
}

Reply PageService::command(const std::string& path, const Parameters& parameters, const std::string& body) {
  const auto found = commands_.find(path);
  if (found == commands_.end()) return refusal("not_found", "there is nothing here", "open the page itself", 404);
  const Json said = Json::parse(body, nullptr, false);
  if (!said.is_object()) return refusal("bad_request", "the request is not a JSON object", "load the page again", 400);
  const Viewer viewer = viewer_in(parameters);
  return answered(viewer.words(), [&] {
    try {
      found->second(said);
    } catch (const Json::exception&) {
      return refusal("bad_request", "a value in the request is of the wrong kind", "load the page again", 400);
    }
    return reply_of(now(viewer));
  });
}

}  // namespace counterspot
