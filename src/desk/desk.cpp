#include "hairline/desk.hpp"

#include <fmt/format.h>

#include <random>

#include "hairline/local_time.hpp"
#include "http.hpp"
#include "shared.hpp"

namespace hairline {
namespace {

// 128 bits from the system's own source.
std::string new_token() {
  std::random_device source;
  std::string token;
  for (int i = 0; i < 4; ++i) token += fmt::format("{:08x}", source());
  return token;
}

}  // namespace

namespace desk {

std::string Shared::today() const {
  return now().substr(0, 10);
}

std::string Shared::now() const {
  return settings.today.empty() ? to_string(local_now()) : settings.today + "T20:00";
}

}  // namespace desk

struct Desk::State {
  desk::Shared shared;
  std::string token;
  desk::HttpServer server;
  desk::Routes routes;  // last: parts that still work are ended before what they use goes
};

Desk::Desk(std::unique_ptr<State> state) : state_(std::move(state)) {}
Desk::Desk(Desk&&) noexcept = default;
Desk& Desk::operator=(Desk&&) noexcept = default;
Desk::~Desk() = default;

Result<Desk> Desk::open(const DeskSettings& settings) {
  auto folder = desk::Folder::open(settings.folder);
  if (!folder) return tl::unexpected(folder.error());
  const auto cache = folder->own("cache");
  if (!cache) return tl::unexpected(cache.error());
  std::string token = new_token();
  desk::HttpLimits limits;
  limits.streamed_bytes = settings.most_upload_bytes;
  auto server = desk::HttpServer::open(settings.port, token, limits);
  if (!server) return tl::unexpected(server.error());
  std::unique_ptr<State> state(new State{
      {settings, std::move(*folder), ReportCache::open(*cache), {}}, std::move(token), std::move(*server), {}});
  state->shared.stop = [whole = state.get()] { whole->server.stop(); };
  for (desk::AddRoutes* add : {desk::add_page_routes, desk::add_job_routes, desk::add_layer_routes,
                               desk::add_record_routes, desk::add_outcome_routes, desk::add_night_routes})
    add(state->routes, state->shared);
  return Desk(std::move(state));
}

std::uint16_t Desk::port() const {
  return state_->server.port();
}

std::string Desk::address() const {
  return fmt::format("http://127.0.0.1:{}/?token={}", port(), state_->token);
}

void Desk::serve() {
  state_->server.serve(state_->routes);
}

void Desk::stop() {
  state_->server.stop();
}

}  // namespace hairline
