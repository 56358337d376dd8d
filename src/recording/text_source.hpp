#pragma once

#include <memory>
#include <span>
#include <string>

#include "recording/byte_source.hpp"

namespace counterspot {

/// A text in UTF-8, whatever it is written in. What that is comes from its byte order mark, from the noughts between
/// the letters of UTF-16, or, where bytes are no UTF-8, is taken for Latin-1.
class TextSource {
 public:
  /// @param encoding what a rig file says: "UTF-8", "UTF-16", "Latin-1", or any other name that iconv knows; empty: to
  /// be found out. @throws Error(request, "bad_encoding") for a name that it does not know.
  TextSource(ByteSource source, const std::string& encoding);
  TextSource(TextSource&&) noexcept;
  ~TextSource();

  const std::string& name() const { return source_.name(); }
  const std::string& encoding() const { return encoding_; }

  /// The next bytes, without a byte order mark; fewer than asked for only at the end.
  /// @throws Error(recording, "unreadable") with the line, for what its encoding does not have; and as ByteSource does.
  std::size_t read(std::span<char> bytes);

 private:
  class Converter;

  ByteSource source_;
  std::string encoding_;
  std::unique_ptr<Converter> converter_;  ///< none for UTF-8
};

}  // namespace counterspot
