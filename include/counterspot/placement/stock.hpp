#pragma once

#include <filesystem>
#include <limits>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/model/shaft.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot {

/// How a correction gets onto the shaft, or metal off it.
enum class Way { weld, clamp, grind, drill };

/// What a weld bead adds, on average: a fraction of the piece, or a mass, or both.
struct Bead {
  double fraction = 0.0;
  double mass_kg = 0.0;
};

/// A kind of thing in the shop: a washer of one size, a strip to cut from, a clamp with a lump, a drill.
struct StockKind {
  std::string name;
  Way way = Way::weld;
  std::optional<int> count;       ///< how many there are; empty: as many as wanted
  Bead bead;                      ///< of welded pieces
  double radius_offset_m = 0.0;   ///< centre of mass against the plane's radius, outwards
  std::optional<double> holds_N;  ///< pull that a clamp is stated to hold

  std::vector<double>
      masses_kg;         ///< of ready pieces and clamp lumps: the masses to choose from; of grinding: what may be taken
  double band_kg = 0.0;  ///< of a clamp: what goes round evenly and does not act
  double linear_mass_kg_m = 0.0;  ///< of a strip, or ρ·πd²/4 of a drilled hole
  double tip_kg = 0.0;            ///< of a drilled hole: what the drill's point takes beyond the full diameter
  std::vector<double> lengths_m;  ///< of a strip the lengths to cut, of a hole its depths at full diameter
};

/// One piece that can be fitted once, or one cut that can be made.
struct Piece {
  int kind = 0;  ///< index into the stock's kinds
  Way way = Way::weld;
  double acting_kg = 0.0;  ///< at its radius; negative: removed
  double weighed_kg =
      0.0;  ///< what the scale must show: the piece without its bead, a clamp with its band, the swarf; > 0
  double length_m = 0.0;  ///< to cut from a strip, or depth of a hole; 0 if it has none
  double radius_offset_m = 0.0;
};

/// A stretch of a plane's circle where no centre line of a weight may lie: from `from` against rotation to `to`.
struct ForbiddenArc {
  double from_rad = 0.0;
  double to_rad = 0.0;
  std::string why;                        ///< "seam", "yoke ear", "grease fitting"
  bool contains(double angle_rad) const;  ///< the ends belong to it
};

/// Between centre lines where no gap is stated: how long a piece is round the tube is not known then, and what is put
/// closer may not fit beside its neighbour. A washer of 24 mm and a bead beside it (common practice, no source).
inline constexpr double gap_of_unknown_pieces_m = 30e-3;

/// Where weights may go at one plane.
struct PlaneRules {
  std::vector<double> positions_rad;  ///< the only ones; empty: anywhere
  std::vector<ForbiddenArc> forbidden;
  double smallest_gap_m = 0.0;  ///< between centre lines of neighbours, along the surface; 0: not stated
  int most_pieces = 2;          ///< on the plane, with what is there already
  double most_mass_kg = std::numeric_limits<double>::infinity();  ///< the same, sum of weighed masses
  bool closed = false;                                            ///< nothing may be fitted or moved here

  /// What is stated; else none between stated positions, which are places for a piece each.
  double gap_m() const {
    if (smallest_gap_m > 0.0) return smallest_gap_m;
    return positions_rad.empty() ? gap_of_unknown_pieces_m : 0.0;
  }
};

struct Stock {
  std::string name;
  std::vector<StockKind> kinds;
  std::map<std::string, PlaneRules> rules;  ///< by plane; a plane without rules takes the defaults

  const PlaneRules& rules_of(const std::string& plane) const;
};

/// Every different piece that the stock can give, kinds in order and light before heavy.
/// Acting mass of welded pieces = weighed·(1 + bead fraction) + bead mass; of a hole −(ρ·πd²/4·depth + tip).
std::vector<Piece> pieces_of(const Stock& stock);

/// What the point of a drill takes beyond the full diameter: a cone of 118 deg. kg.
double drill_tip_kg(double diameter_m, double density_kg_m3);

/// Reads a stock file, checked against the shaft's planes.
/// @throws Error(request, …) with file and line: "not_found", "bad_toml", "missing_key", "unknown_key", "bad_value",
/// "bad_quantity", "no_such_plane".
Stock read_stock(const std::filesystem::path& path, const Shaft& shaft);

/// The positions that the rules leave at a plane: those stated, or anywhere in steps, less the forbidden arcs.
/// Ascending, [0, 2π).
/// @param step_rad of "anywhere": 1 deg is what a tape resolves on usual tubes.
std::vector<double> open_positions(const PlaneRules& rules, double step_rad = radians(1.0));

}  // namespace counterspot
