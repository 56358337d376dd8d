#include "counterspot/solve/adapters.hpp"

#include <nlohmann/json.hpp>

#include "algebra/pseudo_inverse.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

using Json = nlohmann::ordered_json;

/// What reaches A and B of a unit at each plane: 2×P.
Eigen::Matrix2Xd levers(const Shaft& shaft) {
  if (!shaft.supports) {
    throw Error(Trouble::request, "no_supports", "shaft '" + shaft.id + "' has no supports, where the adapters sit",
                "add [supports] with A and B");
  }
  Supports ends = *shaft.supports;
  ends.c_m.reset();
  Eigen::Matrix2Xd lever(2, static_cast<Eigen::Index>(shaft.planes.size()));
  for (Eigen::Index p = 0; p < lever.cols(); ++p) {
    const double position_m = shaft.planes[static_cast<std::size_t>(p)].position_m;
    lever.col(p) << lever_to_support(ends, Support::a, position_m), lever_to_support(ends, Support::b, position_m);
  }
  return lever;
}

/// The same for (Re, Im) of each.
Eigen::MatrixXd of_parts(const Eigen::MatrixXd& lever) {
  Eigen::MatrixXd parts = Eigen::MatrixXd::Zero(2 * lever.rows(), 2 * lever.cols());
  for (Eigen::Index i = 0; i < lever.rows(); ++i) {
    for (Eigen::Index k = 0; k < lever.cols(); ++k)
      parts.block<2, 2>(2 * i, 2 * k) = lever(i, k) * Eigen::Matrix2d::Identity();
  }
  return parts;
}

}  // namespace

Adapters adapters_at_supports(const AdapterShare& share, const Shaft& shaft) {
  const Eigen::MatrixXd lever = levers(shaft);
  Adapters adapters;
  for (Eigen::Index i = 0; i < 2; ++i) {
    for (Eigen::Index p = 0; p < lever.cols(); ++p)
      adapters.unbalance_kg_m[static_cast<std::size_t>(i)] +=
          lever(i, p) * share.unbalance_kg_m[static_cast<std::size_t>(p)];
  }
  const Eigen::MatrixXd parts = of_parts(lever);
  adapters.covariance = parts * share.covariance * parts.transpose();
  return adapters;
}

AdapterShare adapters_in_planes(const Adapters& adapters, const Shaft& shaft) {
  const Eigen::MatrixXd lever = levers(shaft);
  if (lever.cols() < 2) {
    throw Error(Trouble::request, "too_few_planes", "adapters at two ends cannot be expressed in one plane",
                "state two planes, or turn the shaft against its adapters");
  }
  const Eigen::MatrixXd inverse = pseudo_inverse(lever);
  AdapterShare share;
  for (Eigen::Index p = 0; p < lever.cols(); ++p)
    share.unbalance_kg_m.push_back(inverse(p, 0) * adapters.unbalance_kg_m[0] +
                                   inverse(p, 1) * adapters.unbalance_kg_m[1]);
  const Eigen::MatrixXd parts = of_parts(inverse);
  share.covariance = parts * adapters.covariance * parts.transpose();
  return share;
}

std::string text_of(const Adapters& adapters) {
  Json covariance = Json::array();
  for (double each : adapters.covariance.reshaped()) covariance.push_back(each);
  Json json = {{"version", 1}, {"covariance_kg2_m2", covariance}};
  for (std::size_t i : {0U, 1U})
    json[i == 0 ? "A_kg_m" : "B_kg_m"] = {adapters.unbalance_kg_m[i].real(), adapters.unbalance_kg_m[i].imag()};
  return json.dump();
}

Adapters adapters_of(const std::string& text) {
  try {
    const Json json = Json::parse(text);
    Adapters adapters;
    for (std::size_t i : {0U, 1U}) {
      const Json& parts = json.at(i == 0 ? "A_kg_m" : "B_kg_m");
      adapters.unbalance_kg_m[i] = {parts.at(0).get<double>(), parts.at(1).get<double>()};
    }
    for (Eigen::Index i = 0; i < 16; ++i)
      adapters.covariance.reshaped()(i) = json.at("covariance_kg2_m2").at(static_cast<std::size_t>(i)).get<double>();
    return adapters;
  } catch (const nlohmann::json::exception& error) {
    throw Error(Trouble::request, "bad_record",
                std::string("the record of the adapters cannot be read: ") + error.what(),
                "find the adapters' share again with 'solve --keep-adapters'");
  }
}

}  // namespace counterspot
