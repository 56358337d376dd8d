#pragma once

#include <array>
#include <nlohmann/json.hpp>
#include <string>

#include "counterspot/rig_model/rig_model.hpp"
#include "log/fields_json.hpp"

namespace counterspot {

/// To be raised when the same jobs teach other numbers than before, so that nothing older is taken for them.
inline constexpr int rig_learning_version = 3;

/// What was learnt of a rig as JSON; every number comes back bit for bit.
std::string rig_model_to_json(const RigModel& model);
/// @throws Error(request, "bad_rig_model").
RigModel rig_model_of_json(const std::string& text);

/// Row by row, with the number of rows and of columns first.
template <int Rows, int Columns, int... More>
struct KeptAs<Eigen::Matrix<double, Rows, Columns, More...>> {
  using Matrix = Eigen::Matrix<double, Rows, Columns, More...>;

  static LogJson json(const Matrix& matrix) {
    LogJson json = {matrix.rows(), matrix.cols()};
    for (Eigen::Index row = 0; row < matrix.rows(); ++row)
      for (Eigen::Index column = 0; column < matrix.cols(); ++column) json.push_back(matrix(row, column));
    return json;
  }
  static Matrix value(const LogJson& json) {
    const auto rows = json.at(0).get<Eigen::Index>();
    const auto columns = json.at(1).get<Eigen::Index>();
    if (!is_size(rows, Rows) || !is_size(columns, Columns) ||
        json.size() != 2 + static_cast<std::size_t>(rows * columns))
      throw LogJson::other_error::create(501, "a matrix does not have the size that it states", &json);
    Matrix matrix(rows, columns);
    std::size_t at = 2;
    for (Eigen::Index row = 0; row < rows; ++row)
      for (Eigen::Index column = 0; column < columns; ++column) matrix(row, column) = json.at(at++).get<double>();
    return matrix;
  }

 private:
  static bool is_size(Eigen::Index stated, int wanted) {
    return wanted == Eigen::Dynamic ? stated >= 0 && stated <= 4096 : stated == wanted;
  }
};

/// By their numbers: a log has learnt models of this form.
template <>
struct KeptAs<std::array<Motion, 2>> {
  static LogJson json(const std::array<Motion, 2>& motions) {
    return {static_cast<int>(motions[0]), static_cast<int>(motions[1])};
  }
  static std::array<Motion, 2> value(const LogJson& json) {
    return {static_cast<Motion>(plain_in<int>(json.at(0))), static_cast<Motion>(plain_in<int>(json.at(1)))};
  }
};

void fields(auto& keep, Kind<ShaftDynamics> auto& shaft) {
  keep("mass_kg", shaft.mass_kg);
  keep("stiffness_N_m", shaft.stiffness_N_m);
  keep("plane_shapes", shaft.plane_shapes);
  keep("heavier_kg", shaft.heavier_kg);
  keep("shifted_kg", shaft.shifted_kg);
  keep("total_kg", shaft.total_kg);
  keep("span_m", shaft.span_m);
  keep("center_fraction", shaft.center_fraction);
  keep("center_stated", shaft.center_stated);
  keep("plane_fractions", shaft.plane_fractions);
}

void fields(auto& keep, Kind<RigLesson> auto& lesson) {
  keep("job", lesson.job);
  keep("at_unix_s", lesson.at_unix_s);
  keep("shaft", lesson.shaft);
  keep("speed_rad_s", lesson.speed_rad_s);
  keep("motions", lesson.motions);
  keep("rows", lesson.rows);
  keep("values", lesson.values);
  keep.if_there("brought_in", lesson.brought_in);
}

}  // namespace counterspot
