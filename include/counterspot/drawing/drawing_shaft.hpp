#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/words.hpp"
#include "counterspot/influence/influence.hpp"
#include "counterspot/placement/placement.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/shaft/straightness.hpp"

namespace counterspot {

/// Pictures of the shaft itself: where weights sit and what is still out of balance. All directions are as on the
/// clock: the mark at 12:00, clockwise as the observer at the named end sees the shaft.

/// Numerals that the operator acts on: 16 minutes of arc at two metres, the least that ISO 9241-303 has for reading.
inline constexpr double numeral_mm = 9.3;

/// Whole: by itself on a wall or a screen. Small: on a sheet, beside a table that says the rest; pieces and spins then
/// carry the numbers of their rows.
enum class Detail { whole, small };

enum class PieceState { on_shaft, to_fit, to_remove };

/// One weight on a clock face.
struct FacePiece {
  PieceState state = PieceState::to_fit;
  double mass_kg = 0.0;    ///< ≥ 0; of metal to remove or removed too
  double angle_rad = 0.0;  ///< shaft angle
  bool removed = false;    ///< metal taken off (on_shaft) or to take off
  int number = 0;          ///< of its row in a table
  std::string what = {};   ///< which piece of the stock it is
};

/// One plane of the shaft, seen from one end.
struct ClockFace {
  std::string plane;
  std::string end = "A";                     ///< where the observer stands
  Rotation rotation = Rotation::clockwise;   ///< as seen from there
  std::optional<double> outside_diameter_m;  ///< for lengths by tape
  double along = 0.0;                        ///< the plane's place: 0 at end A, 1 at end B
  std::vector<FacePiece> pieces;
  std::vector<ForbiddenArc> forbidden;
  UnitSystem units = UnitSystem::metric;
};

/// Where to put the weights of one plane, 224 × 150 mm; small 120 × 128 mm.
Picture clock_picture(const ClockFace& face, const Words& words = english(), Detail detail = Detail::whole);

/// What was out of balance at one plane in one spin.
struct SpinVector {
  std::string label;
  Phasor unbalance_kg_m;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (Re, Im), (kg·m)²; zero: unknown
};

struct VectorDiagram {
  std::string plane;
  std::string end = "A";
  Rotation rotation = Rotation::clockwise;  ///< as seen from that end
  std::optional<double> limit_kg_m;
  std::vector<SpinVector> spins;  ///< in the order they were made; the last one is now
  UnitSystem units = UnitSystem::metric;
  /// What the full radius stands for, and that of the lens; empty: what this diagram needs.
  std::optional<double> full_kg_m = {};
  std::optional<double> lens_kg_m = {};
};

/// Diagrams that are looked at side by side: the same length means the same unbalance.
void bring_to_one_scale(std::vector<VectorDiagram>& diagrams);

/// The region that holds the end of a vector in 95 of 100 cases: the ellipse of k = 2.45 (JCGM 102:2011, 6.5.2.3).
inline constexpr double coverage_of_vector = 2.45;

/// Unbalance of all spins at one plane, with limit circle and the last spin's ellipse, 224 × 150 mm; small 160 × 160
/// mm. If the last spin is too small to be seen, a lens shows it with the limit, larger.
Picture vector_picture(const VectorDiagram& diagram, const Words& words = english(), Detail detail = Detail::whole);

/// How large the residual at each place was over its limit, spin after spin, in equal ratios, with ± of 95 %; 224 × 140
/// mm. Diagrams without a limit are left out.
Picture residuals_picture(const std::vector<VectorDiagram>& diagrams, const Words& words = english());

/// What every spin of a set was out of balance at every plane: α⁺ Z_k, [plane][spin], with the reading's own covariance
/// carried through. @param coefficients as in InfluenceSummary.
std::vector<std::vector<SpinVector>> unbalance_of_spins(const std::vector<SpinReading>& spins,
                                                        const std::vector<CoefficientEstimate>& coefficients);

/// Dial readings along the tube: indicator totals against their limit, the side of the bow, where to press, 240 × 176
/// mm.
struct TubeView {
  StraightnessSummary straightness;
  double indicator_limit_m = common_indicator_limit_m;
  double from_m = 0.0;  ///< the tube's ends
  double to_m = 0.0;
  std::string end = "A";
  std::optional<Rotation> rotation;  ///< as seen from that end; empty: shaft angles are shown, running clockwise
  UnitSystem units = UnitSystem::metric;
};
Picture straightness_picture(const TubeView& view, const Words& words = english());

}  // namespace counterspot
