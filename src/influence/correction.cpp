#include "influence/correction.hpp"

#include <cmath>

namespace counterspot {

Eigen::VectorXcd correction_for(ResidualProblem problem, std::vector<Eigen::Index> kept,
                                const Eigen::VectorXcd& unbalance, Least least) {
  const bool limited = (problem.most.array() < INFINITY).any();
  if (least == Least::squares && !limited) return -unbalance;
  if (limited) std::erase_if(kept, [&](Eigen::Index p) { return !(problem.most(p) > 0.0); });
  Eigen::VectorXcd correction = Eigen::VectorXcd::Zero(unbalance.size());
  if (kept.empty()) return correction;
  problem.response = Eigen::MatrixXcd(problem.response(Eigen::all, kept));
  problem.most = limited ? Eigen::VectorXd(problem.most(kept)) : Eigen::VectorXd();
  correction(kept) = least_residual(problem, least).added;
  return correction;
}

}  // namespace counterspot
