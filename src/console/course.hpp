#pragma once

#include "console/page_words.hpp"
#include "counterspot/guide/guide.hpp"

namespace counterspot {

/// The course of a job in words: all its spins, those set aside too, each with what it read, what it left over its
/// limit and what was on the shaft; where their picture is; and what of it can be undone with one touch.
Json course_words(const KnownJob& known, const Viewer& viewer);

/// The entry that was said last, while nothing was said after it and it still counts: a spin, or what is on the shaft.
const Event* undoable(const Job& job);

}  // namespace counterspot
