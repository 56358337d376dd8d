#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "counterspot/recording/capture.hpp"

namespace counterspot {

struct RigSetupConsoleOptions {
  std::filesystem::path
      folder;          ///< of rig.toml that is to be, of what was told and of the recordings; made if not there
  std::string source;  ///< as open_live takes it; empty: it is chosen at the page, or was
  LiveOptions live;
  std::string address = "127.0.0.1";  ///< a numeric address
  int port = 0;                       ///< 0: any free one
  std::string token;                  ///< needed on an address that is not a loopback one
  std::string language = "en";        ///< until somebody at the page chooses another
};

/// The page of a rig that has no file yet: what `rig new` asks, one instruction at a time, with bars of all channels;
/// first of all where the samples come from, of the sound devices and pipes there are;
/// it goes on where page or command stopped. Hands are sent nowhere before somebody has said that all stands, and while
/// channels show more than at rest, or the tach a turning shaft. Threads, access and load are as of Console: the
/// source's thread takes samples, another finds what a recording shows, the server's answer; all meet in one mutex.
class RigSetupConsole {
 public:
  /// Serves from now on. @throws as Console does; Error(request, "bad_kept").
  explicit RigSetupConsole(const RigSetupConsoleOptions& options);
  RigSetupConsole(const RigSetupConsole&) = delete;
  RigSetupConsole& operator=(const RigSetupConsole&) = delete;
  RigSetupConsole(RigSetupConsole&&) = delete;
  RigSetupConsole& operator=(RigSetupConsole&&) = delete;
  ~RigSetupConsole();

  std::vector<std::string> urls() const;        ///< as of Console
  std::vector<std::string> watch_urls() const;  ///< none

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace counterspot
