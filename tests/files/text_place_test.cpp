#include "files/text_place.hpp"

#include <catch2/catch.hpp>

#include "counterspot/units/error.hpp"

using namespace counterspot;

TEST_CASE("one text of a file is found where it stands, whatever way the file puts it, and nothing else is touched") {
  const std::string before = "# sensor B's sensitivity = \"100 mV/g\"\n";
  const std::string first = "[[sensor]]\nname = \"A\"\nsensitivity = \"100 mV/g\"\n";
  for (const std::string second : {
           "[[sensor]]\nname = \"B\"\nsensitivity = \"@100 mV/g@\"  # as \"B\" was\n",
           "  [[sensor]]\n  sensitivity='@100 mV/g@'\n  name='B'\n",
           "[[sensor]]\n\"name\" = \"B\"\r\n\"sensitivity\" = \"@20 µV/g@\"\r\n",
       }) {
    CAPTURE(second);
    std::string file = before + first + second + "[tach]\nchannel = 3\n";
    const std::size_t from = file.find('@');
    file.erase(from, 1);
    const std::size_t to = file.find('@');
    file.erase(to, 1);
    CHECK(place_of_text(file, "sensor", "B", "sensitivity") == std::pair(from, to - from));
  }
  const std::string inline_tables =
      "sensor = [ { name = \"µ\", sensitivity = \"1 V/g\" }, { name = \"B\", sensitivity = \"2 V/g\" } ]";
  CHECK(place_of_text(inline_tables, "sensor", "B", "sensitivity") ==
        std::pair(inline_tables.find("2 V"), std::size_t{5}));
}

TEST_CASE("a text that is not there, or not as plain text, is refused") {
  CHECK_THROWS_WITH(place_of_text("[[sensor]]\nname = \"A\"\n", "sensor", "A", "sensitivity"),
                    "the file does not state the sensitivity of sensor A as plain text in quotes");
  CHECK_THROWS_AS(
      place_of_text("[[sensor]]\nname = \"A\"\nsensitivity = \"\\u0031 V/g\"\n", "sensor", "A", "sensitivity"), Error);
  CHECK_THROWS_AS(place_of_text("", "sensor", "A", "sensitivity"), Error);
}
