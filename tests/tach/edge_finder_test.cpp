#include <catch2/catch.hpp>
#include <random>
#include <vector>

#include "tach/edge_finder.hpp"

using namespace counterspot;

namespace {

std::vector<Pulse> edges_of(const std::vector<double>& signal, double level, double hysteresis, Edge edge,
                            std::size_t block = 1000) {
  EdgeFinder finder(level, hysteresis, edge);
  std::vector<Pulse> pulses;
  for (std::size_t n = 0; n < signal.size(); n += block)
    finder.push(&signal[n], std::min(block, signal.size() - n), 1, pulses);
  finder.finish(pulses);
  return pulses;
}

}  // namespace

TEST_CASE("an edge lies where the straight line between two samples meets the level") {
  // by hand: 1 at frame 2 and 3 at frame 3 meet 2.5 at 2 + 1.5/2; 4 at frame 5 and 0 at frame 6 meet it at 5 + 1.5/4
  const auto pulses = edges_of({0, 0, 1, 3, 5, 4, 0, 0}, 2.5, 1.0, Edge::rising);
  REQUIRE(pulses.size() == 1);
  CHECK(pulses[0].edge_frame == Approx(2.75).epsilon(1e-15));
  CHECK(pulses[0].edge_frame + pulses[0].width_frames == Approx(5.375).epsilon(1e-15));
}

TEST_CASE("a falling edge is the mirror of a rising one") {
  const auto pulses = edges_of({5, 5, 4, 0, 0, 3, 5, 5}, 2.5, 1.0, Edge::falling);
  REQUIRE(pulses.size() == 1);
  CHECK(pulses[0].edge_frame == Approx(2.0 + 1.5 / 4.0).epsilon(1e-15));
}

TEST_CASE("ripple inside the hysteresis makes no edge, and the last crossing of the level on the way up counts") {
  const auto none = edges_of({0, 0, 2.7, 2.4, 2.8, 2.3, 0, 0}, 2.5, 1.0, Edge::rising);
  CHECK(none.empty());
  const auto one = edges_of({0, 0, 2.7, 2.3, 2.7, 4, 5, 0}, 2.5, 1.0, Edge::rising);
  REQUIRE(one.size() == 1);
  CHECK(one[0].edge_frame == Approx(3.5));
}

TEST_CASE("a recording that begins inside a pulse gives no edge for it") {
  CHECK(edges_of({5, 5, 5, 0, 0, 0}, 2.5, 1.0, Edge::rising).empty());
  CHECK(edges_of({5, 5, 5, 0, 0, 5, 0}, 2.5, 1.0, Edge::rising).size() == 1);
}

TEST_CASE("the edges do not depend on how the samples are cut into blocks") {
  std::mt19937 generator(3);
  std::normal_distribution<double> normal;
  std::vector<double> signal(5000);
  for (std::size_t n = 0; n < signal.size(); ++n) signal[n] = (n % 97 < 9 ? 5.0 : 0.0) + 0.3 * normal(generator);
  const auto whole = edges_of(signal, 2.5, 2.0, Edge::rising, signal.size());
  REQUIRE(whole.size() > 40);
  for (const std::size_t block : {1U, 7U, 96U, 1024U}) {
    const auto cut = edges_of(signal, 2.5, 2.0, Edge::rising, block);
    REQUIRE(cut.size() == whole.size());
    for (std::size_t i = 0; i < whole.size(); ++i) CHECK(cut[i].edge_frame == whole[i].edge_frame);
  }
}
