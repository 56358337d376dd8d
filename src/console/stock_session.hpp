#pragma once

#include <filesystem>
#include <functional>
#include <mutex>
#include <string>

#include "console/page_words.hpp"
#include "counterspot/guide/stock_guide.hpp"

namespace counterspot {

/// The stock's file at the page, one question at a time. What was answered is on the disk, so that reload, restart and
/// another screen go on with it; each command carries what its page had seen of it.
class StockSession {
 public:
  /// @param use is told of a stock that was written or taken.
  StockSession(StockPlace place, std::function<void(const std::filesystem::path&)> use);

  Json now(const Viewer& viewer);
  void answer(const Json& said);
  void take_out(const Json& said);
  void ask_again(const Json& said);
  void change(const Json& said);
  void leave(const Json& said);
  void write(const Json& said);

 private:
  StockStanding seen_in(const Json& said);
  void told_anew(const Json& said, const std::function<void(StockTold&)>& change);

  StockPlace place_;
  std::function<void(const std::filesystem::path&)> use_;
  std::mutex mutex_;
};

}  // namespace counterspot
