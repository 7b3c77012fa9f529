/// JSON of the desk's own requests, answers and files.
#pragma once
#include <nlohmann/json.hpp>
#include <optional>

#include "../base/json.hpp"
#include "routes.hpp"

namespace hairline::desk {

using Json = nlohmann::ordered_json;

inline Answer json_answer(const Json& json) {
  return {.body = json_text(json)};
}

template <class Value>
Json or_null(const std::optional<Value>& value) {
  return value ? Json(*value) : Json();
}

}  // namespace hairline::desk
