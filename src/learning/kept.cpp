#include "counterspot/model/kept.hpp"

#include "counterspot/files/files.hpp"

namespace counterspot {

template <>
Rig Kept<Rig>::read(const std::string& text, const std::string& path) {
  return read_rig_text(text, path);
}

template <>
Shaft Kept<Shaft>::read(const std::string& text, const std::string& path) {
  return kept_shaft(text, path);
}

}  // namespace counterspot
