/// JSON texts to values and back; the one place where either is done.
#pragma once
#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

namespace hairline {

/// The same bytes for the same values everywhere; bad UTF-8 becomes U+FFFD. Compact, or with `indent` spaces for each
/// level; without a line break at the end.
std::string json_text(const nlohmann::ordered_json& value, int indent = -1);

/// What keeps a text from being read: it is not JSON (a NUL in it is no end), a number too large, nested over
/// `most_nesting`, over `most_values`.
enum class JsonFault : std::uint8_t { none, syntax, number, deep, large };
struct JsonProblem {
  JsonFault fault = JsonFault::none;
  std::size_t byte = 0;  ///< of syntax and number: counted from 1; 0 where it is not known
};
/// A reader that calls itself for each level must not meet text that is nested deeper.
inline constexpr std::size_t most_nesting = 100;
/// Numbers, texts, lists and objects together; no file of ours comes near.
inline constexpr std::size_t most_values = 4'000'000;
/// Members keep their order; of two with one name the last value stays, in the place of the first. A byte order mark
/// is passed over. Where there is a problem, the value is discarded.
JsonProblem parse_json(std::string_view text, nlohmann::ordered_json& value);
/// The value alone; discarded where there is a problem.
nlohmann::ordered_json json_in(std::string_view text);
/// The object that a text holds; an empty one where it holds none.
nlohmann::ordered_json object_in(const std::string& text);

}  // namespace hairline
