#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/files/work_order.hpp"
#include "counterspot/job/job.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/rig/qualification.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/warning.hpp"
#include "units/one_line.hpp"

namespace counterspot {

/// The words that all documents are made of: each thing has one form in JSON, whoever tells of it. Keys are in
/// snake_case and end in their unit, in the order in which a person would tell it.
using Json = nlohmann::ordered_json;

/// null where nothing is known.
template <typename T>
Json or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}
Json scaled_or_null(const std::optional<double>& value, double factor);
Json gmm_or_null(const std::optional<double>& unbalance_kg_m);
Json rpm_or_null(const std::optional<double>& speed_rad_s);
Json time_or_null(const std::optional<std::int64_t>& unix_s);
Json text_or_null(const std::string& text);  ///< null if empty

Json json_of(const Warnings& warnings);
Json json_of(const std::vector<SaidReason>& held_back);
Json json_of(const Error& error);

/// Where on the shaft: angle_deg, clock, arc_mm, arc_direction.
Json json_of(const Spot& spot);
/// A weight that is, or is to be, on the shaft: plane, mass_g, radius_mm, angle_deg.
Json json_of(const FittedWeight& weight, const Shaft& shaft);
Json json_of(const std::vector<FittedWeight>& weights, const Shaft& shaft);

/// Each place with its residual, limit and verdict. @param u_known false: the residual has no uncertainty.
Json held_json(const std::vector<Held>& held, bool u_known = true);

/// Every key of [order], null where nobody stated it.
Json json_of(const WorkOrder& order);

/// What was judged of a rig: place, verdict, measured, allowed, words.
Json json_of(const std::vector<RigFinding>& findings);
Json json_of(const Qualification& result);

/// 1 for a whole order, 0.5 for another.
Json order_json(double order);

}  // namespace counterspot
