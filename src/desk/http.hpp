/// The server: HTTP on the loopback address, for who knows the token. Everything here holds for requests of any kind,
/// well meant or not.
#pragma once
#include <memory>

#include "routes.hpp"

namespace hairline::desk {

/// What a request may take. A connection that does not keep to it is closed.
struct HttpLimits {
  std::size_t connections = 96;               ///< at once; further ones get 503 and are closed
  std::size_t event_streams = 24;             ///< of these
  std::uint64_t head_bytes = 32u << 10;       ///< request line and headers
  std::uint32_t head_ms = 10'000;             ///< from the first byte to the end of the head
  std::uint32_t idle_ms = 5'000;              ///< between requests, and without a byte within one
  std::uint64_t body_bytes = 1u << 20;        ///< whole bodies
  std::uint64_t streamed_bytes = 4ull << 30;  ///< bodies that a route reads itself
  std::uint64_t least_bytes_per_s = 10'000;   ///< of a body, counted over every 10 s
};

class HttpServer {
 public:
  /// Takes the port on 127.0.0.1 (0: any free one). Fails with usage.
  static Result<HttpServer> open(std::uint16_t port, std::string token, const HttpLimits& limits);
  HttpServer(HttpServer&&) noexcept;
  ~HttpServer();

  std::uint16_t port() const;
  /// Answers until `stop`. `routes` must outlive it.
  void serve(const Routes& routes);
  /// From any thread; event streams end within a second.
  void stop();

 private:
  struct State;
  explicit HttpServer(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace hairline::desk
