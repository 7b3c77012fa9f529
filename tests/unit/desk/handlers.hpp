/// The handlers of a desk over a folder, asked as its server would ask them.
#pragma once
#include <catch2/catch.hpp>
#include <memory>
#include <thread>

#include "desk/json.hpp"
#include "desk/shared.hpp"

namespace hairline::test {

struct Handlers {
  std::unique_ptr<desk::Shared> shared;
  desk::Routes routes;

  Handlers(const std::filesystem::path& path, std::initializer_list<desk::AddRoutes*> parts,
           std::uint64_t most_upload_bytes = 1000) {
    auto folder = desk::Folder::open(path);
    REQUIRE(folder);
    const auto cache = folder->own("cache");
    REQUIRE(cache);
    const DeskSettings settings{
        .folder = path, .port = 0, .today = "2026-11-07", .threads = 1, .most_upload_bytes = most_upload_bytes};
    shared.reset(new desk::Shared{settings, std::move(*folder), ReportCache::open(*cache), {}});
    for (desk::AddRoutes* add : parts) add(routes, *shared);
  }

  /// "GET /api/jobs/hull.zip", or with names in the call a pattern, "GET /api/jobs/{}".
  desk::Answer ask(const std::string& what, desk::Call call = {}) const {
    const std::string method = what.substr(0, what.find(' ')), path = what.substr(method.size() + 1);
    INFO(what);
    const auto is_meant = [&](const desk::Route& route) { return route.method == method && route.pattern == path; };
    const desk::Route* route = nullptr;
    if (call.names.empty())
      route = find_route(routes, method, path, call.names);
    else if (const auto at = std::find_if(routes.begin(), routes.end(), is_meant); at != routes.end())
      route = &*at;
    REQUIRE(route != nullptr);
    return route->answer(call);
  }

  /// The first check of the list once it has ended.
  desk::Json ended_check() const {
    for (int i = 0; i < 3000; ++i) {
      const desk::Json checks = json_in(ask("GET /api/jobs").body).at("checks");
      if (!checks.empty() && checks[0].at("stage") != "waiting" && checks[0].at("stage") != "running") return checks[0];
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    FAIL("the check does not end");
    return {};
  }
};

}  // namespace hairline::test
