#include "counterspot/console/rig_setup_console.hpp"

#include "console/assets.hpp"
#include "console/page_service.hpp"
#include "console/rig_setup_session.hpp"
#include "console/stock_session.hpp"
#include "counterspot/drawing/drawing_rig_setup.hpp"

namespace counterspot {

namespace {

constexpr double setup_beat_s = 0.5;
constexpr std::uint64_t most_setup_bytes = 1 << 16;  // of a request

}  // namespace

struct RigSetupConsole::Inside final : public PageService {
  explicit Inside(const RigSetupConsoleOptions& options);
  Inside(const Inside&) = delete;
  Inside& operator=(const Inside&) = delete;
  Inside(Inside&&) = delete;
  Inside& operator=(Inside&&) = delete;
  ~Inside() override { stop_serving(); }

  std::unique_ptr<Arriving> upload() override { return nullptr; }  // all recordings are made here
  std::string event(const Parameters& parameters, std::uint64_t& news) override;
  Json now(const Viewer& viewer) override { return session.now(viewer); }

  void set_up_queries();
  void set_up_commands();

  RigSetupSession session;
  StockSession stock;
};

RigSetupConsole::Inside::Inside(const RigSetupConsoleOptions& options)
    : PageService(options.language),
      session(options),
      stock(stock_place({}, options.folder / "shop.toml"), [](const auto&) {}) {
  set_up_queries();
  set_up_commands();
  serve(options.address, options.port, options.token, "", most_setup_bytes);
}

void RigSetupConsole::Inside::set_up_queries() {
  add_file("/", page_rig_new_html, "text/html; charset=utf-8");
  add_file("/rig_new.css", page_rig_new_css, "text/css; charset=utf-8");
  add_file("/rig_new.js", page_rig_new, "text/javascript; charset=utf-8");
  add_picture("/rig.svg", [this](const Parameters& asked, const Viewer& viewer) {
    return drawn(session.picture(viewer), theme_in(asked));
  });
  add_picture("/top.svg", [](const Parameters& asked, const Viewer& viewer) {
    return drawn(top_goes_picture(text_in(asked, "goes") == "left", viewer.words()), theme_in(asked));
  });
  add_document("/api/now", [this](const auto&, const Viewer& viewer) { return session.now(viewer); });
  add_document("/api/sources", [this](const auto&, const Viewer& viewer) { return session.sources(viewer); });
  add_document("/api/live-once", [this](const auto&, const Viewer& viewer) { return session.live(viewer); });
}

void RigSetupConsole::Inside::set_up_commands() {
  add_command("/api/source", [this](const Json& said) { session.choose(said); });
  add_command("/api/leave", [this](const Json&) { session.leave(); });
  add_command("/api/bring", [this](const Json& said) { session.bring(said); });
  add_command("/api/stands", [this](const Json&) { session.stands(); });
  add_command("/api/hands", [this](const Json& said) { session.hands_done(said); });
  add_command("/api/record", [this](const Json& said) { session.record(said); });
  add_command("/api/enough", [this](const Json&) { session.enough(); });
  add_command("/api/tell", [this](const Json& said) { session.tell(said); });
  add_command("/api/again", [this](const Json& said) { session.again(said); });
  add_command("/api/without", [this](const Json& said) { session.without(said); });
  add_command("/api/shop", [this](const Json&) { session.keep_shop(); });
  add_stock(stock);
  add_command("/api/save", [this](const Json& said) { session.save(said); });
}

std::string RigSetupConsole::Inside::event(const Parameters& parameters, std::uint64_t& news) {
  session.wait(news, setup_beat_s);
  const Viewer viewer = viewer_in(parameters);
  return answered(viewer.words(), [&] { return reply_of(session.live(viewer)); }).body;
}

RigSetupConsole::RigSetupConsole(const RigSetupConsoleOptions& options) : inside_(std::make_unique<Inside>(options)) {}
RigSetupConsole::~RigSetupConsole() = default;

std::vector<std::string> RigSetupConsole::watch_urls() const {
  return inside_->watch_urls();
}

std::vector<std::string> RigSetupConsole::urls() const {
  return inside_->urls();
}

}  // namespace counterspot
