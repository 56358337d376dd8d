// Prints random problems of least_residual with our answers, one JSON document per line, for least_residual.py.
#include <cstdio>
#include <nlohmann/json.hpp>
#include <random>

#include "counterspot/influence/least_residual.hpp"

using namespace counterspot;
using Json = nlohmann::json;

namespace {

Json json_of(const Eigen::VectorXcd& vector) {
  Json list = Json::array();
  for (Eigen::Index i = 0; i < vector.size(); ++i) list.push_back({vector(i).real(), vector(i).imag()});
  return list;
}

/// Every third problem has planes that depend on one another; limits are none, loose or tight.
ResidualProblem drawn(std::mt19937_64& random, int number) {
  std::normal_distribution<double> normal;
  auto draw = [&] { return std::complex<double>(normal(random), normal(random)); };
  const auto planes = std::uniform_int_distribution<Eigen::Index>(1, 4)(random);
  const auto rows = std::uniform_int_distribution<Eigen::Index>(1, 12)(random);
  ResidualProblem problem{Eigen::MatrixXcd(rows, planes).unaryExpr([&](auto) { return draw(); }),
                          Eigen::VectorXcd(rows).unaryExpr([&](auto) { return draw(); }),
                          {}};
  if (number % 3 == 0 && planes > 1) problem.response.col(planes - 1) = problem.response.col(0) * draw();
  if (number % 5 == 0) return problem;
  const double largest = std::exp(normal(random) - 1.0);
  problem.most = Eigen::VectorXd::Constant(planes, largest);
  if (number % 7 == 0) problem.most(0) = INFINITY;
  return problem;
}

}  // namespace

int main() {
  std::mt19937_64 random(20260301);
  for (int number = 0; number < 200; ++number) {
    const ResidualProblem problem = drawn(random, number);
    const Least least = number % 2 == 0 ? Least::worst : Least::squares;
    const ResidualAnswer answer = least_residual(problem, least);
    Json response = Json::array();
    for (Eigen::Index i = 0; i < problem.response.rows(); ++i) response.push_back(json_of(problem.response.row(i)));
    Json most = Json::array();
    for (double each : problem.most) most.push_back(std::isfinite(each) ? Json(each) : Json(nullptr));
    std::puts(Json{{"worst", least == Least::worst},
                   {"response", response},
                   {"present", json_of(problem.present)},
                   {"most", most},
                   {"converged", answer.converged},
                   {"added", json_of(answer.added)},
                   {"left", answer.left},
                   {"gap", answer.gap}}
                  .dump()
                  .c_str());
  }
  return 0;
}
