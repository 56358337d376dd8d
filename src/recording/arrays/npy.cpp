#include "recording/arrays/npy.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cctype>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>

#include "counterspot/units/error.hpp"
#include "recording/arrays/array_errors.hpp"
#include "recording/arrays/stored_numbers.hpp"

namespace counterspot {

namespace {

constexpr std::uint32_t longest_head = 1U << 20U;

/// The head is a Python literal, which but for its signs is JSON.
std::string json_of_literal(const std::string& literal) {
  std::string json;
  char quote = '\0';
  for (const char c : literal) {
    if (quote != '\0') {
      json += c == quote ? '"' : c;
      if (c == quote) quote = '\0';
      continue;
    }
    if (c == '\'' || c == '"') {
      quote = c;
      json += '"';
    } else if (c == '(' || c == '[') {
      json += '[';
    } else if (c == ')' || c == ']' || c == '}') {
      while (!json.empty() && (json.back() == ',' || json.back() == ' ')) json.pop_back();
      json += c == '}' ? '}' : ']';
    } else if (c == 'T' || c == 'F') {
      json += static_cast<char>(std::tolower(c));
    } else if (c != 'L') {  // Python 2 writes whole numbers as 3L
      json += c;
    }
  }
  return json;
}

/// "<f8" and the like; empty if these are no numbers that we read.
std::optional<NumberType> number_type(const std::string& code) {
  if (code.size() != 3) return std::nullopt;
  NumberType type;
  type.bytes = static_cast<std::size_t>(code[2] - '0');
  type.big_endian = code[0] == '>' || (code[0] == '=' && std::endian::native == std::endian::big);
  const bool power_of_two = type.bytes == 1 || type.bytes == 2 || type.bytes == 4 || type.bytes == 8;
  switch (code[1]) {
    case 'f': type.kind = NumberType::Kind::floating; break;
    case 'i': type.kind = NumberType::Kind::signed_whole; break;
    case 'u': type.kind = NumberType::Kind::unsigned_whole; break;
    default: return std::nullopt;
  }
  if (!power_of_two || (code[1] == 'f' && type.bytes < 4)) return std::nullopt;
  return type;
}

/// Bytes of one item of a type, also of those that are no numbers: "|S12", "<U3" (4 bytes a sign), "<c16", "|b1".
std::size_t item_bytes(const std::string& code) {
  std::size_t number = 0;
  for (const char c : code.substr(std::min<std::size_t>(2, code.size()))) {
    if (c < '0' || c > '9' || number > 1000000) break;  // dates have their unit behind the size
    number = 10 * number + static_cast<std::size_t>(c - '0');
  }
  if (code.ends_with('O')) return sizeof(void*);
  return code.size() > 1 && code[1] == 'U' ? 4 * number : number;
}

std::string what_it_is(const std::string& code) {
  switch (code.size() > 1 ? code[1] : '\0') {
    case 'S':
    case 'a':
    case 'U': return "text";
    case 'c': return "complex numbers";
    case 'b': return "true or false";
    case 'f': return fmt::format("{}-bit float, which is not read", 8 * item_bytes(code));
    case 'M':
    case 'm': return "dates";
    case 'O': return "Python objects";
    default: return fmt::format("'{}'", code);
  }
}

}  // namespace

NpyArrays::NpyArrays(std::unique_ptr<StoredBytes> bytes, std::string name, std::string file)
    : bytes_(std::move(bytes)), name_(std::move(name)), file_(std::move(file)) {
  const std::uint64_t size = bytes_->size();
  std::string start(std::min<std::uint64_t>(size, 12), '\0');
  bytes_->read(0, start);
  if (start.size() < 12 || !start.starts_with(npy_magic)) throw damaged_head(file_);
  const auto byte = [&](std::size_t at) { return static_cast<std::uint32_t>(static_cast<unsigned char>(start[at])); };
  const bool first_version = byte(6) == 1;
  std::uint32_t length = byte(8) | byte(9) << 8U;
  if (!first_version) length |= byte(10) << 16U | byte(11) << 24U;
  const std::uint32_t head_at = first_version ? 10 : 12;
  if (byte(6) < 1 || byte(6) > 3 || length > longest_head || head_at + length > size) throw damaged_head(file_);
  std::string head(length, '\0');
  bytes_->read(head_at, head);
  begin_ = head_at + length;
  try {
    read_head(head);
  } catch (const nlohmann::json::exception&) {
    throw damaged_head(file_);
  }
}

void NpyArrays::read_head(const std::string& head) {
  const auto said = nlohmann::json::parse(json_of_literal(head));
  Field model;
  model.info.shape = said.at("shape").get<std::vector<std::size_t>>();
  model.info.first_axis_fastest = said.at("fortran_order").get<bool>();
  const nlohmann::json& descr = said.at("descr");
  if (descr.is_string()) {
    add_field(name_, descr, model);
  } else {
    for (const auto& field : descr) {
      const std::string name = (field.at(0).is_string() ? field.at(0) : field.at(0).at(1)).get<std::string>();
      const nlohmann::json& type = field.size() > 2 ? field : field.at(1);
      add_field(name_.empty() ? name : name_ + "." + name, type, model);
    }
  }
  std::uint64_t values = 1;
  for (const std::size_t length : model.info.shape) {
    if (length > 0 && values > std::numeric_limits<std::uint32_t>::max() * std::uint64_t{1024} / length)
      throw damaged_head(file_);
    values *= length;
  }
  const std::uint64_t there = bytes_->size() - begin_;
  if (record_bytes_ == 0 || there / record_bytes_ >= values) return;
  throw Error(Trouble::recording, "short_data",
              fmt::format("{} announces {} values a column and holds {}", file_, values, there / record_bytes_),
              "copy the recording again: this copy was cut off");
}

/// @param descr a type, or of a field that holds several of it: its name, type and shape.
void NpyArrays::add_field(const std::string& name, const nlohmann::json& descr, const Field& model) {
  std::size_t bytes = 0;
  if (descr.is_string()) {
    const auto code = descr.get<std::string>();
    bytes = item_bytes(code);
    if (const auto type = number_type(code)) {
      Field field = model;
      field.info.name = name;
      field.info.type = words_of(*type);
      field.info.digits = digits_of(*type);
      field.info.whole_numbers = type->kind != NumberType::Kind::floating;
      field.type = *type;
      field.offset = record_bytes_;
      fields_.push_back(std::move(field));
    } else {
      others_.push_back({name, what_it_is(code)});
    }
  } else if (descr.at(1).is_string() && descr.at(2).is_array()) {
    bytes = item_bytes(descr.at(1).get<std::string>());
    for (const auto& length : descr.at(2)) bytes *= std::min<std::size_t>(length.get<std::size_t>(), longest_head);
    others_.push_back({name, "several values a record"});
  } else {
    throw damaged_head(file_);
  }
  if (bytes == 0 || bytes > longest_head) throw damaged_head(file_);
  record_bytes_ += bytes;
}

void NpyArrays::read(std::size_t field, std::size_t first, std::span<double> values) {
  const Field& meant = fields_.at(field);
  read_numbers(*bytes_, {begin_ + meant.offset, record_bytes_, meant.type}, first, values, block_);
}

}  // namespace counterspot
