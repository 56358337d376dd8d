#pragma once

#include <string>
#include <string_view>

namespace counterspot {

/// What carries a shaft: A and B at its ends, C in the middle of one of two pieces.
enum class Support { a, b, c };
std::string_view support_name(Support support);  ///< "A", "B", "C"

/// Where residual unbalance is held against a limit.
struct HeldPlace {
  enum class Kind { plane, support, mode };
  std::string name;  ///< of the plane; "A", "B" or "C"; the mode's number, from 1
  Kind kind = Kind::plane;

  std::string text() const;       ///< "A", "support A", "mode 1": as documents and the log have it
  std::string with_kind() const;  ///< "plane A", "support A", "mode 1": as people read it
  bool operator==(const HeldPlace&) const = default;
};
HeldPlace at_support(Support support);
HeldPlace at_mode(std::size_t number);
/// From its text. A plane that is called "support A" is not told from that support.
HeldPlace place_of(const std::string& text);

/// Permissible residual unbalance at a plane and at a support.
struct PlaneLimit {
  std::string name;
  double limit_kg_m = 0.0;
};
struct SupportLimit {
  Support support = Support::a;
  double limit_kg_m = 0.0;
};

}  // namespace counterspot
