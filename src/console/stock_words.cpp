#include "console/stock_words.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "console/words.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

/// Two digits where whole percent would say nothing.
std::string share_words(double ratio, const Viewer& viewer) {
  if (100.0 * ratio < 0.1) return "< " + viewer.number(0.1, 1);
  return viewer.number(100.0 * ratio, 100.0 * ratio < 9.95 ? 1 : 0);
}

std::string proof_words(const StockWay& way, const Viewer& viewer) {
  if (way.fitting == nullptr) return "";
  const bool fewer = way.name == "fewer";
  if (way.fitting->status == FittingStatus::optimal) return viewer.texts(fewer ? "stock_as_good" : "stock_proven");
  return viewer.texts("stock_not_proven", share_words(way.fitting->bound_ratio, viewer));
}

std::string effort_words(const StockWay& way, const Viewer& viewer) {
  const PageWords& texts = viewer.texts;
  if (way.plan == nullptr) return texts("stock_pieces", way.fit.size());
  switch (way.plan->effort) {
    case Effort::slide_one: return texts("stock_slide_one");
    case Effort::slide_two: return texts("stock_slide_two");
    case Effort::swap_one: return texts("stock_swap_one");
    case Effort::add_one: return texts("stock_add_one");
  }
  return "";
}

Json pieces_of_way(const StockWay& way, const StockCorrection& found, const Stock& stock, const KnownJob& known,
                   const Viewer& viewer) {
  const std::vector<Placed>& placed = way.plan != nullptr ? way.plan->added : way.fitting->placed;
  const std::size_t moved = way.fit.size() - placed.size();
  Json list = Json::array();
  for (std::size_t i = 0; i < way.fit.size(); ++i) {
    Json piece = piece_words(way.fit[i], known, found.base, viewer, way.name);
    const std::string work =
        i < moved ? viewer.texts("stock_slide", clock_position(found.on_shaft.at(way.plan->slides[i].fitted).angle_rad,
                                                               known.job.rig().rotation)
                                                    .text())
                  : work_text(stock, placed[i - moved].piece, viewer.units, viewer.words().commands().work);
    piece["what"] = with_decimal_sign(work, viewer.words());
    const double radius_m = known.job.shaft().planes.at(static_cast<std::size_t>(way.fit[i].plane)).radius_m;
    piece["radius"] = way.fit[i].radius_m == radius_m ? "" : fmt::format("{:.2f} mm", 1e3 * way.fit[i].radius_m);
    list.push_back(piece);
  }
  return list;
}

Json taken_off(const StockWay& way, const StockCorrection& found, const KnownJob& known, const Viewer& viewer) {
  Json list = Json::array();
  if (way.plan == nullptr) return list;
  for (const std::size_t piece : way.plan->taken_off)
    list.push_back(piece_words(found.on_shaft.at(piece), known, found.base, viewer, way.name));
  return list;
}

}  // namespace

Json words_of(const StockCorrection& found, const Stock& stock, const KnownJob& known, const Viewer& viewer) {
  Json ways = Json::array();
  for (const StockWay& way : ways_of(found)) {
    ways.push_back({{"way", way.name},
                    {"words", effort_words(way, viewer)},
                    {"off", way.off},
                    {"take_off", taken_off(way, found, known, viewer)},
                    {"fit", pieces_of_way(way, found, stock, known, viewer)},
                    {"left", viewer.texts("stock_leaves", share_words(way.worst_ratio(), viewer))},
                    {"left_ratio", way.worst_ratio()},
                    {"proof", proof_words(way, viewer)}});
  }
  Json left_out = Json::array();
  for (const std::string& kind : found.correction.left_out)
    left_out.push_back(viewer.texts("stock_would_not_hold", kind));
  if (!found.correction.closed.empty())
    left_out.push_back(viewer.texts("stock_closed", fmt::format("{}", fmt::join(found.correction.closed, ", "))));
  return {{"stock", stock.name}, {"ways", ways}, {"notes", left_out}};
}

}  // namespace counterspot
