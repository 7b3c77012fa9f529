#include "fragment.hpp"

#include "../report/html.hpp"
#include "json.hpp"

namespace hairline::desk {

std::string fragment_of(const Document& document) {
  return html_of(document);
}

std::map<std::string, std::string, std::less<>> texts_in(const std::string& json) {
  std::map<std::string, std::string, std::less<>> texts;
  const Json object = Json::parse(json, nullptr, false);
  if (object.is_object())
    for (const auto& [name, value] : object.items())
      if (value.is_string()) texts[name] = value.get<std::string>();
  return texts;
}

}  // namespace hairline::desk
