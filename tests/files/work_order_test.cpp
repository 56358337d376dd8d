// [order] of a shaft's or a spins file: for whom, and by whom.
#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/files/shaft_copy.hpp"
#include "counterspot/files/work_order.hpp"
#include "error_code.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string shaft =
    "[shaft]\nid = \"PS-1042\"  # the long one\ngrade = \"G16\"\nmass = \"14.6 kg\"\nservice_speed = \"3200 rpm\"\n"
    "[supports]\nA = \"0 mm\"\nB = \"1500 mm\"\n";
const std::string planes =
    "[[plane]]\nname = \"A\"\nposition = \"70 mm\"\nradius = \"39 mm\"\n"
    "[[plane]]\nname = \"B\"\nposition = \"1430 mm\"\nradius = \"39 mm\"\n";

/// What is reckoned with of this shaft.
std::string reckoned(const std::string& text) {
  const Shaft read = read_shaft_text(text, "shaft.toml");
  std::string all = fmt::format("{} {} {} {}", read.id, read.grade, *read.mass_kg, *read.service_speed_rad_s);
  for (const Plane& plane : read.planes) all += fmt::format(" {} {} {}", plane.name, plane.position_m, plane.radius_m);
  return all;
}

WorkOrder order_of(const std::string& text) {
  return work_order_in(text, "shaft.toml");
}

}  // namespace

TEST_CASE("what is typed of an order stands in the shaft's text, and the shaft stays what it was") {
  WorkOrder typed;
  typed.customer = "O'Neill \"Pumps\" \\ Söhne";
  typed.serial = "0417-22";
  const std::string before = shaft + planes;
  const std::string after = with_work_order(before, "shaft.toml", typed);
  CHECK(after.starts_with(before));
  CHECK(order_of(after) == typed);
  CHECK(reckoned(after) == reckoned(before));
  CHECK(with_work_order(before, "shaft.toml", {}) == before);
}

TEST_CASE("what the file states of the order stays where nothing is typed, wherever its section stands") {
  WorkOrder typed;
  typed.serial = "0417-23";
  const std::string section = "[order]\ncustomer = \"Marrow Creek\"  # of old\nserial = \"?\"\n";
  for (const std::string& text :
       {shaft + section + planes, shaft + planes + section,
        fmt::format("order = {{ customer = \"Marrow Creek\", serial = \"?\" }}\n{}{}", shaft, planes)}) {
    const std::string after = with_work_order(text, "shaft.toml", typed);
    CHECK(order_of(after).customer == "Marrow Creek");
    CHECK(order_of(after).serial == "0417-23");
    CHECK(reckoned(after) == reckoned(text));
  }
}

TEST_CASE("what cannot be printed on a line of the sheet is refused by its name") {
  WorkOrder typed;
  typed.shop = "one\nanother";
  const std::string after = with_work_order(shaft + planes, "shaft.toml", typed);
  CHECK(code_of([&] { read_shaft_text(after, "shaft.toml"); }) == "bad_value");
}

TEST_CASE("an order in pieces is not added to") {
  WorkOrder typed;
  typed.shop = "bay 2";
  const std::string text = fmt::format("order.customer = \"x\"\nrest = 1\norder.serial = \"y\"\n{}{}", shaft, planes);
  CHECK(code_of([&] { with_work_order(text, "shaft.toml", typed); }) == "order_in_pieces");
}

TEST_CASE("a spins file states its order, and takes from the shaft's file what it does not state") {
  const TemporaryFolder folder;
  write_file(folder / "shaft.toml",
             shaft + planes + "[order]\ncustomer = \"Marrow Creek\"\nserial = \"of the file\"\n");
  write_file(folder / "rig.toml",
             "[rig]\nname = \"bay 2\"\nrotation = \"clockwise\"\nviewing_end = \"A\"\n[tach]\nchannel = 3\n"
             "[[sensor]]\nname = \"A\"\nchannel = 1\nsensitivity = \"20 mV/(mm/s)\"\n");
  write_file(
      folder / "spins.toml",
      "rig = \"rig.toml\"\nshaft = \"shaft.toml\"\n[order]\nserial = \"0417-22\"\n[[spin]]\nlabel = \"as found\"\n"
      "vector = { A = \"6.0 mm/s @ 35 deg\" }\n");
  const SpinSet set = read_spins(folder / "spins.toml");
  CHECK(set.order.serial == "0417-22");
  CHECK(set.order.customer == "Marrow Creek");
}

TEST_CASE("a copy of a shaft is that shaft but for its id and what of the order is one shaft's own") {
  const std::string order =
      "[order]\ncustomer = \"Söhne\"\nserial = \"0417-22\"\ninspected_by = \"N. N.\"\nlimits_by = \"the maker\"\n";
  const std::string inside =
      "shaft = { grade = \"G16\", id = \"PS-1042\", mass = \"14.6 kg\", service_speed = \"3200 rpm\" }\n";
  for (const std::string& head : {shaft, "# Wörter\n" + shaft, inside + shaft.substr(shaft.find("[supports]"))}) {
    const std::string text = head + planes;
    const std::string copy = copied_shaft(text, "shaft.toml", "PS-1043 \"B\"");
    const std::string id = "PS-1042";
    std::string expected = reckoned(text);
    expected.replace(expected.find(id), id.size(), "PS-1043 \"B\"");
    CHECK(reckoned(copy) == expected);
    CHECK(order_of(copy) == WorkOrder{});
    const WorkOrder kept = order_of(copied_shaft(text + order, "shaft.toml", "PS-1043"));
    CHECK(kept.customer == "Söhne");
    CHECK(kept.limits_by == "the maker");
    CHECK((kept.serial + kept.inspected_by).empty());
  }
}
