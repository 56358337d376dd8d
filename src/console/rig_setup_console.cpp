#include "counterspot/console/rig_setup_console.hpp"

#include <future>
#include <map>

#include "console/addresses.hpp"
#include "console/assets.hpp"
#include "console/replies.hpp"
#include "console/rig_setup_session.hpp"
#include "console/stock_session.hpp"
#include "counterspot/console/console.hpp"
#include "counterspot/drawing/drawing_rig_setup.hpp"
#include "counterspot/units/error.hpp"
#include "units/part.hpp"

namespace counterspot {

namespace {

constexpr double setup_beat_s = 0.5;
constexpr std::uint64_t most_setup_bytes = 1 << 16;  // of a request

}  // namespace

struct RigSetupConsole::Inside final : public Service {
  explicit Inside(const RigSetupConsoleOptions& asked);
  Inside(const Inside&) = delete;
  Inside& operator=(const Inside&) = delete;
  Inside(Inside&&) = delete;
  Inside& operator=(Inside&&) = delete;
  ~Inside() override { server.reset(); }

  Reply query(const std::string& path, const Parameters& parameters) override;
  Reply command(const std::string& path, const Parameters& parameters, const std::string& body) override;
  std::unique_ptr<Arriving> upload() override { return nullptr; }  // all recordings are made here
  std::string event(const Parameters& parameters, std::uint64_t& news) override;
  Reply refusal(const std::string& code, const std::string& message, const std::string& remedy, int status) override {
    return reply_of(Error(Trouble::request, code, message, remedy), status);
  }

  Viewer viewer_in(const Parameters& parameters) const;
  Reply drawn(const Picture& picture, Theme theme);
  void set_up_queries();
  void set_up_commands();

