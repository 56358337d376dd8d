#pragma once

#include <string>

#include "counterspot/sheet/sheet.hpp"
#include "drawing/sketch.hpp"

namespace counterspot {

/// A page for the file as it fills, from the top, within its frame.
struct FramedPage {
  static constexpr double inset_mm = 3.0;  ///< from the frame to words

  Sketch sketch;
  double left = 0.0;  ///< of the words, as `right`
  double right = 0.0;
  double top = 0.0;  ///< of the frame, as `bottom`
  double bottom = 0.0;
  double y = 0.0;

  double width() const { return right - left; }
};
FramedPage framed_page(const std::string& title, Paper paper);

/// A box at the foot, to be signed.
void draw_signature(FramedPage& page, double left, double right, double top, const char* who,
                    const char* date_and_signature);

}  // namespace counterspot
