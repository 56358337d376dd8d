#include "sheet/overlaps.hpp"

#include <fmt/format.h>

namespace counterspot::test {

namespace {

constexpr double touch_mm = 0.05;  // of rounding in the font's own units

std::string words_of(const Picture& page, const TextBox& box) {
  return std::get<Lettering>(page.shapes[box.shape].form).words;
}

bool overlap(const TextBox& a, const TextBox& b) {
  const auto apart = [](double from, double size, double other, double other_size) {
    return from + size - touch_mm <= other || other + other_size - touch_mm <= from;
  };
  return !apart(a.corner.x, a.width_mm, b.corner.x, b.width_mm) &&
         !apart(a.corner.y, a.height_mm, b.corner.y, b.height_mm);
}

}  // namespace

std::vector<std::string> overlaps_of(const std::vector<Picture>& pages, Margins margins) {
  std::vector<std::string> faults;
  for (std::size_t p = 0; p < pages.size(); ++p) {
    const std::vector<TextBox> boxes = text_boxes(pages[p]);
    for (std::size_t i = 0; i < boxes.size(); ++i) {
      const TextBox& box = boxes[i];
      if (box.corner.x < margins.left_mm || box.corner.y < margins.others_mm ||
          box.corner.x + box.width_mm > pages[p].width_mm - margins.others_mm ||
          box.corner.y + box.height_mm > pages[p].height_mm - margins.others_mm)
        faults.push_back(fmt::format("page {}: '{}' leaves the frame", p + 1, words_of(pages[p], box)));
      for (std::size_t k = i + 1; k < boxes.size(); ++k) {
        if (overlap(box, boxes[k]))
          faults.push_back(fmt::format("page {}: '{}' over '{}' at {:.1f} {:.1f}", p + 1, words_of(pages[p], boxes[k]),
                                       words_of(pages[p], box), box.corner.x, box.corner.y));
      }
    }
  }
  return faults;
}

}  // namespace counterspot::test
