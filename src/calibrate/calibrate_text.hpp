// Small texts used in several messages.
#pragma once
#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <string>

namespace hairline {

/// A JSON value as it may be quoted in a message: at most 60 bytes.
inline std::string short_json(const nlohmann::ordered_json& value) {
  if (value.is_object()) return "a JSON object";
  if (value.is_array()) return "a JSON array";
  std::string text = value.dump(-1, ' ', true, nlohmann::ordered_json::error_handler_t::replace);
  if (text.size() > 60) text = text.substr(0, 57) + "...";
  return text;
}

/// The object that a text kept in a record holds; an empty one where it holds none.
inline nlohmann::ordered_json object_in(const std::string& text) {
  auto value = nlohmann::ordered_json::parse(text, nullptr, false);
  return value.is_object() ? value : nlohmann::ordered_json::object();
}

/// JSON as a record keeps it.
inline std::string json_text(const nlohmann::ordered_json& value) {
  return value.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
}

/// A number as people write it: 4 significant digits, no trailing zeros.
inline std::string plain(double value) {
  return fmt::format("{:.4g}", value);
}

}  // namespace hairline
