#pragma once

#include <functional>
#include <string>

#include "counterspot/units/error.hpp"

namespace counterspot::test {

/// Of the library's error that ends the work; empty if none does.
inline std::string code_of(const std::function<void()>& work) {
  try {
    work();
  } catch (const Error& error) {
    return error.code();
  }
  return "";
}

}  // namespace counterspot::test
