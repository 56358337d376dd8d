#include <counterspot/tolerance/tolerance.hpp>
#include <counterspot/version.hpp>
#include <cstdio>

int main() {
  double limit_kg_m =
      counterspot::permissible_unbalance_kg_m(counterspot::grade_m_s("G16"), 14.6, counterspot::rad_per_s(3200.0));
  std::printf("%.1f g·mm, counterspot %s\n", limit_kg_m * 1e6, counterspot::version);
}
