/// JSON of the desk's own requests and files.
#pragma once
#include <nlohmann/json.hpp>
#include <string>

namespace hairline::desk {

using Json = nlohmann::ordered_json;

/// Bad UTF-8 is replaced: names may hold any bytes.
inline std::string text_of(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace hairline::desk
