#pragma once

#include <functional>
#include <string>
#include <vector>

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

/// Pages one after another, alike in frame, head and foot; what does not fit on one goes on the next.
class FramedPages {
 public:
  /// Draws what stands at the head of each page, and leaves `y` below it.
  using Head = std::function<void(FramedPage&)>;

  FramedPages(std::string title, Paper paper, double foot_mm, Head head);

  FramedPage& page() { return pages_.back(); }
  /// The page that has so much room, a new one if the last has not.
  FramedPage& with_room(double room_mm);
  /// Above the foot of the last page.
  double room_mm() const;
  double foot_mm() const { return foot_mm_; }
  std::size_t count() const { return pages_.size(); }

  /// @param foot draws the foot of a page, which is told its number, from 1, and how many there are.
  std::vector<Picture> finished(const std::function<void(FramedPage&, std::size_t, std::size_t)>& foot) &&;

 private:
  void begin_page();

  std::string title_;
  Paper paper_;
  double foot_mm_;
  Head head_;
  std::vector<FramedPage> pages_;
};

/// Letters of words on a page; lines are cut where the text is surely not wider than the room.
std::vector<std::string> lines_within(const std::string& text, double width_mm, double letters_mm);

/// Words that must be read whole: in the largest letters, up to `letters_mm`, whose lines fit into the room.
/// @param middle the base line if it is one line; several are centred about it.
void draw_whole(Sketch& sketch, Point middle, const std::string& words, double width_mm, double room_mm,
                double letters_mm);
/// The same as a passage.
void draw_whole(Passage::Kind kind, Sketch& sketch, Point middle, const std::string& words, double width_mm,
                double room_mm, double letters_mm);

/// A table over as many pages as it takes, its first row at the head of each. Cells are cut into lines.
/// @param edges where columns begin, as shares of the width. @param heavy a column written heavier.
void draw_table(FramedPages& pages, const std::vector<std::vector<std::string>>& rows, const std::vector<double>& edges,
                std::size_t heavy);

/// A name and a value in two columns, as many lines as it takes; an empty value is a line to write on.
void draw_pairs(FramedPages& pages, const std::vector<std::pair<std::string, std::string>>& facts);

/// Words in lines across the page.
void draw_paragraph(FramedPages& pages, Role role, const std::string& words, double letters_mm,
                    Passage::Kind kind = Passage::Kind::paragraph);

/// A picture within the page.
void draw_picture(FramedPage& page, const Picture& picture, Point corner, double scale);

/// In a frame that tells it from across the room: heavy and whole where all is well, hatched as what is forbidden where
/// it is not, broken where it cannot be said.
enum class Judged { well, badly, neither };
void draw_judged(FramedPage& page, Judged judged, const std::string& words);

/// A box at the foot, to be signed.
void draw_signature(FramedPage& page, double left, double right, double top, const char* who,
                    const char* date_and_signature);

/// "page 1 of 2".
std::string page_words(const Words& words, std::size_t number, std::size_t count);

}  // namespace counterspot
