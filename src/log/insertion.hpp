#pragma once

#include <soci/soci.h>

#include <deque>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace soci {

/// A value that may be NULL.
template <typename T>
struct type_conversion<std::optional<T>> {
  using base_type = typename type_conversion<T>::base_type;
  static void from_base(const base_type& in, indicator ind, std::optional<T>& out) {
    if (ind == i_null) {
      out.reset();
      return;
    }
    T value{};
    type_conversion<T>::from_base(in, ind, value);
    out = value;
  }
  static void to_base(const std::optional<T>& in, base_type& out, indicator& ind) {
    ind = i_null;
    if (in) type_conversion<T>::to_base(*in, out, ind);
  }
};

}  // namespace soci

namespace counterspot {

/// A value in a column, and those of a row: their places in memory stay.
using Cell = std::variant<int, long long, double, std::string, std::optional<double>, std::optional<int>,
                          std::optional<long long>>;
using Cells = std::deque<Cell>;

/// A statement that puts row after row into a table: to prepare it takes longer than to run it.
class Insertion {
 public:
  /// @param row any of its kind.
  Insertion(soci::session& sql, const std::string& words, const std::vector<std::string>& names, Cells row)
      : row_(std::move(row)), statement_(sql) {
    for (std::size_t i = 0; i < row_.size(); ++i)
      std::visit([&](auto& value) { statement_.exchange(soci::use(value, names[i])); }, row_[i]);
    statement_.alloc();
    statement_.prepare(words);
    statement_.define_and_bind();
  }

  void put(Cells row) {
    for (std::size_t i = 0; i < row.size(); ++i) row_[i] = std::move(row[i]);
    statement_.execute(true);
  }

 private:
  Cells row_;  // what the statement is bound to
  soci::statement statement_;
};

}  // namespace counterspot
