#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

Limits typed_limits(const Shaft& shaft) {
  Limits limits;
  for (const auto& [name, limit] : shaft.limits_kg_m) {
    auto same = [&name = name](const Plane& plane) { return plane.name == name; };
    if (std::none_of(shaft.planes.begin(), shaft.planes.end(), same)) {
      throw Error(Trouble::request, "no_such_plane",
                  fmt::format("there is a limit for plane '{}', which the shaft does not have", name),
                  "give limits for the planes that [[plane]] names");
    }
  }
  for (const Plane& plane : shaft.planes) {
    auto limit = shaft.limits_kg_m.find(plane.name);
    if (limit == shaft.limits_kg_m.end())
      limits.without.push_back(plane.name);
    else
      limits.planes.push_back({plane.name, limit->second});
  }
  if (!limits.without.empty()) {
    limits.warnings.push_back({WarningCode::limit_missing, std::nullopt,
                               fmt::format("limits are typed, and plane {} has none, so nothing can be said of it",
                                           fmt::join(limits.without, ", "))});
  }
  return limits;
}

/// The plane nearer to support A along the axis is shown with A's limit, the other with B's.
std::vector<PlaneLimit> limits_of_two_planes(const Shaft& shaft, double limit_a, double limit_b) {
  bool first_is_a = true;
  if (shaft.supports) {
    double towards_b = shaft.supports->b_m > shaft.supports->a_m ? 1.0 : -1.0;
    first_is_a = towards_b * (shaft.planes[0].position_m - shaft.planes[1].position_m) <= 0.0;
  }
  return {{shaft.planes[0].name, first_is_a ? limit_a : limit_b},
          {shaft.planes[1].name, first_is_a ? limit_b : limit_a}};
}

/// Each piece weighs as its length, and its two ends share its part of the total alike (common practice, no source: the
/// standard's shares are for one rigid rotor between two bearings).
std::vector<SupportLimit> limits_of_two_pieces(const Supports& supports, double total) {
  const double first = (*supports.c_m - supports.a_m) / (supports.b_m - supports.a_m);
  return {{Support::a, 0.5 * first * total}, {Support::c, 0.5 * total}, {Support::b, 0.5 * (1.0 - first) * total}};
}

Error missing(const Shaft& shaft, const char* code, const char* what, const char* remedy) {
  return {Trouble::request, code,
          fmt::format("grade {} needs {}, and shaft {} does not give it", shaft.grade, what, shaft.id), remedy};
}

Shares shares_of(const Shaft& shaft, std::optional<double> share_a, Warnings& warnings) {
  if (share_a) {
    if (!(*share_a >= 0.3 && *share_a <= 0.7)) {
      throw Error(Trouble::request, "bad_share", fmt::format("a share of {} for end A is outside 0.3 to 0.7", *share_a),
                  "give a share from 0.3 to 0.7 (ISO 21940-11), or type the limit of each plane");
    }
    return {*share_a, 1.0 - *share_a, false};
  }
  if (!shaft.supports) return {};
  Shares shares = shares_between_supports(*shaft.supports);
  if (shares.bounded) {
    warnings.push_back(
        {WarningCode::share_bounded, std::nullopt,
         fmt::format(
             "the centre of mass lies so near one support that the shares were kept at {:.1f} and {:.1f} of the whole",
             shares.a, shares.b)});
  }
  return shares;
}

}  // namespace

Limits limits_of(const Shaft& shaft, std::optional<double> share_a) {
  if (!shaft.limits_kg_m.empty()) return typed_limits(shaft);
  if (shaft.grade.empty()) {
    throw Error(Trouble::request, "no_limit", fmt::format("shaft {} has neither a grade nor limits", shaft.id),
                "write grade = \"G16\" or limit = { A = \"40 g·mm\", B = \"40 g·mm\" } under [shaft]");
  }
  if (!shaft.mass_kg) throw missing(shaft, "no_mass", "a mass", "write mass = \"14.6 kg\" under [shaft]");
  if (!shaft.service_speed_rad_s) {
    throw missing(shaft, "no_service_speed", "a service speed", "write service_speed = \"3200 rpm\" under [shaft]");
  }
  Limits limits;
  double grade = grade_m_s(shaft.grade);
  double total = permissible_unbalance_kg_m(grade, *shaft.mass_kg, *shaft.service_speed_rad_s);
  Shares shares = shares_of(shaft, share_a, limits.warnings);
  limits.grade = shaft.grade;
  limits.total_kg_m = total;
  limits.specific_m = grade / *shaft.service_speed_rad_s;
  if (shaft.planes.size() == 2) limits.planes = limits_of_two_planes(shaft, total * shares.a, total * shares.b);
  if (shaft.planes.size() == 1) limits.planes = {{shaft.planes[0].name, total}};
  if (shaft.supports) limits.supports = {{Support::a, total * shares.a}, {Support::b, total * shares.b}};
  if (shaft.supports && shaft.supports->c_m) limits.supports = limits_of_two_pieces(*shaft.supports, total);
  return limits;
}

std::optional<double> limit_of(const Limits& limits, std::string_view plane) {
  for (const PlaneLimit& limit : limits.planes)
    if (limit.name == plane) return limit.limit_kg_m;
  return std::nullopt;
}

}  // namespace counterspot
