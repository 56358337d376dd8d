#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "counterspot/placement/fitting.hpp"
#include "counterspot/placement/placement.hpp"

namespace counterspot {

/// In which units the shop reads its tape and its scale. The numbers behind them are the same.
enum class UnitSystem { metric, inch };

/// "1 7/16 in", "3/8 in", "0 in": to the nearest sixteenth, as on the tape.
std::string inches_text(double length_m);

/// "37 mm", or inches to 1/16.
std::string tape_text(double length_m, UnitSystem units);
/// "17.9 g", or "0.63 oz".
std::string mass_text(double mass_kg, UnitSystem units);
/// "92 N (21 lbf)", the leading unit that of the system; both always, for stated holds come in either.
std::string force_text(double force_N, UnitSystem units);

/// A place on the tube, in every way that an operator can find it.
struct Spot {
  double angle_rad = 0.0;        ///< shaft angle, [0, 2π)
  ClockPosition clock;           ///< as read at the end named
  std::optional<ArcLength> arc;  ///< if the tube's diameter is known
};
Spot spot_at(double angle_rad, Rotation rotation_at_end, std::optional<double> outside_diameter_m);

/// How a piece is made and fitted, in one language; {} is where lengths, names and masses go.
struct WorkWords {
  const char* cut = "cut {} of {}, it must weigh {}{}";
  const char* weld = "weld {}, it must weigh {}{}";
  const char* bead = "; the bead adds about {}";  ///< the end of both
  const char* clamp = "clamp {}, its lump {} (with its band {} on the scale)";
  const char* grind = "grind off {} ({}), weigh the dust or the shaft";
  const char* drill = "drill {} deep at full diameter with {}, the chips weigh {}";
};

/// What to take and what to weigh: "cut 38 mm of strip 20 x 3, it must weigh 17.9 g; the bead adds about 0.7 g".
std::string work_text(const Stock& stock, const Piece& piece, UnitSystem units, const WorkWords& words = {});

/// Reads what a tape showed: "37 mm with rotation", "1 7/16 in against rotation", "2.5 in against".
/// @throws Error(request, "bad_arc").
ArcLength parse_arc(std::string_view text);

/// Reads "4:37". @throws Error(request, "bad_clock").
ClockPosition parse_clock(std::string_view text);

}  // namespace counterspot
