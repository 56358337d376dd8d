// A recording is of one spin.
#include "solve/same_recording.hpp"

#include <catch2/catch.hpp>
#include <functional>

#include "counterspot/units/error.hpp"
#include "recording/same_bytes.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const FittedWeight trial{0, 0.015, 0.039, 0.0};

std::string refusal(const std::function<void()>& work) {
  try {
    work();
    return "";
  } catch (const Error& error) {
    CHECK(error.trouble() == Trouble::recording);
    CHECK(error.code() == "same_recording");
    CHECK_FALSE(error.remedy().empty());
    return error.what();
  }
}

bool says(const std::string& text, const std::string& words) {
  return text.find(words) != std::string::npos;
}

}  // namespace

TEST_CASE("files are the same by their bytes, whatever they are called") {
  const TemporaryFolder folder;
  const std::string long_text(200000, 'x');
  const auto one = write_file(folder / "one", long_text);
  const auto copy = write_file(folder / "copy", long_text);
  const auto last_differs = write_file(folder / "last", long_text.substr(1) + "y");
  const auto longer = write_file(folder / "longer", long_text + "x");
  std::filesystem::create_symlink(one, folder / "link");
  CHECK(same_bytes(one, copy));
  CHECK(same_bytes(one, folder / "link"));
  CHECK(same_bytes(one, one));
  CHECK_FALSE(same_bytes(one, last_differs));
  CHECK_FALSE(same_bytes(one, longer));
  CHECK_FALSE(same_bytes(one, folder / "not-there"));
  CHECK_FALSE(same_bytes("-", "-"));
}

TEST_CASE("a set of spins with one recording twice is refused, and both spins are named") {
  const TemporaryFolder folder;
  const auto a = write_file(folder / "a.wav", "first");
  const auto b = write_file(folder / "b.wav", "other");
  const auto copy = write_file(folder / "c.wav", "first");
  CHECK(refusal([&] { refuse_same_recordings({{"as found", a, {}, {}}, {"trial", b, {trial}, {}}}); }).empty());
  const std::string other_weights = refusal([&] {
    refuse_same_recordings({{"as found", a, {}, {}}, {"verify", copy, {trial}, {}}});
  });
  CHECK(says(other_weights, "'as found' and 'verify'"));
  CHECK(says(other_weights, "other weights"));
  const std::string turned = refusal([&] {
    refuse_same_recordings({{"as found", a, {}, 0.0}, {"turned", a, {}, 3.14}});
  });
  CHECK(says(turned, "other weights"));
  const std::string like_weights = refusal([&] {
    refuse_same_recordings({{"as found", a, {}, {}}, {"again", copy, {}, {}}});
  });
  CHECK(says(like_weights, "counts once"));
}

TEST_CASE("a copy in another format is known by what it reads") {
  SpinReading one{"as found", {}, {{1.0, 2.0}, {3.0, 4.0}}, {Eigen::Matrix2d::Identity(), Eigen::Matrix2d::Identity()},
                  170.0,      {}};
  SpinReading other = one;
  other.label = "verify";
  other.fitted = {trial};
  CHECK(says(refusal([&] { refuse_same_readings({one, other}); }), "'as found' and 'verify'"));
  other.vectors[1] += 1e-9;  // as sums in another order round
  CHECK(says(refusal([&] { refuse_same_readings({one, other}); }), "other weights"));
  for (const double sigma : {0.01, 1.0}) {  // the uncertainty of the readings is 1
    SpinReading repeated = one;
    repeated.vectors[0] += sigma;
    CHECK(refusal([&] { refuse_same_readings({one, repeated}); }).empty());
  }
  other.speed_rad_s = 170.01;
  CHECK(refusal([&] { refuse_same_readings({one, other}); }).empty());
}
