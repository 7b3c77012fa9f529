/// What is asked of the desk, and what it answers: plain values, so that every part can be called without a network.
#pragma once
#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "hairline/files.hpp"

namespace hairline::desk {

/// Hands over a large body part by part, until the sink says false. False: it ended early, or the sink had enough.
using BodyReader = std::function<bool(const TextSink& sink)>;

/// A request that passed the guard.
struct Call {
  std::vector<std::string> names;            ///< what stood in place of {} in the route, decoded; never empty, no '/'
  std::map<std::string, std::string> query;  ///< decoded
  std::string body;                          ///< whole, up to 1 MB; empty where the route reads it itself
  BodyReader read_body;                      ///< only for Route::Body::streamed
  /// That part of the query; empty where it is not there.
  std::string asked(const std::string& name) const;
};

struct Answer {
  int status = 200;
  std::string type = "application/json";
  std::string body = {};
  std::string file_name = {};  ///< offered to be saved under this name; empty: shown
  /// Instead of a body: called again and again, each time to write what is new; false: no more. It waits for a second
  /// at most, and may write nothing.
  std::function<bool(const TextSink& sink)> events = {};
};

struct Route {
  enum class Body : std::uint8_t { whole, streamed };
  std::string method, pattern;  ///< "GET", "/api/jobs/{}/page"
  std::function<Answer(const Call& call)> answer;
  bool heavy = false;  ///< takes much memory or time: two of these run at once, others wait
  Body body = Body::whole;
};
using Routes = std::vector<Route>;

/// The route for a method and a path as sent (undecoded); fills `names`. Null: there is none.
const Route* find_route(const Routes& routes, std::string_view method, std::string_view path,
                        std::vector<std::string>& names);

/// {"error": {"kind": ..., "text": ...}} with the status that goes with the kind.
Answer refusal(const Error& error);
Answer refusal(int status, const std::string& text);

}  // namespace hairline::desk
