#include "recording/arrays/universal.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

#include "counterspot/units/error.hpp"
#include "recording/arrays/array_errors.hpp"
#include "recording/arrays/stored_numbers.hpp"
#include "recording/column_units.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

constexpr std::size_t longest_line = 4096;
constexpr std::size_t lines_of_head = 11;

bool is_mark(std::string_view line) {
  return line.starts_with("    -1") && trimmed(line) == "-1";
}

/// A part of a line that holds one number; what is not there is 0, as where a writer leaves out the end.
template <typename Number>
Number number_at(std::string_view line, std::size_t begin, std::size_t width) {
  const std::string_view cell = trimmed(line.substr(std::min(begin, line.size()), width));
  Number value{};
  if constexpr (std::is_floating_point_v<Number>) {
    fast_float::from_chars(cell.data(), cell.data() + cell.size(), value);
  } else {
    std::from_chars(cell.data(), cell.data() + cell.size(), value);
  }
  return value;
}

std::string text_at(std::string_view line, std::size_t begin, std::size_t width) {
  return std::string(trimmed(line.substr(std::min(begin, line.size()), width)));
}

bool names_nothing(const std::string& name) {
  return name.empty() || name == "NONE";
}

/// "12:+Z" of the sixth line: node and direction of the response.
std::string node_of(std::string_view line) {
  constexpr std::array<const char*, 4> axes = {"", "X", "Y", "Z"};
  const int node = number_at<int>(line, 41, 10);
  const int direction = number_at<int>(line, 51, 4);
  const auto axis = static_cast<std::size_t>(std::abs(direction));
  if (axis == 0 || axis >= axes.size()) return std::to_string(node);
  return fmt::format("{}:{}{}", node, direction < 0 ? '-' : '+', axes.at(axis));
}

/// Of the ninth line: the label if it is a unit; else what kind of quantity it is, in SI where the file says so.
std::string unit_of(std::string_view line, bool in_si) {
  const std::string label = text_at(line, 47, 20);
  if (!names_nothing(label)) return known_unit(label).value_or(label);
  switch (number_at<int>(line, 0, 10)) {
    case 8: return in_si ? "m" : "displacement of unknown unit";
    case 11: return in_si ? "m/s" : "velocity of unknown unit";
    case 12: return in_si ? "m/s2" : "acceleration of unknown unit";
    default: return "";
  }
}

}  // namespace

/// Lines of a file, with where each begins.
class UniversalFile::Lines {
 public:
  Lines(StoredBytes& bytes, std::uint64_t at) : bytes_(bytes), block_at_(at) {}

  /// Without the line's end; of a longer line the first 4096 bytes. False at the end.
  bool next() {
    line.clear();
    if (!fill()) return false;
    bool ended = false;
    while (!ended && fill()) {
      const auto begin = block_.begin() + static_cast<std::ptrdiff_t>(used_);
      const auto end = std::find(begin, block_.end(), '\n');
      ended = end != block_.end();
      const auto length = static_cast<std::size_t>(end - begin);
      line.append(begin, begin + static_cast<std::ptrdiff_t>(std::min(length, longest_line - line.size())));
      used_ += length + (ended ? 1 : 0);
    }
    if (line.ends_with('\r')) line.pop_back();
    ++number;
    return true;
  }

  std::uint64_t at() const { return block_at_ + used_; }
  void skip(std::uint64_t count) {
    block_at_ = at() + count;
    block_.clear();
    used_ = 0;
  }

  std::string line;
  std::int64_t number = 0;

 private:
  bool fill() {
    if (used_ < block_.size()) return true;
    block_at_ += block_.size();
    used_ = 0;
    const std::uint64_t left = bytes_.size() - std::min(bytes_.size(), block_at_);
    block_.resize(std::min<std::uint64_t>(left, std::uint64_t{1} << 18U));
    if (!block_.empty()) bytes_.read(block_at_, block_);
    return !block_.empty();
  }

  StoredBytes& bytes_;
  std::vector<char> block_;
  std::uint64_t block_at_;
  std::size_t used_ = 0;
};

bool is_universal(std::string_view head) {
  const auto first_end = head.find('\n');
  if (first_end == std::string_view::npos || !is_mark(head.substr(0, first_end))) return false;
  const std::string_view second = head.substr(first_end + 1, 6);
  const std::string_view number = trimmed(second);
  return second.size() == 6 && second[0] == ' ' && number.size() >= 2 && number.size() <= 5 &&
         std::all_of(number.begin(), number.end(), [](char c) { return c >= '0' && c <= '9'; });
}

UniversalFile::~UniversalFile() = default;

UniversalFile::UniversalFile(std::unique_ptr<StoredBytes> bytes, std::string file)
    : bytes_(std::move(bytes)), file_(std::move(file)) {
  format_ = "universal file";
  Lines lines(*bytes_, 0);
  bool inside = false;
  while (lines.next()) {
    if (is_mark(lines.line)) {
      inside = !inside;
      if (!inside || !lines.next()) continue;
      const std::string head = lines.line;
      const int dataset = number_at<int>(head, 0, 6);
      if (dataset == 58) read_record(lines, head);
      if (dataset == 164 && lines.next()) units_ = number_at<int>(lines.line, 0, 10);
    }
  }
  name_records();
}

