#include "commands/output.hpp"

#include <fmt/format.h>

#include <cstdio>

#include "counterspot/words.hpp"

namespace counterspot::commands {

const char* const cautions =
    "CAUTION  Guard closed, nobody in the plane of rotation, weights secured against their pull, speed under the safe "
    "limit;\n"
    "         weld with the current kept out of bearings and sensors. Road, lifting and passenger use: the "
    "responsible\n"
    "         engineer, local rules and the maker decide.\n";

void print(const std::string& text) {
  fmt::print("{}", text);
}

void print_json(const Json& document) {
  fmt::print("{}\n", document.dump());
}

void print_error(const Error& error) {
  fmt::print(stderr, "error: {}\n mend: {}\n", error.what(), error.remedy());
}

void print_warning(const std::string& message) {
  fmt::print(stderr, "warning: {}\n", message);
}

void print_warnings(const Warnings& warnings) {
  for (const Warning& warning : warnings) print_warning(warning.message);
}

Json order_json(double order) {
  return order == std::round(order) ? Json(std::llround(order)) : Json(order);
}

std::string measured(double value, double expanded_uncertainty) {
  return measured_text(value, expanded_uncertainty, english());
}

Json to_json(const Warnings& warnings) {
  Json list = Json::array();
  for (const Warning& warning : warnings) {
    Json sensor = warning.sensor ? Json(*warning.sensor) : Json(nullptr);
    list.push_back({{"code", warning_code(warning.code)}, {"sensor", sensor}, {"message", warning.message}});
  }
  return list;
}

Json to_json(const Error& error) {
  return {{"code", error.code()}, {"message", error.what()}, {"remedy", error.remedy()}};
}

}  // namespace counterspot::commands
