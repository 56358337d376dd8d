// What is said of a rig that was learnt says the same in both languages.
#include <array>
#include <bit>
#include <catch2/catch.hpp>
#include <string_view>

#include "counterspot/drawing/rig_model_words.hpp"

using namespace counterspot;

namespace {

using Texts = std::array<const char*, sizeof(RigModelWords) / sizeof(const char*)>;

int places_in(std::string_view text) {
  int count = 0;
  for (std::size_t at = text.find("{}"); at != std::string_view::npos; at = text.find("{}", at + 2)) ++count;
  return count;
}

}  // namespace

TEST_CASE("every text of a learnt rig is there in both languages, with room for the same numbers") {
  const auto in_english = std::bit_cast<Texts>(english_rig_model_words());
  const auto in_german = std::bit_cast<Texts>(german_rig_model_words());
  for (std::size_t i = 0; i < in_english.size(); ++i) {
    REQUIRE(in_english[i] != nullptr);
    REQUIRE(in_german[i] != nullptr);
    CAPTURE(in_english[i], in_german[i]);
    CHECK_FALSE(std::string_view(in_german[i]).empty());
    CHECK(places_in(in_english[i]) == places_in(in_german[i]));
  }
}
