#include "log/rig_model_json.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <optional>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

using ModelJson = nlohmann::ordered_json;
using Eigen::Index;
using Eigen::MatrixXd;

/// Row by row, with the number of rows first.
ModelJson matrix_json(const MatrixXd& matrix) {
  ModelJson json = {matrix.rows(), matrix.cols()};
  for (Index row = 0; row < matrix.rows(); ++row)
    for (Index column = 0; column < matrix.cols(); ++column) json.push_back(matrix(row, column));
  return json;
}

MatrixXd matrix_in(const ModelJson& json) {
  const auto rows = json.at(0).get<Index>();
  const auto columns = json.at(1).get<Index>();
  if (rows < 0 || columns < 0 || rows > 4096 || columns > 4096 ||
      json.size() != 2 + static_cast<std::size_t>(rows * columns))
    throw ModelJson::other_error::create(501, "a matrix does not have the size that it states", &json);
  MatrixXd matrix(rows, columns);
  std::size_t at = 2;
  for (Index row = 0; row < matrix.rows(); ++row)
    for (Index column = 0; column < matrix.cols(); ++column) matrix(row, column) = json.at(at++).get<double>();
  return matrix;
}

ModelJson shaft_json(const ShaftDynamics& shaft) {
  return {{"mass_kg", matrix_json(shaft.mass_kg)},
          {"stiffness_N_m", matrix_json(shaft.stiffness_N_m)},
          {"plane_shapes", matrix_json(shaft.plane_shapes)},
          {"heavier_kg", matrix_json(shaft.heavier_kg)},
          {"shifted_kg", matrix_json(shaft.shifted_kg)},
          {"total_kg", shaft.total_kg},
          {"span_m", shaft.span_m},
          {"center_fraction", shaft.center_fraction},
          {"center_stated", shaft.center_stated},
          {"plane_fractions", shaft.plane_fractions}};
}

ShaftDynamics shaft_in(const ModelJson& json) {
  ShaftDynamics shaft;
  shaft.mass_kg = matrix_in(json.at("mass_kg"));
  shaft.stiffness_N_m = matrix_in(json.at("stiffness_N_m"));
  shaft.plane_shapes = matrix_in(json.at("plane_shapes"));
  shaft.heavier_kg = matrix_in(json.at("heavier_kg"));
  shaft.shifted_kg = matrix_in(json.at("shifted_kg"));
  shaft.total_kg = json.at("total_kg").get<double>();
  shaft.span_m = json.at("span_m").get<double>();
  shaft.center_fraction = json.at("center_fraction").get<double>();
  shaft.center_stated = json.at("center_stated").get<bool>();
  shaft.plane_fractions = json.at("plane_fractions").get<std::vector<double>>();
  return shaft;
}

}  // namespace

ModelJson rig_lesson_json(const RigLesson& lesson) {
  return {{"job", lesson.job},
          {"at_unix_s", lesson.at_unix_s},
          {"shaft", shaft_json(lesson.shaft)},
          {"speed_rad_s", lesson.speed_rad_s},
          {"motions", {static_cast<int>(lesson.motions[0]), static_cast<int>(lesson.motions[1])}},
          {"rows", matrix_json(lesson.rows)},
          {"values", matrix_json(lesson.values)},
          {"brought_in", lesson.brought_in}};
}

RigLesson rig_lesson_in(const ModelJson& json) {
  const auto motions = json.at("motions").get<std::array<int, 2>>();
  return {json.at("job").get<std::string>(),
          json.at("at_unix_s").get<std::int64_t>(),
          shaft_in(json.at("shaft")),
          json.at("speed_rad_s").get<double>(),
          {static_cast<Motion>(motions[0]), static_cast<Motion>(motions[1])},
          matrix_in(json.at("rows")),
          matrix_in(json.at("values")),
          json.value("brought_in", false)};
}

