#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "console/page_words.hpp"
#include "console/replies.hpp"
#include "console/service.hpp"
#include "console/stock_session.hpp"

namespace counterspot {

/// What the pages of both consoles have in common: what is asked and told, by path, in the viewer's language, and the
/// server. Who derives from it stops serving first when it ends.
class PageService : public Service {
 public:
  Reply query(const std::string& path, const Parameters& parameters) final;
  Reply command(const std::string& path, const Parameters& parameters, const std::string& body) final;
  Reply refusal(const std::string& code, const std::string& message, const std::string& remedy, int status) final;

  /// "http://127.0.0.1:4810/", with the token if there is one; several where it is served at every address.
  std::vector<std::string> urls() const;
  std::vector<std::string> watch_urls() const;  ///< of screens that only look on

 protected:
  explicit PageService(std::string language);  ///< of who has not chosen one

  /// What a command is answered with.
  virtual Json now(const Viewer& viewer) = 0;

  Viewer viewer_in(const Parameters& parameters) const;
  void add_file(const char* path, std::string_view text, const char* kind);
  void add_query(const char* path, const std::function<Reply(const Parameters&, const Viewer&)>& answer);
  void add_document(const char* path, const std::function<Json(const Parameters&, const Viewer&)>& told);
  /// Pango keeps a map of fonts for every thread that draws. The server has a hundred: so each picture has a thread of
  /// its own, one after the other, whose map goes with it.
  void add_picture(const char* path, const std::function<std::string(const Parameters&, const Viewer&)>& drawn,
                   const char* kind = "image/svg+xml");
  void add_command(const char* path, std::function<void(const Json&)> obey);
  /// Its files, what is told of it, and its commands.
  void add_stock(StockSession& stock);

  /// From now on; what serves is loaded by the first. @throws as Console does.
  void serve(const std::string& address, int port, const std::string& token, const std::string& watch_token,
             std::uint64_t most_upload_bytes);
  void stop_serving() { server_.reset(); }

 private:
  std::string language_;
  std::map<std::string, std::function<Reply(const Parameters&, const Viewer&)>> queries_;  // by path
  std::map<std::string, std::function<void(const Json&)>> commands_;
  std::mutex drawing_;  // one picture at a time
  ServerOptions where_;
  std::unique_ptr<PageServer> server_;
};

}  // namespace counterspot
