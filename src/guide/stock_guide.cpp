#include "counterspot/guide/stock_guide.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/files/shop.hpp"
#include "files/output_file.hpp"
#include "files/text_file.hpp"
#include "guide/kept_beside.hpp"
#include "log/sha256.hpp"

namespace counterspot {

namespace {

constexpr std::size_t most_stock_bytes = std::size_t{1} << 20U;

std::string text_if_there(const std::filesystem::path& file) {
  std::error_code unseen;
  return std::filesystem::exists(file, unseen) ? text_of_file(file, most_stock_bytes) : "";
}

StockTold stock_told_beside(const std::filesystem::path& file) {
  const std::filesystem::path kept = kept_beside(file);
  const std::string text = text_if_there(kept);
  return text.empty() ? StockTold{} : stock_told_of(text, kept.string());
}

/// "stock.before-2.toml": the first that is free.
std::filesystem::path free_name_beside(const std::filesystem::path& file) {
  std::filesystem::path name = file;
  std::error_code unseen;
  for (int n = 1; name == file || std::filesystem::exists(std::filesystem::symlink_status(name, unseen)); ++n)
    name.replace_filename(fmt::format("{}.before-{}{}", file.stem().string(), n, file.extension().string()));
  return name;
}

/// As an absolute path; empty: none.
std::filesystem::path shops_stock(const std::filesystem::path& shop_file) {
  std::error_code unseen;
  if (!std::filesystem::exists(shop_file, unseen)) return {};
  const auto stated = read_shop(shop_file);
  const auto found = std::ranges::find(stated, "stock", &ShopValue::key);
  return found == stated.end() ? std::filesystem::path() : std::filesystem::path(found->value);
}

void make_shops(const StockPlace& place) {
  if (!shops_stock(place.shop_file).empty()) return;
  state_in_shop(place.shop_file, "stock", place.file.lexically_proximate(place.shop_file.parent_path()).string());
}

/// Every question of it is answered or was left out.
void close_questions(StockTold& told) {
  for (const FileQuestion& question : stock_questions()) told.done.insert(question.key);
}

}  // namespace

StockPlace stock_place(const std::filesystem::path& known, const std::filesystem::path& shop_file) {
  const std::filesystem::path shop = std::filesystem::absolute(shop_file).lexically_normal();
  return {known.empty() ? shop.parent_path() / "stock.toml" : std::filesystem::absolute(known).lexically_normal(),
          shop};
}

StockStanding stock_standing(const StockPlace& place, const std::string& language) {
  StockStanding standing;
  standing.told = stock_told_beside(place.file);
  standing.there = text_if_there(place.file);
  standing.seen = sha256_of(text_of(standing.told) + '\0' + standing.there);
  standing.by_hand = !standing.there.empty() && standing.there != standing.told.written;
  standing.kept_as = free_name_beside(place.file);
  standing.is_shops = shops_stock(place.shop_file) == place.file;
  if (!standing.there.empty() && !standing.told.changing) {
    standing.stage = StockStage::there;
    return standing;
  }
  standing.next = question_asked_of(standing.told);
  if (standing.next) return standing;
  standing.stage = StockStage::shown;
  try {
    standing.text = new_stock_text(standing.told.answers, language);
    read_stock_text(standing.text, place.file);  // never write a file that cannot be read
  } catch (const Error& error) {
    standing.text.clear();
    standing.trouble = error;
  }
  return standing;
}

void keep_stock_told(const StockPlace& place, const StockTold& told) {
  write_output(kept_beside(place.file), text_of(told), {Overwrite::all, {}});
}

void keep_stock_answers(const std::filesystem::path& file, const FileAnswers& answers, const std::string& text) {
  StockTold told{answers, {}, false, text, answers};
  close_questions(told);
  keep_stock_told({file, {}}, told);
}

void change_stock(const StockPlace& place, StockTold told, bool with_answers) {
  told.changing = true;
  told.answers = with_answers ? told.written_of : FileAnswers{};
  told.done.clear();
  if (with_answers) close_questions(told);
  keep_stock_told(place, told);
}

void leave_stock(const StockPlace& place, StockTold told) {
  told.changing = false;
  told.answers = told.written_of;
  keep_stock_told(place, told);
}

void write_stock(const StockPlace& place, const StockStanding& standing) {
  if (standing.stage == StockStage::asking) throw stock_moved_on();
  if (standing.trouble) throw Error(*standing.trouble);
  if (standing.stage == StockStage::there) {
    read_stock_text(standing.there, place.file);
    return make_shops(place);
  }
  if (standing.there.empty()) {
    write_output(place.file, standing.text, {});
  } else if (standing.there != standing.text) {
    write_output(standing.kept_as, standing.there, {});
    write_output(place.file, standing.text, {Overwrite::all, {}});
  }
  keep_stock_answers(place.file, standing.told.answers, standing.text);
  make_shops(place);
}

}  // namespace counterspot
