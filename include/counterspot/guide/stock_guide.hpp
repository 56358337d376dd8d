#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "counterspot/files/stock_told.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// A shop's stock, on the disk: its file, what was answered for it, which lies beside it ("stock.setup.json"), and the
/// shop's defaults that name it. Command and page take this one way.

struct StockPlace {
  std::filesystem::path file;       ///< of the stock, whether it is there or is to be
  std::filesystem::path shop_file;  ///< with the shop's defaults, whether it is there or is to be
};

/// Where a stock belongs. @param known the stock's file, if one is known; empty: none is.
StockPlace stock_place(const std::filesystem::path& known, const std::filesystem::path& shop_file);

enum class StockStage {
  there,   ///< a stock's file is there, and is not being changed
  asking,  ///< questions are open
  shown,   ///< all is said, and the file that comes of it is not written yet
};

struct StockStanding {
  StockStage stage = StockStage::asking;
  StockTold told;
  std::optional<FileQuestion> next;  ///< while questions are open
  std::string text;                  ///< of the file that comes of the answers, once all is said
  std::optional<Error> trouble;      ///< why none comes of them
  std::string there;                 ///< of the file that is there
  bool by_hand = false;              ///< it is not as it was written of answers
  std::filesystem::path kept_as;     ///< what is there would be kept under this name
  bool is_shops = false;             ///< the shop's defaults name it
  std::string seen;                  ///< stands for all of this: what was meant for another state is refused
};
/// @param language of the file that comes of the answers.
/// @throws Error(request, …) "bad_kept", "too_long", "not_found", and of a shop file that is wrong.
StockStanding stock_standing(const StockPlace& place, const std::string& language = "en");

/// @throws as write_output.
void keep_stock_told(const StockPlace& place, const StockTold& told);
/// After a stock was written of these answers, here or by a command. @throws as write_output.
void keep_stock_answers(const std::filesystem::path& file, const FileAnswers& answers, const std::string& text);

/// Begins to change the stock that is there, with its answers or without any. @throws as write_output.
void change_stock(const StockPlace& place, StockTold told, bool with_answers);
/// Leaves it as it is. @throws as write_output.
void leave_stock(const StockPlace& place, StockTold told);

/// Writes the file that comes of the answers, or takes the one that is there; the shop's defaults name it from then on,
/// unless they name another. A file that is there is kept under another name, never written over.
/// @throws as read_stock_text and write_output; Error(request, "file_exists") if one was made meanwhile.
void write_stock(const StockPlace& place, const StockStanding& standing);

}  // namespace counterspot
