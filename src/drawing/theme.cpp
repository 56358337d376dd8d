#include "counterspot/drawing/drawing.hpp"

namespace counterspot {

namespace {

constexpr std::array<double, 3> rgb(unsigned hex) {
  return {static_cast<double>(hex >> 16U & 0xFFU) / 255.0, static_cast<double>(hex >> 8U & 0xFFU) / 255.0,
          static_cast<double>(hex & 0xFFU) / 255.0};
}

/// Light: ink on drawing paper. Dark: chalk on slate. The few colours are blue, vermilion and green of a set that
/// people of any colour vision tell apart (M. Okabe & K. Ito, Color Universal Design, 2008), made darker on paper so
/// that words in them can be read; every role that has a colour has a line or a shape of its own too.
struct Row {
  Role role;
  unsigned light;
  unsigned dark;
  double line_mm;
  std::vector<double> dashes_mm;
};

const Row& row_of(Role role) {
  static const std::array<Row, role_count> rows{{
      {Role::paper, 0xFFFFFF, 0x1B2226, 0.3, {}},
      {Role::text, 0x101010, 0xF4F1E6, 0.5, {}},
      {Role::quiet, 0x555555, 0xB9B8B0, 0.35, {}},
      {Role::grid, 0xC4C4C4, 0x4A5459, 0.25, {}},
      {Role::outline, 0x101010, 0xF4F1E6, 1.0, {}},
      {Role::centre_line, 0x555555, 0xB9B8B0, 0.35, {7.0, 1.2, 0.6, 1.2}},
      {Role::mark, 0x101010, 0xF4F1E6, 0.5, {}},
      {Role::rotation, 0x101010, 0xF4F1E6, 1.2, {}},
      {Role::on_shaft, 0x101010, 0xF4F1E6, 0.7, {}},
      {Role::to_fit, 0x005A9C, 0x7CC4F0, 1.4, {}},
      {Role::to_remove, 0xA84300, 0xF2A93B, 1.2, {2.5, 1.2}},
      {Role::forbidden, 0xA84300, 0xF2A93B, 0.5, {}},
      {Role::tape, 0x005A9C, 0x7CC4F0, 0.5, {}},
      {Role::limit, 0xA84300, 0xF2A93B, 0.9, {8.0, 1.4, 0.8, 1.4, 0.8, 1.4}},
      {Role::uncertainty, 0x333333, 0xD8D5CA, 0.5, {0.6, 1.0}},
      {Role::earlier, 0x555555, 0xB9B8B0, 0.5, {3.0, 1.5}},
      {Role::latest, 0x101010, 0xF4F1E6, 1.4, {}},
      {Role::series_1, 0x101010, 0xF4F1E6, 0.9, {}},
      {Role::series_2, 0x005A9C, 0x7CC4F0, 0.9, {5.0, 1.8}},
      {Role::series_3, 0xA84300, 0xF2A93B, 0.9, {1.2, 1.4}},
      {Role::series_4, 0x00694A, 0x5ED3A6, 0.9, {7.0, 1.4, 1.2, 1.4}},
  }};
  return rows.at(static_cast<std::size_t>(role));
}

}  // namespace

Ink ink_of(Role role, Theme theme) {
  const Row& row = row_of(role);
  return {rgb(theme == Theme::light ? row.light : row.dark), row.line_mm, row.dashes_mm};
}

std::array<double, 3> paper_of(Theme theme) {
  return ink_of(Role::paper, theme).colour;
}

}  // namespace counterspot
