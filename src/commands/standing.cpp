#include <fmt/format.h>
#include <fmt/ranges.h>

#include <filesystem>

#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/shop.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/guide/guide.hpp"
#include "report/step_words.hpp"

namespace counterspot::commands {

namespace {

std::vector<JobOverview> open_jobs(const std::string& place) {
  try {
    return log_to_read(place).list({"", "", "open", {}, {}});
  } catch (const Error& error) {
    if (error.code() == "no_log") return {};
    throw;
  }
}

std::string open_text(const std::vector<JobOverview>& open, const std::string& place, const ShopWords& texts,
                      const Words& words) {
  const Log log = log_to_read(place);
  const KnownJob known = known_job(log, log.job(open.front().name));
  std::string text = fmt::format(fmt::runtime(texts.jobs), open.size(), open.front().name) + "\n";
  text += step_words(known.next(), known, words).words + "\n";
  return text +
         say(words.commands().next, "counterspot job next" + (open.size() == 1 ? "" : " --job " + open.front().name));
}

}  // namespace

std::string standing_text(const Words& words) {
  const ShopWords& texts = words.commands().shop;
  const std::string place = shop_value("log");
  const auto open = open_jobs(place);
  if (!open.empty()) return open_text(open, place, texts, words) + cautions(words);
  const auto said = [&](const std::string& how, const std::string& next) {
    return fmt::format("{}\n{}{}\n", how, say(words.commands().next, next), texts.commands);
  };
  const std::string rig = shop_value("rig");
  const std::string shafts = shop_value("shafts");
  std::error_code unseen;
  if (rig.empty() && std::filesystem::exists("rig.toml", unseen))
    return said(texts.rig_here, "counterspot shop rig rig.toml");
  if (rig.empty()) return said(texts.no_rig, "counterspot rig new");
  if (shafts.empty()) return said(texts.no_shafts, "counterspot shop shafts .");
  const std::string shaft = newest_shaft_in(shafts);
  if (shaft.empty()) return said(say(texts.no_shaft, shafts), "counterspot shaft new ID");
  const std::string stock = shop_value("stock").empty() ? std::string("\n") + texts.no_stock : "";
  return said(say(texts.no_job, rig, shafts) + stock, "counterspot job open " + shaft);
}

}  // namespace counterspot::commands
