#include "log/rig_model_json.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <vector>

#include "counterspot/units/error.hpp"
#include "rig_model/linear_rig.hpp"

namespace counterspot {

template <>
struct KeptAs<KnownSize> {
  static LogJson json(const KnownSize& known) { return {known.value, known.u}; }
  static KnownSize value(const LogJson& json) { return {json.at(0).get<double>(), json.at(1).get<double>()}; }
};

template <>
struct KeptAs<RigScatter> {
  static LogJson json(const RigScatter& scatter) {
    const ScatterParts parts = parts_of(scatter);
    return std::vector<double>(parts.begin(), parts.end());
  }
  static RigScatter value(const LogJson& json) {
    return scatter_of(ScatterParts(json.get<std::array<double, 5>>().data()));
  }
};

Named<RigKind> names_of(RigKind /*kind*/) {
  return {{RigKind::soft, RigKind::hard},
          [](RigKind kind) -> std::string_view { return kind == RigKind::hard ? "hard" : "soft"; },
          "a kind of rig"};
}

void fields(auto& keep, Kind<KnownPedestal> auto& pedestal) {
  keep("moving_mass_kg", pedestal.moving_mass_kg);
  keep("natural_frequency_Hz", pedestal.natural_frequency_Hz);
}

void fields(auto& keep, Kind<SensorStep> auto& step) {
  keep("lesson", step.lesson);
  keep("pedestal", step.pedestal);
  keep("ln_gain", step.ln_gain);
  keep("gain_rad", step.gain_rad);
}

void fields(auto& keep, Kind<SetAside> auto& job) {
  keep("lesson", job.lesson);
  keep("chi_squared", job.chi_squared);
  keep("degrees", job.degrees);
}

void fields(auto& keep, Kind<RigModel> auto& model) {
  keep("kind", model.kind);
  keep("pedestals", model.pedestals);
  keep("lessons", model.lessons);
  keep("theta", model.theta);
  keep("covariance", model.covariance);
  keep("scatter", model.scatter);
  keep("steps", model.steps);
  keep("set_aside", model.set_aside);
  keep("ln_evidence", model.ln_evidence);
}

namespace {

/// Whether the parts of a model belong together: what was kept may have been changed since.
bool is_whole(const RigModel& model) {
  const Eigen::Index of_steps = 2 * static_cast<Eigen::Index>(model.steps.size());
  const bool steps = std::all_of(model.steps.begin(), model.steps.end(), [&](const SensorStep& step) {
    return step.lesson < model.lessons.size() && (step.pedestal == 0 || step.pedestal == 1);
  });
  const bool set_aside = std::all_of(model.set_aside.begin(), model.set_aside.end(),
                                     [&](const SetAside& each) { return each.lesson < model.lessons.size(); });
  return steps && set_aside && model.theta.size() >= of_steps && RigBodies::of(model.theta.size() - of_steps) &&
         model.covariance.rows() == model.theta.size() && model.covariance.cols() == model.theta.size();
}

Error bad_rig_model(const std::string& /*trouble*/ = "") {
  return {Trouble::request, "bad_rig_model", "what was learnt of the rig cannot be read",
          "let it be learnt anew: rig model --anew"};
}

}  // namespace

std::string rig_model_to_json(const RigModel& model) {
  LogJson json = {{"version", rig_learning_version}};
  json.update(kept_json(model));
  return json.dump();
}

RigModel rig_model_of_json(const std::string& text) {
  auto model = checked_json([&] { return kept_in<RigModel>(LogJson::parse(text)); }, bad_rig_model);
  if (!is_whole(model)) throw bad_rig_model();
  return model;
}

}  // namespace counterspot
