#include "counterspot/model/place.hpp"

namespace counterspot {

namespace {

constexpr std::string_view support_word = "support ";
constexpr std::string_view mode_word = "mode ";

}  // namespace

std::string_view support_name(Support support) {
  switch (support) {
    case Support::a: return "A";
    case Support::b: return "B";
    case Support::c: return "C";
  }
  return "";
}

std::string HeldPlace::text() const {
  return kind == Kind::plane ? name : with_kind();
}

std::string HeldPlace::with_kind() const {
  switch (kind) {
    case Kind::plane: return "plane " + name;
    case Kind::support: return std::string(support_word) + name;
    case Kind::mode: return std::string(mode_word) + name;
  }
  return name;
}

HeldPlace at_support(Support support) {
  return {std::string(support_name(support)), HeldPlace::Kind::support};
}

HeldPlace at_mode(std::size_t number) {
  return {std::to_string(number), HeldPlace::Kind::mode};
}

HeldPlace place_of(const std::string& text) {
  if (text.starts_with(support_word)) return {text.substr(support_word.size()), HeldPlace::Kind::support};
  if (text.starts_with(mode_word)) return {text.substr(mode_word.size()), HeldPlace::Kind::mode};
  return {text};
}

}  // namespace counterspot
