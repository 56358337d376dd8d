#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace counterspot {

/// Tells of files that arrive when they are whole: who copies or records one does not say when he is done, but size and
/// time of last change then stand still.
class StandingFiles {
 public:
  /// @param still_s how long they must, >= 0.
  explicit StandingFiles(double still_s) : still_s_(still_s) {}

  struct Look {
    std::vector<std::string> ready;    ///< have stood still so long, and hold something; each is told once
    std::vector<std::string> growing;  ///< seen to change, or empty for so long; each is told once
    std::vector<std::string> changed;  ///< were told as ready, and have changed since; each is told once
  };
  /// @param files that are there now; others are forgotten. @param now_s of a clock that only goes forward.
  Look look(const std::vector<std::string>& files, double now_s);

  bool told(const std::string& file) const;  ///< as ready

 private:
  struct Seen {
    std::uintmax_t bytes = 0;
    std::filesystem::file_time_type at = {};
    double since_s = 0.0;
    bool ready = false, growing = false, changed = false;  ///< told as such
  };
  void look_at(const std::string& file, double now_s, Seen& seen, Look& look) const;

  double still_s_;
  std::map<std::string, Seen> seen_;
};

}  // namespace counterspot
