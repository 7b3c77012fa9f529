/// What all parts of the desk share, and the list of parts.
#pragma once
#include <functional>

#include "folder.hpp"
#include "hairline/desk.hpp"
#include "hairline/night.hpp"
#include "routes.hpp"

namespace hairline::desk {

struct Shared {
  DeskSettings settings;
  Folder folder;
  ReportCache cache;
  std::function<void()> stop;  ///< ends the desk, from any thread
  /// YYYY-MM-DD
  std::string today() const;
  /// "2026-11-26T21:05", local
  std::string now() const;
};

/// What answers a route, as a function of what is shared and the call.
inline auto with(Shared& shared, Answer (*answer)(Shared& shared, const Call& call)) {
  return [&shared, answer](const Call& call) { return answer(shared, call); };
}

/// One function for each part; what it keeps lives as long as the routes.
using AddRoutes = void(Routes& routes, Shared& shared);
AddRoutes add_page_routes, add_job_routes, add_layer_routes, add_record_routes, add_outcome_routes, add_night_routes;

}  // namespace hairline::desk
