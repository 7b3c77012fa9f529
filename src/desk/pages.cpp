// The page itself: its files, and the button that ends the desk.
#include "json.hpp"
#include "page_files.hpp"
#include "shared.hpp"

namespace hairline::desk {
namespace {

std::string type_of(std::string_view name) {
  if (name.ends_with(".js")) return "text/javascript; charset=utf-8";
  if (name.ends_with(".css")) return "text/css; charset=utf-8";
  return "text/html; charset=utf-8";
}

}  // namespace

void add_page_routes(Routes& routes, Shared& shared) {
  for (const PageFile& file : page_files) {
    std::string path = "/";
    if (file.name != "index.html") path += file.name;
    routes.push_back({"GET", path, [&file](const Call&) {
                        return Answer{.type = type_of(file.name), .body = std::string(file.text)};
                      }});
  }
  routes.push_back({"POST", "/api/stop", [&shared](const Call&) {
                      shared.stop();
                      return json_answer(Json::object());
                    }});
}

}  // namespace hairline::desk
