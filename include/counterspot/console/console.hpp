#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/log/log.hpp"
#include "counterspot/log/signature.hpp"
#include "counterspot/recording/capture.hpp"

namespace counterspot {

struct ConsoleOptions {
  std::filesystem::path rig_file;
  std::filesystem::path shafts_folder;  ///< whose *.toml files are offered as shafts; empty: none
  std::filesystem::path stock_file;     ///< what there is for weights, and where it may go; empty: any mass, anywhere
  std::filesystem::path shop_file;      ///< where a stock that is written at the page is named; empty: beside the rig's
  std::filesystem::path recordings_folder;  ///< where spins are kept; made if it is not there
  std::string source;                       ///< as open_live takes it; empty: no live source, recordings are uploaded
  LiveOptions live;
  std::optional<double> first_speed_rad_s;  ///< of a job's first spin; the later ones are made at that speed
  double spin_s = 10.0;                     ///< how long a spin is recorded
  std::string address = "127.0.0.1";        ///< a numeric address
  int port = 0;                             ///< 0: any free one
  std::string token;                        ///< needed on an address that is not a loopback one
  std::string watch_token;                  ///< of screens that only look on; empty: there are none
  std::optional<SigningKey> key;            ///< signs each job that is closed here
  std::filesystem::path practice_control;   ///< of the simulated rig: the page may run its drive and fit its weights
  std::uint64_t most_upload_bytes = std::uint64_t{1} << 30;
  std::string language = "en";  ///< of the page, until somebody there chooses another
  std::string program;          ///< what entries are signed with
};

/// The page at the rig: a job one instruction at a time, with live values, served on loopback.
///
/// Threads. The capturing thread owns the source and hands blocks through a bounded queue (LiveRecording). The
/// recorder's thread takes them, follows tach and order 1, and writes the file of a spin; what it knows lies in one
/// value under one mutex. The recording queue's thread measures a finished recording and enters it into the log. The
/// server's threads answer; whatever concerns the log is done under the job session's mutex. The session asks the
/// recorder for a spin under both mutexes, the session's first; nobody takes them the other way round. The live stream
/// never waits for the log.
///
/// What serves is a part of its own (libcounterspot_http.so), loaded at the first Console: OpenSSL and the rest that
/// the HTTP library brings along take the loader longer than most commands take.
///
/// Access. Requests must name this server as their host (or any numeric address, if it is bound to one): a name that
/// somebody points here is refused. Whatever changes something must carry the header `X-Counterspot: 1`, must not
/// come from another site, and must state its length. One request per connection, so that nothing that was refused is
/// read on as another request. No name from a client becomes a path; nothing is executed. Who has shown the token is
/// known by a cookie that holds another secret, made anew at each start; wrong tokens have to wait, by address, and
/// take nothing from those who are known. Who has shown the token of those who only look on can change nothing.
///
/// Load. A request is answered once it has arrived (src/console/http/arrivals.hpp), on a thread of its own; connections
/// are bounded in all and for each address, and those of this machine are counted apart from the others'.
class Console {
 public:
  /// Serves from now on. @throws Error(request, …) "needs_token" (another address without a token), "short_token",
  /// "bad_token", "bad_address"; Error(machine, "port_taken"); "no_http" (the part that serves is not installed); what
  /// read_rig and open_live throw.
  Console(Log log, const ConsoleOptions& options);
  Console(const Console&) = delete;
  Console& operator=(const Console&) = delete;
  Console(Console&&) = delete;
  Console& operator=(Console&&) = delete;
  ~Console();  ///< stops serving and capturing

  /// "http://127.0.0.1:4810/", with the token if there is one; several if it is served at every address of the machine.
  std::vector<std::string> urls() const;
  std::vector<std::string> watch_urls() const;  ///< the same for screens that only look on

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

std::string fresh_token();  ///< 128 bits of chance, in letters and figures

}  // namespace counterspot
