#include "files/standing_files.hpp"

#include <system_error>
#include <utility>

namespace counterspot {

bool StandingFiles::told(const std::string& file) const {
  const auto seen = seen_.find(file);
  return seen != seen_.end() && seen->second.ready;
}

void StandingFiles::look_at(const std::string& file, double now_s, Seen& seen, Look& look) const {
  std::error_code trouble;
  const std::uintmax_t bytes = std::filesystem::file_size(file, trouble);
  const auto at = trouble ? seen.at : std::filesystem::last_write_time(file, trouble);
  if (trouble) return;  // gone again, or not to be read now
  const bool first = seen.at == std::filesystem::file_time_type{};
  const bool moved = !first && (bytes != seen.bytes || at != seen.at);
  if (first || moved) {
    seen.bytes = bytes;
    seen.at = at;
    seen.since_s = now_s;
  }
  const bool still = !moved && now_s - seen.since_s >= still_s_;
  if (seen.ready) {
    if (moved && !std::exchange(seen.changed, true)) look.changed.push_back(file);
  } else if (still && bytes > 0) {
    seen.ready = true;
    look.ready.push_back(file);
  } else if ((moved || still) && !std::exchange(seen.growing, true)) {
    look.growing.push_back(file);
  }
}

StandingFiles::Look StandingFiles::look(const std::vector<std::string>& files, double now_s) {
  Look look;
  std::map<std::string, Seen> there;
  for (const std::string& file : files) {
    Seen& seen = there.emplace(file, seen_[file]).first->second;
    look_at(file, now_s, seen, look);
  }
  seen_ = std::move(there);
  return look;
}

}  // namespace counterspot
