#pragma once

#include <cstddef>
#include <optional>
#include <set>
#include <string>

#include "counterspot/files/new_files.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// The questions of a stock's file with what was answered so far, so that they can be left and gone on with, here or
/// elsewhere.
struct StockTold {
  FileAnswers answers;
  std::set<std::string> done;  ///< keys of the questions that are asked no more
  bool changing = false;       ///< the stock that is there is being changed
  std::string written;         ///< the file's text as it was written last
  FileAnswers written_of;      ///< the answers that it was written of
};

/// The first question that is asked; empty: all is said.
std::optional<FileQuestion> question_asked_of(const StockTold& told);

/// An empty answer takes what the question gives for it: its standard, or that there are no more.
/// @throws Error(request, …) as check_stock_answer; "no_answer"; "stock_moved_on" if another question is asked.
void answer_stock(StockTold& told, const std::string& key, const std::string& answer);
/// What was answered is not so; a question of one answer is asked again.
/// @throws Error(request, "stock_moved_on") if there is no such answer.
void take_out_of_stock(StockTold& told, const std::string& key, std::size_t which);
/// For one more answer. @throws Error(request, "stock_moved_on") if there is no such question.
void ask_stock_again(StockTold& told, const std::string& key);

std::string text_of(const StockTold& told);
/// @param where it stood, for messages. @throws Error(request, "bad_kept").
StockTold stock_told_of(const std::string& text, const std::string& where);

/// What is said where an answer was meant for another state of the stock.
Error stock_moved_on();

}  // namespace counterspot