namespace {

ModelJson known_json(const std::optional<KnownSize>& known) {
  return known ? ModelJson{known->value, known->u} : ModelJson();
}

std::optional<KnownSize> known_in(const ModelJson& json) {
  if (json.is_null()) return std::nullopt;
  return KnownSize{json.at(0).get<double>(), json.at(1).get<double>()};
}

ModelJson pedestals_json(const std::array<KnownPedestal, 2>& pedestals) {
  ModelJson json = ModelJson::array();
  for (const KnownPedestal& each : pedestals)
    json.push_back({{"moving_mass_kg", known_json(each.moving_mass_kg)},
                    {"natural_frequency_Hz", known_json(each.natural_frequency_Hz)}});
  return json;
}

RigModel model_in(const ModelJson& json) {
  RigModel model;
  model.kind = json.at("kind").get<std::string>() == "hard" ? RigKind::hard : RigKind::soft;
  for (std::size_t i = 0; i < 2; ++i) {
    const ModelJson& known = json.at("pedestals").at(i);
    model.pedestals[i] = {known_in(known.at("moving_mass_kg")), known_in(known.at("natural_frequency_Hz"))};
  }
  for (const ModelJson& each : json.at("lessons")) model.lessons.push_back(rig_lesson_in(each));
  model.theta = matrix_in(json.at("theta"));
  model.covariance = matrix_in(json.at("covariance"));
  const auto scatter = json.at("scatter").get<std::array<double, 5>>();
  model.scatter = {scatter[0], scatter[1], scatter[2], scatter[3], scatter[4]};
  for (const ModelJson& each : json.at("steps"))
    model.steps.push_back({each.at("lesson").get<std::size_t>(), each.at("pedestal").get<Index>(),
                           each.at("ln_gain").get<double>(), each.at("gain_rad").get<double>()});
  for (const ModelJson& each : json.at("set_aside"))
    model.set_aside.push_back(
        {each.at("lesson").get<std::size_t>(), each.at("chi_squared").get<double>(), each.at("degrees").get<int>()});
  model.ln_evidence = json.at("ln_evidence").get<double>();
  return model;
}

/// Whether the parts of a model belong together: what was kept may have been changed since.
bool is_whole(const RigModel& model) {
  const Index of_steps = 2 * static_cast<Index>(model.steps.size());
  const bool steps = std::all_of(model.steps.begin(), model.steps.end(), [&](const SensorStep& step) {
    return step.lesson < model.lessons.size() && (step.pedestal == 0 || step.pedestal == 1);
  });
  const bool set_aside = std::all_of(model.set_aside.begin(), model.set_aside.end(),
                                     [&](const SetAside& each) { return each.lesson < model.lessons.size(); });
  return steps && set_aside && model.theta.size() >= of_steps && RigBodies::of(model.theta.size() - of_steps) &&
         model.covariance.rows() == model.theta.size() && model.covariance.cols() == model.theta.size();
}

}  // namespace

std::string rig_model_to_json(const RigModel& model) {
  ModelJson json = {{"version", rig_learning_version},
                    {"kind", model.kind == RigKind::hard ? "hard" : "soft"},
                    {"pedestals", pedestals_json(model.pedestals)},
                    {"lessons", ModelJson::array()},
                    {"theta", matrix_json(model.theta)},
                    {"covariance", matrix_json(model.covariance)},
                    {"scatter",
                     {model.scatter.clamping, model.scatter.each, model.scatter.smooth, model.scatter.along_bed,
                      model.scatter.over_speed}},
                    {"steps", ModelJson::array()},
                    {"set_aside", ModelJson::array()},
                    {"ln_evidence", model.ln_evidence}};
  for (const RigLesson& each : model.lessons) json["lessons"].push_back(rig_lesson_json(each));
  for (const SensorStep& each : model.steps)
    json["steps"].push_back(
        {{"lesson", each.lesson}, {"pedestal", each.pedestal}, {"ln_gain", each.ln_gain}, {"gain_rad", each.gain_rad}});
  for (const SetAside& each : model.set_aside)
    json["set_aside"].push_back(
        {{"lesson", each.lesson}, {"chi_squared", each.chi_squared}, {"degrees", each.degrees}});
  return json.dump();
}

RigModel rig_model_of_json(const std::string& text) {
  std::optional<RigModel> model;
  try {
    model = model_in(ModelJson::parse(text));
  } catch (const nlohmann::json::exception&) {  // said below
  }
  if (model && is_whole(*model)) return *std::move(model);
  throw Error(Trouble::request, "bad_rig_model", "what was learnt of the rig cannot be read",
              "let it be learnt anew: rig model --anew");
}

}  // namespace counterspot
