#include "sheet/framed_page.hpp"

namespace counterspot {

FramedPage framed_page(const std::string& title, Paper paper) {
  const double width = paper == Paper::a4 ? 210.0 : 215.9;
  const double height = paper == Paper::a4 ? 297.0 : 279.4;
  FramedPage page{Sketch(title, width, height), 20.0, width - 10.0, 10.0, height - 10.0, 10.0};
  page.sketch.polygon(
      Role::on_shaft,
      {{page.left, page.top}, {page.right, page.top}, {page.right, page.bottom}, {page.left, page.bottom}}, Fill::none,
      "frame");
  page.left += FramedPage::inset_mm;
  page.right -= FramedPage::inset_mm;
  return page;
}

void draw_signature(FramedPage& page, double left, double right, double top, const char* who,
                    const char* date_and_signature) {
  page.sketch.polygon(Role::quiet, {{left, top}, {right, top}, {right, page.bottom}, {left, page.bottom}}, Fill::none,
                      "signature");
  page.sketch.text(Role::quiet, {{left + 2.0, top + 4.5}, who, 2.5, Anchor::left, false, right - left - 4.0});
  page.sketch.line(Role::quiet, {left + 3.0, page.bottom - 5.5}, {right - 3.0, page.bottom - 5.5}, "signature line");
  page.sketch.text(Role::quiet,
                   {{left + 3.0, page.bottom - 2.0}, date_and_signature, 2.0, Anchor::left, false, right - left - 6.0});
}

}  // namespace counterspot
