/// What all parts of the desk share, and the list of parts.
#pragma once
#include <atomic>
#include <condition_variable>
#include <mutex>

#include "folder.hpp"
#include "hairline/desk.hpp"
#include "hairline/night.hpp"
#include "routes.hpp"

namespace hairline::desk {

/// Counts what changed, so that open pages hear of it.
class News {
 public:
  void tell();
  std::uint64_t count() const;
  /// Until the count is another than `seen`, or a second has passed; the count then.
  std::uint64_t wait(std::uint64_t seen) const;

 private:
  mutable std::mutex mutex_;
  mutable std::condition_variable told_;
  std::uint64_t count_ = 0;
};

struct Shared {
  DeskSettings settings;
  Folder folder;
  ReportCache cache;
  News news;
  std::function<void()> stop;  ///< ends the desk, from any thread
  /// YYYY-MM-DD
  std::string today() const;
  /// "2026-11-26T21:05", local
  std::string now() const;
};

/// One function for each part; what it keeps lives as long as the routes.
using AddRoutes = void(Routes& routes, Shared& shared);
AddRoutes add_page_routes, add_job_routes, add_layer_routes, add_record_routes, add_outcome_routes, add_night_routes;

}  // namespace hairline::desk
