#pragma once

#include <random>

#include "counterspot/sheet/sheet.hpp"

namespace counterspot::test {

/// A sheet with much or little of everything, and how it is to be drawn. What it says is made up; that the numbers of a
/// real job are on its sheet is for sheet_test.cpp.
struct RandomSheet {
  Sheet sheet;
  const Words* words = nullptr;
  UnitSystem units = UnitSystem::metric;
  Paper paper = Paper::a4;
};
RandomSheet random_sheet(std::mt19937& random);

}  // namespace counterspot::test
