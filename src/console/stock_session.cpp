#include "console/stock_session.hpp"

#include "report/stock_interview.hpp"

namespace counterspot {

StockSession::StockSession(StockPlace place, std::function<void(const std::filesystem::path&)> use)
    : place_(std::move(place)), use_(std::move(use)) {}

Json StockSession::now(const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  return document_of(stock_standing(place_, viewer.words().language), place_, viewer.words());
}

/// Whoever calls holds the mutex.
StockStanding StockSession::seen_in(const Json& said) {
  StockStanding standing = stock_standing(place_, said.value("language", ""));
  if (said.value("seen", "") != standing.seen) throw stock_moved_on();
  return standing;
}

void StockSession::told_anew(const Json& said, const std::function<void(StockTold&)>& change) {
  const std::scoped_lock lock(mutex_);
  StockStanding standing = seen_in(said);
  if (standing.stage == StockStage::there) throw stock_moved_on();
  change(standing.told);
  keep_stock_told(place_, standing.told);
}

void StockSession::answer(const Json& said) {
  told_anew(said, [&](StockTold& told) { answer_stock(told, said.value("key", ""), said.value("answer", "")); });
}

void StockSession::take_out(const Json& said) {
  const Json which = said.value("which", Json());
  if (!which.is_number_unsigned()) throw stock_moved_on();
  told_anew(said, [&](StockTold& told) { take_out_of_stock(told, said.value("key", ""), which.get<std::size_t>()); });
}

void StockSession::ask_again(const Json& said) {
  told_anew(said, [&](StockTold& told) { ask_stock_again(told, said.value("key", "")); });
}

void StockSession::change(const Json& said) {
  const std::scoped_lock lock(mutex_);
  change_stock(place_, seen_in(said).told, said.value("with_answers", false));
}

void StockSession::leave(const Json& said) {
  const std::scoped_lock lock(mutex_);
  leave_stock(place_, seen_in(said).told);
}

/// A file that was written is used also where the shop's defaults could not be.
void StockSession::write(const Json& said) {
  const std::scoped_lock lock(mutex_);
  const StockStanding standing = seen_in(said);
  try {
    write_stock(place_, standing);
  } catch (const Error&) {
    if (!standing.text.empty() && stock_standing(place_).there == standing.text) use_(place_.file);
    throw;
  }
  use_(place_.file);
}

}  // namespace counterspot
