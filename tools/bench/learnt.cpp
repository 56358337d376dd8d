// How long the next step of a job takes with 500 earlier one-offs in the log, against 60 of them in the same run: what
// the rig taught is kept, so neither the log's length nor the learning is felt.
// Usage: bench_learnt FOLDER [FEW MANY]. Prints what it measured; exit code 1 if a target is missed.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <filesystem>

#include "counterspot/guide/guide.hpp"
#include "made_up_shop.hpp"

using namespace counterspot;

namespace {

constexpr std::int64_t start = 1764028800;  // 2025-11-25
constexpr double target_s = 0.150;
constexpr double target_growth = 1.5;

/// Least of several, as a page or a command pays it: the job read from the log, and its next step.
double next_step_s(const Log& log, const std::string& job) {
  double least = 1e9;
  for (int run = 0; run < 5; ++run) {
    const auto begin = std::chrono::steady_clock::now();
    const KnownJob known = known_job(log, log.job(job));
    const bool asked = known.next().kind != StepKind::nothing;
    const double took = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    if (asked) least = std::min(least, took);
  }
  return least;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2 && argc != 4) return 2;
  const int few_jobs = argc == 4 ? std::stoi(argv[2]) : 60;
  const int many_jobs = argc == 4 ? std::stoi(argv[3]) : 500;
  const std::string file = std::string(argv[1]) + "/learnt.db";
  std::filesystem::remove(file);
  Log log = Log::open(file, true);
  test::MadeUpShop shop;
  int made = 0;
  std::array<double, 2> took{}, learning{};
  std::size_t at = 0;
  for (const int jobs : {few_jobs, many_jobs}) {
    log.at_once([&] {
      for (; made < jobs; ++made) {
        const Job job = shop.spun_job(log, made, 3, start + 86400LL * made);
        log.append(job, Closed{std::nullopt, std::nullopt, "made up"}, "counterspot 0.1.0", start + 86400LL * made);
      }
    });
    const Job next = shop.spun_job(log, 10000 + jobs, 1, start + 86400LL * made);
    const auto begin = std::chrono::steady_clock::now();
    known_job(log, next);
    learning[at] = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    took[at++] = next_step_s(log, next.name);
  }
  fmt::print(
      "next step with {} earlier shafts in the log {:.0f} ms (under {:.0f}), with {} {:.0f} ms (at most {} times as "
      "long); the first after a change, which learns, {:.0f} ms\n",
      many_jobs, 1e3 * took[1], 1e3 * target_s, few_jobs, 1e3 * took[0], target_growth, 1e3 * learning[1]);
  return took[1] < target_s && took[1] < target_growth * took[0] ? 0 : 1;
}
