/// Kinds of errors as words, in the order of the enum; the argument only says which enum.
#pragma once
#include <array>

#include "hairline/result.hpp"

namespace hairline {

constexpr std::array<const char*, 10> words_for(ErrorKind) {
  return {"usage",    "not_found", "unreadable", "broken",     "invalid",
          "mismatch", "version",   "limit",      "unwritable", "cancelled"};
}

}  // namespace hairline
