#include "routes.hpp"

#include "../base/percent.hpp"
#include "fragment.hpp"
#include "json.hpp"

namespace hairline::desk {
namespace {

std::string_view next_part(std::string_view& path) {
  path.remove_prefix(1);  // the slash
  const std::size_t end = std::min(path.find('/'), path.size());
  const std::string_view part = path.substr(0, end);
  path.remove_prefix(end);
  return part;
}

// A name in a path: one component, so none that leads elsewhere.
std::optional<std::string> name_of(std::string_view part) {
  auto name = percent_decoded(part);
  if (!name || name->empty() || *name == "." || *name == ".." || name->find('/') != std::string::npos ||
      name->find('\0') != std::string::npos)
    return {};
  return name;
}

// A part of a pattern: "{}", or a word that may have {} before it, as in "{}.png".
bool fits(std::string_view pattern, std::string_view part, std::vector<std::string>& names) {
  if (!pattern.starts_with("{}")) return pattern == part;
  const std::string_view ending = pattern.substr(2);
  if (!part.ends_with(ending)) return false;
  auto name = name_of(part.substr(0, part.size() - ending.size()));
  if (!name) return false;
  names.push_back(std::move(*name));
  return true;
}

bool fits_path(std::string_view pattern, std::string_view path, std::vector<std::string>& names) {
  names.clear();
  while (!pattern.empty() && !path.empty())
    if (!fits(next_part(pattern), next_part(path), names)) return false;
  return pattern.empty() && path.empty();
}

int status_of(ErrorKind kind) {
  if (kind == ErrorKind::not_found) return 404;
  if (kind == ErrorKind::limit) return 413;
  if (kind == ErrorKind::mismatch) return 409;
  return kind == ErrorKind::unwritable || kind == ErrorKind::unreadable ? 500 : 400;
}

Answer refused(int status, const std::string& kind, const std::string& text) {
  return {.status = status, .body = json_text({{"error", {{"kind", kind}, {"text", text}}}})};
}

}  // namespace

std::string Call::asked(const std::string& name) const {
  const auto found = query.find(name);
  return found == query.end() ? std::string() : found->second;
}

const Route* find_route(const Routes& routes, std::string_view method, std::string_view path,
                        std::vector<std::string>& names) {
  for (const Route& route : routes)
    if (route.method == method && path.starts_with('/') && fits_path(route.pattern, path, names)) return &route;
  return nullptr;
}

Answer refusal(const Error& error) {
  return refused(status_of(error.kind), to_string(error.kind), to_paragraph(for_page(error)));
}

Answer refusal(int status, const std::string& text) {
  return refused(status, "request", text);
}

}  // namespace hairline::desk
