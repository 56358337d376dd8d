#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/words.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/tolerance/tolerance.hpp"

namespace counterspot {

/// What a picture is of, as far as it is known: so that one that hangs on a wall or lies in a file says it by itself.
struct PictureOf {
  std::string shaft = {};
  std::string job = {};
  std::string files_of = {};  ///< a day, "2026-11-29"
  std::string as_of = {};     ///< the day of what a log keeps of it
  std::string rig = {};
  std::optional<double> speed_rad_s = {};
  std::optional<Verdict> verdict = {};
  UnitSystem units = UnitSystem::metric;
  std::string program = {};
};

/// What is known of it, in words, in the order in which it is said.
std::vector<std::string> said_of(const PictureOf& of, const Words& words = english());

/// The picture under a line, or as many as it takes, that says so.
Picture titled(const Picture& picture, const PictureOf& of, const Words& words = english());

}  // namespace counterspot