void UniversalFile::read_record(Lines& lines, const std::string& head) {
  std::array<std::string, lines_of_head> about;
  for (std::string& line : about) {
    if (!lines.next()) throw damaged_head(file_);
    line = lines.line;
  }
  const int ordinate = number_at<int>(about[6], 0, 10);
  const auto values = number_at<std::int64_t>(about[6], 10, 10);
  const bool even = number_at<int>(about[6], 20, 10) == 1;
  const auto interval_s = number_at<double>(about[6], 43, 13);
  const bool binary = head.size() > 6 && (head[6] == 'b' || head[6] == 'B');
  const bool big_endian = number_at<int>(head, 7, 6) == 2;
  const auto bytes = number_at<std::int64_t>(head, 31, 12);
  const std::string name = text_at(about[0], 0, 80);
  const std::string shown = names_nothing(name) ? node_of(about[5]) : name;
  auto leave_out = [&](const std::string& what) { others_.push_back({shown, what}); };
  const bool is_time = number_at<int>(about[7], 0, 10) == 17;
  const bool real = ordinate == 2 || ordinate == 4;
  Record record;
  record.begin = lines.at();
  record.node = node_of(about[5]);
  record.values = static_cast<std::size_t>(std::max<std::int64_t>(values, 0));
  if (binary) record.type = NumberType{NumberType::Kind::floating, ordinate == 4 ? 8U : 4U, big_endian};
  if (binary) {
    if (bytes < 0 || lines.at() + static_cast<std::uint64_t>(bytes) > bytes_->size()) {
      throw Error(Trouble::recording, "short_data",
                  fmt::format("{}, line {}: the values are cut off", file_, lines.number),
                  "copy the recording again: this copy was cut off");
    }
    lines.skip(static_cast<std::uint64_t>(bytes));
  }
  if (!is_time) return leave_out("no record over time");
  if (!real) return leave_out("complex numbers");
  if (!even || !(interval_s > 0.0)) return leave_out("values at uneven times, which are not read from this format");
  if (binary && number_at<int>(head, 13, 6) != 2) return leave_out("numbers of an old kind of computer");
  if (binary && static_cast<std::uint64_t>(bytes) / record.type->bytes < record.values) throw damaged_head(file_);
  // A value takes two signs at least.
  if (!binary && record.values > (bytes_->size() - record.begin) / 2) throw damaged_head(file_);
  ArrayInfo info;
  info.name = shown;
  info.shape = {record.values};
  info.type = ordinate == 4 ? "64-bit float" : "32-bit float";
  info.unit = unit_of(about[8], units_ == 1);
  info.sample_rate_Hz = 1.0 / interval_s;
  arrays_.push_back(std::move(info));
  records_.push_back(std::move(record));
}

/// Records that are called alike are told apart by their nodes, and else by their numbers.
void UniversalFile::name_records() {
  auto twice = [&](const std::string& name) {
    return std::count_if(arrays_.begin(), arrays_.end(), [&](const ArrayInfo& one) { return one.name == name; }) > 1;
  };
  std::vector<std::size_t> alike;
  for (std::size_t i = 0; i < arrays_.size(); ++i)
    if (twice(arrays_[i].name)) alike.push_back(i);
  for (const std::size_t i : alike) arrays_[i].name = records_[i].node;
  alike.clear();
  for (std::size_t i = 0; i < arrays_.size(); ++i)
    if (twice(arrays_[i].name)) alike.push_back(i);
  for (const std::size_t i : alike) arrays_[i].name += fmt::format(" {}", i + 1);
}

void UniversalFile::read(std::size_t array, std::size_t first, std::span<double> values) {
  const Record& record = records_.at(array);
  if (!record.type) return read_text(array, first, values);
  read_numbers(*bytes_, {record.begin, record.type->bytes, *record.type}, first, values, block_);
}

/// Of a record of numbers between blanks, from where the last call came to.
void UniversalFile::read_text(std::size_t array, std::size_t first, std::span<double> values) {
  Record& record = records_[array];
  if (!record.text || first < record.next) {
    record.text = std::make_unique<Lines>(*bytes_, record.begin);
    record.line.clear();
    record.next = record.used = 0;
  }
  for (std::size_t done = 0; done < values.size();) {
    if (record.used == record.line.size()) {
      read_line(array);
      continue;
    }
    const double value = record.line[record.used++];
    if (record.next++ >= first) values[done++] = value;
  }
}

void UniversalFile::read_line(std::size_t array) {
  Record& record = records_[array];
  Lines& lines = *record.text;
  if (!lines.next() || is_mark(lines.line)) throw unreadable_array(file_, arrays_[array].name);
  record.line.clear();
  record.used = 0;
  for (std::string_view rest = trimmed(lines.line); !rest.empty();) {
    double value = 0.0;
    const auto [end, trouble] = fast_float::from_chars(rest.data(), rest.data() + rest.size(), value);
    if (trouble != std::errc()) {
      throw Error(
          Trouble::recording, "unreadable",
          fmt::format("{}: '{}' stands where a value of '{}' should", file_, rest.substr(0, 20), arrays_[array].name),
          "copy the recording again from where it was made");
    }
    record.line.push_back(value);
    rest = trimmed(rest.substr(static_cast<std::size_t>(end - rest.data())));
  }
}

}  // namespace counterspot
