// Reads the fields of one JSON object and remembers the first thing that is wrong, by its full name.
#pragma once
#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "calibrate_text.hpp"
#include "hairline/result.hpp"
#include "ranges.hpp"

namespace hairline {

/// The first error of one document. Later ones are dropped: a person mends one thing at a time.
struct FirstError {
  std::string file;
  std::optional<Error> error;

  void set(ErrorKind kind, std::string found, std::string expected, std::string advice) {
    if (error) return;
    error = Error{kind, file, std::nullopt, std::move(found), std::move(expected), std::move(advice)};
  }
  void invalid(const std::string& field, const std::string& is, const std::string& expected) {
    set(ErrorKind::invalid, field + " " + is, expected, "Correct " + field + ", or leave it out if it is not known.");
  }
};

class Fields {
 public:
  Fields(const nlohmann::ordered_json& object, std::string where, FirstError& first)
      : object_(object), where_(std::move(where)), first_(first) {}

  std::string name(const std::string& key) const { return where_.empty() ? key : where_ + "." + key; }

  /// The value, or null where the key is absent or holds null.
  const nlohmann::ordered_json* find(const char* key) const {
    if (!object_.is_object()) return nullptr;
    const auto found = object_.find(key);
    return found == object_.end() || found->is_null() ? nullptr : &*found;
  }

  std::optional<double> number(const char* key, const ranges::Range& range) const {
    const auto* value = find(key);
    if (!value) return std::nullopt;
    if (!value->is_number()) {
      first_.invalid(name(key), "is " + short_json(*value), range.words());
      return std::nullopt;
    }
    const double number = value->get<double>();
    if (!range.holds(number)) {
      first_.invalid(name(key), "is " + short_json(*value), range.words());
      return std::nullopt;
    }
    return number;
  }

  double required(const char* key, const ranges::Range& range) const {
    if (!find(key)) missing(key, range.words());
    return number(key, range).value_or(0);
  }

  void missing(const char* key, const std::string& expected) const {
    const std::string owner = where_.empty() ? "the record" : where_;
    first_.set(ErrorKind::invalid, owner + " has no " + key, expected, "Add " + name(key) + ".");
  }

  std::string text(const char* key) const {
    const auto* value = find(key);
    if (!value) return "";
    if (!value->is_string()) {
      first_.invalid(name(key), "is " + short_json(*value), "a text");
      return "";
    }
    return value->get<std::string>();
  }

  /// An object or array member; an empty one where it is absent.
  const nlohmann::ordered_json& object(const char* key) const { return container(key, true); }
  const nlohmann::ordered_json& array(const char* key) const { return container(key, false); }

 private:
  const nlohmann::ordered_json& container(const char* key, bool object) const {
    static const nlohmann::ordered_json no_object = nlohmann::ordered_json::object();
    static const nlohmann::ordered_json no_array = nlohmann::ordered_json::array();
    const auto& none = object ? no_object : no_array;
    const auto* value = find(key);
    if (!value) return none;
    if (object ? value->is_object() : value->is_array()) return *value;
    first_.invalid(name(key), "is " + short_json(*value), object ? "a JSON object" : "a JSON array");
    return none;
  }

  const nlohmann::ordered_json& object_;
  std::string where_;
  FirstError& first_;
};

}  // namespace hairline
