#include "recording/text_source.hpp"

#include <fmt/format.h>
#include <iconv.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <vector>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr std::string_view utf_8_mark = "\xEF\xBB\xBF";
constexpr std::size_t mark_bytes_utf_16 = 2;

/// How long the character of UTF-8 is that a text begins with; 0 if it begins with none.
std::size_t utf_8_length(std::string_view text) {
  const auto first = static_cast<unsigned char>(text[0]);
  const std::size_t length = first < 0x80   ? 1
                             : first < 0xC2 ? 0
                             : first < 0xE0 ? 2
                             : first < 0xF0 ? 3
                             : first < 0xF5 ? 4
                                            : 0;
  for (std::size_t i = 1; i < std::min(length, text.size()); ++i)
    if ((static_cast<unsigned char>(text[i]) & 0xC0U) != 0x80U) return 0;
  return length;
}

/// Whether a text is UTF-8 but perhaps for a character cut at its end.
bool is_utf_8(std::string_view text) {
  while (!text.empty()) {
    const std::size_t length = utf_8_length(text);
    if (length == 0) return false;
    text.remove_prefix(std::min(length, text.size()));
  }
  return true;
}

/// Letters, digits and signs of UTF-16 have a nought in every second byte: at the odd places if the lower byte comes
/// first.
std::string utf_16_without_mark(std::string_view text) {
  std::size_t noughts[2] = {0, 0};
  for (std::size_t i = 0; i < text.size(); ++i) noughts[i % 2] += text[i] == '\0' ? 1 : 0;
  const std::size_t most = text.size() / 2;
  if (text.size() < 8) return "";
  if (noughts[1] * 10 > most * 9 && noughts[0] * 10 < most) return "UTF-16LE";
  if (noughts[0] * 10 > most * 9 && noughts[1] * 10 < most) return "UTF-16BE";
  return "";
}

std::string encoding_of(std::string_view head) {
  if (head.starts_with("\xFF\xFE")) return "UTF-16LE";
  if (head.starts_with("\xFE\xFF")) return "UTF-16BE";
  if (const std::string found = utf_16_without_mark(head.substr(0, 4096)); !found.empty()) return found;
  return is_utf_8(head) ? "UTF-8" : "ISO-8859-1";
}

}  // namespace

/// The text through iconv (POSIX.1), block by block.
class TextSource::Converter {
 public:
  Converter(const std::string& encoding, const std::string& name)
      : name_(name), encoding_(encoding), state_(iconv_open("UTF-8", encoding.c_str())) {
    if (state_ == no_state()) {
      throw Error(Trouble::request, "bad_encoding",
                  fmt::format("'{}' is no way of writing text that is known here", encoding),
                  "write encoding = \"UTF-8\", \"UTF-16\", \"Latin-1\" or another name that 'iconv --list' shows");
    }
  }
  ~Converter() {
    if (state_ != no_state()) iconv_close(state_);
  }
  Converter(const Converter&) = delete;
  Converter& operator=(const Converter&) = delete;

  std::size_t read(ByteSource& source, std::span<char> wanted) {
    std::size_t done = 0;
    while (done < wanted.size()) {
      if (given_ == plain_.size() && !convert(source)) break;
      const std::size_t part = std::min(wanted.size() - done, plain_.size() - given_);
      std::memcpy(wanted.data() + done, plain_.data() + given_, part);
      given_ += part;
      done += part;
    }
    return done;
  }

 private:
  static iconv_t no_state() { return reinterpret_cast<iconv_t>(-1); }  // POSIX's value for 'none'

  /// Makes the next block of `plain_`; false at the end.
  bool convert(ByteSource& source) {
    constexpr std::size_t block_bytes = std::size_t{1} << 16;
    const std::size_t kept = rest_.size();
    rest_.resize(kept + block_bytes);
    const std::size_t got = source.read(std::span(rest_).subspan(kept));
    rest_.resize(kept + got);
    if (rest_.empty()) return false;
    plain_.resize(3 * rest_.size() + 8);  // a character of two bytes is one of three in UTF-8 at most
    given_ = 0;
    char* from = rest_.data();
    std::size_t left = rest_.size();
    char* to = plain_.data();
    std::size_t room = plain_.size();
    const bool all = iconv(state_, &from, &left, &to, &room) != static_cast<std::size_t>(-1);
    const bool cut = !all && errno == EINVAL;  // within a character
    plain_.resize(plain_.size() - room);
    if ((!all && !cut) || (cut && got == 0)) refuse();
    lines_ += std::count(plain_.begin(), plain_.end(), '\n');
    rest_.erase(rest_.begin(), rest_.end() - static_cast<std::ptrdiff_t>(left));
    return !plain_.empty() || convert(source);
  }

  [[noreturn]] void refuse() const {
    throw Error(
        Trouble::recording, "unreadable",
        fmt::format("{}, line {} holds bytes that are no {}", name_,
                    1 + lines_ + std::count(plain_.begin(), plain_.end(), '\n'), encoding_),
        "save it as CSV in UTF-8, or say what it is written in: encoding = \"Latin-1\" under [recording] in the "
        "rig file");
  }

  std::string name_;
  std::string encoding_;
  iconv_t state_;
  std::vector<char> rest_;   ///< not yet converted
  std::vector<char> plain_;  ///< converted, given out up to `given_`
  std::size_t given_ = 0;
  std::int64_t lines_ = 0;
};

TextSource::TextSource(ByteSource source, const std::string& encoding)
    : source_(std::move(source)), encoding_(encoding.empty() ? encoding_of(source_.head()) : encoding) {
  if (encoding_ == "Latin-1") encoding_ = "ISO-8859-1";
  const std::string_view head = source_.head();
  if (encoding_ == "UTF-16" && !head.starts_with("\xFF\xFE") && !head.starts_with("\xFE\xFF")) encoding_ = "UTF-16LE";
  if (encoding_ != "UTF-8") converter_ = std::make_unique<Converter>(encoding_, source_.name());
  char mark[3];
  if (head.starts_with(utf_8_mark)) {
    source_.read(mark);
  } else if ((encoding_ == "UTF-16LE" && head.starts_with("\xFF\xFE")) ||
             (encoding_ == "UTF-16BE" && head.starts_with("\xFE\xFF"))) {
    source_.read(std::span(mark, mark_bytes_utf_16));
  }
  if (encoding_ == "ISO-8859-1") encoding_ = "Latin-1";
}

TextSource::TextSource(TextSource&&) noexcept = default;
TextSource::~TextSource() = default;

std::size_t TextSource::read(std::span<char> bytes) {
  return converter_ ? converter_->read(source_, bytes) : source_.read(bytes);
}

}  // namespace counterspot
