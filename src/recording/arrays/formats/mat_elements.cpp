#include "recording/arrays/formats/mat_elements.hpp"

#include <fmt/format.h>
#include <zlib.h>

#include <algorithm>
#include <array>
#include <bit>
#include <memory>
#include <optional>

#include "recording/arrays/array_errors.hpp"

namespace counterspot {

namespace {

constexpr std::uint64_t head_bytes = 128;
constexpr std::uint64_t tag_bytes = 8;

constexpr std::uint32_t variable_element = 14;
constexpr std::uint32_t compressed_element = 15;

struct Element {
  std::uint32_t type = 0;
  std::uint64_t begin = 0;  ///< of what stands in it
  std::uint64_t end = 0;
};

/// The two numbers before an element: its type and its length.
struct Tag {
  std::uint32_t type;
  std::uint32_t length;
};

Tag tag_at(StoredBytes& bytes, std::uint64_t at, bool big_endian) {
  std::array<std::uint32_t, 2> words{};
  std::array<char, tag_bytes> stored{};
  bytes.read(at, stored);
  for (std::size_t i = 0; i < stored.size(); ++i)
    words[i / 4] |= std::uint32_t{static_cast<unsigned char>(stored[i])} << (8 * (big_endian ? 3 - i % 4 : i % 4));
  return {words[0], words[1]};
}

bool is_big_endian(StoredBytes& bytes, const std::string& file) {
  std::array<char, head_bytes> head{};
  if (bytes.size() < head_bytes) throw damaged_head(file);
  bytes.read(0, head);
  return head[head_bytes - 2] == 'M';
}

std::vector<Element> elements_of(StoredBytes& bytes, const std::string& file, bool big_endian) {
  std::vector<Element> elements;
  for (std::uint64_t at = head_bytes; at < bytes.size(); at = elements.back().end) {
    const bool room = bytes.size() - at >= tag_bytes;
    const Tag tag = room ? tag_at(bytes, at, big_endian) : Tag{};
    const std::uint64_t begin = at + tag_bytes;
    if (!room || bytes.size() - begin < tag.length) {
      throw Error(Trouble::recording, "short_data", fmt::format("{} is cut off", file),
                  "copy the recording again from where it was made");
    }
    elements.push_back({tag.type, begin, begin + tag.length});
  }
  return elements;
}

/// Goes through a compressed element, whose end is a checksum over all of it.
bool is_sound(StoredBytes& bytes, const Element& element) {
  z_stream stream{};
  if (inflateInit(&stream) != Z_OK) return false;
  const std::unique_ptr<z_stream, decltype(&inflateEnd)> end(&stream, inflateEnd);
  std::vector<char> packed(std::size_t{1} << 16U);
  std::vector<Bytef> unpacked(std::size_t{1} << 18U);
  int state = Z_OK;
  for (std::uint64_t at = element.begin; state == Z_OK && at < element.end;) {
    const auto part = std::span(packed).first(std::min<std::uint64_t>(packed.size(), element.end - at));
    bytes.read(at, part);
    at += part.size();
    stream.next_in = reinterpret_cast<Bytef*>(part.data());
    stream.avail_in = static_cast<uInt>(part.size());
    do {
      stream.next_out = unpacked.data();
      stream.avail_out = static_cast<uInt>(unpacked.size());
      state = inflate(&stream, Z_NO_FLUSH);
    } while (state == Z_OK && (stream.avail_in > 0 || stream.avail_out == 0));
    if (state == Z_BUF_ERROR) state = Z_OK;  // all that was there is used up
  }
  return state == Z_STREAM_END;
}

/// By the type of the element that numbers stand in.
std::optional<NumberType> number_type(std::uint32_t element, bool big_endian) {
  using Kind = NumberType::Kind;
  switch (element) {
    case 1: return NumberType{Kind::signed_whole, 1, big_endian};
    case 2: return NumberType{Kind::unsigned_whole, 1, big_endian};
    case 3: return NumberType{Kind::signed_whole, 2, big_endian};
    case 4: return NumberType{Kind::unsigned_whole, 2, big_endian};
    case 5: return NumberType{Kind::signed_whole, 4, big_endian};
    case 6: return NumberType{Kind::unsigned_whole, 4, big_endian};
    case 7: return NumberType{Kind::floating, 4, big_endian};
    case 9: return NumberType{Kind::floating, 8, big_endian};
    case 12: return NumberType{Kind::signed_whole, 8, big_endian};
    case 13: return NumberType{Kind::unsigned_whole, 8, big_endian};
    default: return std::nullopt;
  }
}

/// The elements that a variable is made of, one behind the other.
class Parts {
 public:
  Parts(StoredBytes& bytes, const Element& variable, bool big_endian)
      : bytes_(bytes), big_endian_(big_endian), at_(variable.begin), end_(variable.end) {}

