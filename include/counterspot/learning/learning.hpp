#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/learning/shaft_spins.hpp"
#include "counterspot/rig_model/rig_model.hpp"
#include "counterspot/solve/solution.hpp"

namespace counterspot {

/// Every spin with known weights teaches. The coefficients of shaft j of a family on one rig are taken as
///   α_j ~ N(μ, T): T the scatter from shaft to shaft,
/// and its spins give a likelihood of α_j in which Z_0 does not matter. μ and T are found by expectation–maximisation
/// (Dempster, Laird & Rubin 1977; random-effects regression, Laird & Ware 1982), T with an inverse-Wishart prior around
/// `usual_scatter`, since a few shafts say little of a scatter. A new shaft starts from N(μ, T + var(μ)).
struct FamilyPrior {
  CoefficientPrior coefficients;
  int shafts = 0;        ///< jobs it rests on
  double scatter = 0.0;  ///< one standard deviation from shaft to shaft, relative to the coefficients' size
  bool between = false;  ///< no shaft like this one yet: drawn between other families, and wider
  bool of_rig = false;   ///< from the model of the rig (rig_model.hpp), not from shafts like this one
  int brought_in = 0;    ///< of `shafts`, those whose lessons on the rig came from another log
  std::vector<Motion> motions;
};

/// Who teaches: shafts like this one alone; or the physics of the rig; with what it lacks learnt beside it, or without.
enum class Teacher { family, physics, rig };

struct LearningOptions {
  Teacher teacher = Teacher::rig;
  /// From shaft to shaft of one family, one standard deviation, until the shafts themselves say more (common practice,
  /// no source).
  double usual_scatter = 0.08;
  double usual_scatter_worth = 8.0;  ///< how many shafts' say that has
  int family_from = 5;    ///< so many shafts like it teach by themselves; with fewer the model of the rig does
  int jobs_at_most = 60;  ///< of the newest; so that a slow change of the rig is followed
};

/// How unlike two shafts are: the largest difference of tube, length, mass and planes over what one family may differ
/// by (6 % of diameter, wall and length, 12 % of mass, 4 % of the span in a plane's position). Up to 1: one family.
double unlikeness(const Shaft& one, const Shaft& other);

/// Earlier jobs, wherever they are kept, without the one in work; asked only for what is needed.
class EarlierJobs {
 public:
  virtual ~EarlierJobs() = default;
  /// On this rig, the newest first, of shafts that are no more unlike.
  virtual std::vector<ShaftSpins> of_shafts_like(const Rig& rig, const Shaft& shaft, double unlike_at_most) const = 0;
  /// What all of them taught of the rig, for sensors of these kinds; empty if nothing.
  virtual std::optional<RigModel> rig_model(const Rig& rig, const std::vector<Motion>& motions) const = 0;
};

/// What a job starts from: of earlier jobs those with the same sensors and kinds of motion count; spins within 2 % of
/// the job's speed are brought to it.
/// @return empty if there is nothing to go by.
std::optional<FamilyPrior> prior_from(const EarlierJobs& earlier, const ShaftSpins& job,
                                      const LearningOptions& options = {});

/// The same of a shaft whose spins are in no job.
std::optional<FamilyPrior> prior_from(const EarlierJobs& earlier, const Rig& rig, const Shaft& shaft,
                                      const std::vector<Motion>& motions, double speed_rad_s,
                                      const LearningOptions& options = {});

/// @param past jobs on the same rig, the newest first.
std::optional<FamilyPrior> prior_from(const std::vector<ShaftSpins>& past, const ShaftSpins& job,
                                      const LearningOptions& options = {});

/// What earlier jobs on a rig show of its spins: how they repeat, and what their sensors show beside the orders.
/// @param past the newest first; those with the same sensors count, and not the job `uid`.
void learn_from(const std::vector<ShaftSpins>& past, const Rig& rig, const std::string& uid, RigKnowledge& knowledge);

}  // namespace counterspot