  RigSetupConsoleOptions options;
  RigSetupSession session;
  StockSession stock;
  std::mutex drawing;
  std::map<std::string, std::function<Reply(const Parameters&)>> queries;  // by path
  std::map<std::string, std::function<void(const Json&)>> commands;
  std::unique_ptr<PageServer> server;
};

RigSetupConsole::Inside::Inside(const RigSetupConsoleOptions& asked)
    : options(asked), session(asked), stock(stock_place({}, asked.folder / "shop.toml"), [](const auto&) {}) {
  static_cast<void>(page_words_in(options.language));  // made before who tells them, the texts outlive it
  set_up_queries();
  set_up_commands();
  static void* const part =
      function_of_part("libcounterspot_http.so", "counterspot_serve", "no_http", "that serves the page");
  const ServerOptions where{options.address, options.port, options.token, fresh_token(), "", "", most_setup_bytes};
  reinterpret_cast<Serve>(part)(where, *this, server);
  options.port = server->port();
}

Viewer RigSetupConsole::Inside::viewer_in(const Parameters& parameters) const {
  const std::string language = text_in(parameters, "language");
  return {UnitSystem::metric, page_words_in(language.empty() ? options.language : language)};
}

/// On a thread of its own, one after the other: Pango keeps a map of fonts for every thread that draws.
Reply RigSetupConsole::Inside::drawn(const Picture& picture, Theme theme) {
  const std::scoped_lock lock(drawing);
  DrawingOptions how;
  how.theme = theme;
  return {std::async(std::launch::async, [&] { return draw(picture, how); }).get(), "image/svg+xml"};
}

void RigSetupConsole::Inside::set_up_queries() {
  const auto file = [this](const char* path, std::string_view text, const char* kind) {
    queries[path] = [text, kind](const Parameters&) { return Reply{std::string(text), kind}; };
  };
  file("/", page_rig_new_html, "text/html; charset=utf-8");
  file("/console.css", page_css, "text/css; charset=utf-8");
  file("/rig_new.css", page_rig_new_css, "text/css; charset=utf-8");
  file("/rig_new.js", page_rig_new, "text/javascript; charset=utf-8");
  file("/stock.js", page_stock, "text/javascript; charset=utf-8");
  file("/stock.css", page_stock_css, "text/css; charset=utf-8");
  queries["/rig.svg"] = [this](const Parameters& asked) {
    return drawn(session.picture(viewer_in(asked)), theme_in(asked));
  };
  queries["/top.svg"] = [this](const Parameters& asked) {
    return drawn(top_goes_picture(text_in(asked, "goes") == "left", viewer_in(asked).words()), theme_in(asked));
  };
  queries["/api/now"] = [this](const Parameters& asked) { return reply_of(session.now(viewer_in(asked))); };
  queries["/api/sources"] = [this](const Parameters& asked) { return reply_of(session.sources(viewer_in(asked))); };
  queries["/api/stock-file"] = [this](const Parameters& asked) { return reply_of(stock.now(viewer_in(asked))); };
  queries["/api/words"] = [this](const Parameters& asked) { return reply_of(viewer_in(asked).texts.texts()); };
  queries["/api/live-once"] = [this](const Parameters& asked) { return reply_of(session.live(viewer_in(asked))); };
}

void RigSetupConsole::Inside::set_up_commands() {
  commands["/api/source"] = [this](const Json& said) { session.choose(said); };
  commands["/api/leave"] = [this](const Json&) { session.leave(); };
  commands["/api/bring"] = [this](const Json& said) { session.bring(said); };
  commands["/api/stands"] = [this](const Json&) { session.stands(); };
  commands["/api/hands"] = [this](const Json& said) { session.hands_done(said); };
  commands["/api/record"] = [this](const Json& said) { session.record(said); };
  commands["/api/enough"] = [this](const Json&) { session.enough(); };
  commands["/api/tell"] = [this](const Json& said) { session.tell(said); };
  commands["/api/again"] = [this](const Json& said) { session.again(said); };
  commands["/api/without"] = [this](const Json& said) { session.without(said); };
  commands["/api/shop"] = [this](const Json&) { session.keep_shop(); };
  add_stock_commands(stock, commands);
  commands["/api/save"] = [this](const Json& said) { session.save(said); };
}

Reply RigSetupConsole::Inside::query(const std::string& path, const Parameters& parameters) {
  const auto found = queries.find(path);
  if (found == queries.end()) return refusal("not_found", "there is nothing here", "open the page itself", 404);
  return answered(viewer_in(parameters).words(), [&] { return found->second(parameters); });
}

Reply RigSetupConsole::Inside::command(const std::string& path, const Parameters& parameters, const std::string& body) {
  const auto found = commands.find(path);
  if (found == commands.end()) return refusal("not_found", "there is nothing here", "open the page itself", 404);
  const Json said = Json::parse(body, nullptr, false);
  if (!said.is_object()) return refusal("bad_request", "the request is not a JSON object", "load the page again", 400);
  return answered(viewer_in(parameters).words(), [&] {
    try {
      found->second(said);
    } catch (const Json::exception&) {
      return refusal("bad_request", "a value in the request is of the wrong kind", "load the page again", 400);
    }
    return reply_of(session.now(viewer_in(parameters)));
  });
}

std::string RigSetupConsole::Inside::event(const Parameters& parameters, std::uint64_t& news) {
  session.wait(news, setup_beat_s);
  const Viewer viewer = viewer_in(parameters);
  return answered(viewer.words(), [&] { return reply_of(session.live(viewer)); }).body;
}

RigSetupConsole::RigSetupConsole(const RigSetupConsoleOptions& options) : inside_(std::make_unique<Inside>(options)) {}
RigSetupConsole::~RigSetupConsole() = default;

std::vector<std::string> RigSetupConsole::watch_urls() const {
  return {};
}

std::vector<std::string> RigSetupConsole::urls() const {
  return page_urls(inside_->options.address, inside_->options.port, inside_->options.token);
}

}  // namespace counterspot