  /// Empty where it is not all there. Up to four bytes may stand in the tag, with their number above the type; what
  /// stands behind it is filled up to eights.
  std::optional<Element> next() {
    if (end_ - at_ < tag_bytes) return std::nullopt;
    const Tag tag = tag_at(bytes_, at_, big_endian_);
    const std::uint32_t in_tag = tag.type >> 16U;
    if (in_tag > tag_bytes / 2) return std::nullopt;
    const std::uint64_t begin = at_ + (in_tag > 0 ? tag_bytes / 2 : tag_bytes);
    const std::uint64_t length = in_tag > 0 ? in_tag : tag.length;
    if (end_ - begin < length) return std::nullopt;
    const std::uint64_t behind = in_tag > 0 ? at_ + tag_bytes : begin + (length + 7) / 8 * 8;
    at_ = std::min(end_, behind);
    return Element{tag.type & 0xFFFFU, begin, begin + length};
  }

 private:
  StoredBytes& bytes_;
  bool big_endian_;
  std::uint64_t at_;
  std::uint64_t end_;
};

constexpr std::uint32_t longest_name = 256;
constexpr std::uint32_t longest_names = 1U << 16U;  // of a structure's fields

std::string text_of(StoredBytes& bytes, const Element& element, std::uint64_t longest) {
  std::string text(std::min(element.end - element.begin, longest), '\0');
  bytes.read(element.begin, text);
  return text;
}

/// The variables of a file, and the fields of its structures.
class PlainVariables {
 public:
  PlainVariables(StoredBytes& bytes, bool big_endian) : bytes_(bytes), big_endian_(big_endian) {}

  /// @param field_name of a field of a structure, which has none of its own.
  void add(const Element& variable, const std::string& field_name = "", int depth = 0) {
    constexpr std::uint32_t structure_class = 2;
    Parts parts(bytes_, variable, big_endian_);
    const auto flags = parts.next();
    const auto dimensions = parts.next();
    const auto own_name = parts.next();
    if (!flags || !dimensions || !own_name || flags->end - flags->begin != tag_bytes) return;
    const std::string name = depth == 0 ? text_of(bytes_, *own_name, longest_name) : field_name;
    if ((tag_at(bytes_, flags->begin, big_endian_).type & 0xFFU) == structure_class)
      return add_fields(parts, name, depth);
    const auto values = parts.next();
    const auto type = values ? number_type(values->type, big_endian_) : std::nullopt;
    if (!type) return;
    found_.push_back({name, {values->begin, type->bytes, *type}, (values->end - values->begin) / type->bytes});
  }

  std::vector<PlainVariable> found() && { return std::move(found_); }

 private:
  static constexpr int deepest = 8;

  /// What follows in a structure: how long the names of its fields are, all of them, and a variable for each.
  void add_fields(Parts& parts, const std::string& name, int depth) {
    const auto length = parts.next();
    const auto names = parts.next();
    if (depth == deepest || !length || !names || length->end - length->begin != 4) return;
    const std::uint32_t room = tag_at(bytes_, length->begin, big_endian_).type;
    const std::string all = text_of(bytes_, *names, longest_names);
    if (room == 0 || room > longest_name) return;
    for (std::size_t begin = 0; all.size() - begin >= room; begin += room) {
      const auto field = parts.next();
      if (!field) return;
      if (field->type == variable_element) add(*field, name + "." + all.substr(begin, room).c_str(), depth + 1);
    }
  }

  StoredBytes& bytes_;
  bool big_endian_;
  std::vector<PlainVariable> found_;
};

}  // namespace

std::vector<PlainVariable> plain_variables(StoredBytes& bytes, const std::string& file) {
  const bool big_endian = is_big_endian(bytes, file);
  PlainVariables variables(bytes, big_endian);
  for (const Element& element : elements_of(bytes, file, big_endian)) {
    if (element.type == compressed_element && !is_sound(bytes, element)) {
      throw Error(Trouble::recording, "unreadable",
                  fmt::format("{} is damaged behind its byte {}", file, element.begin),
                  "copy the recording again from where it was made, or record the spin again");
    }
    if (element.type == variable_element) variables.add(element);
  }
  return std::move(variables).found();
}

}  // namespace counterspot
