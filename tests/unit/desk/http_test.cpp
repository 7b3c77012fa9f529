// The server against requests that are not well meant: raw bytes on a socket, so that no client library tidies them up.
#include "desk/http.hpp"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <fstream>
#include <sstream>
#include <thread>

using namespace hairline;
using namespace hairline::desk;

namespace {

constexpr const char* token = "0123456789abcdef0123456789abcdef";

HttpLimits small_limits() {
  HttpLimits limits;
  limits.connections = 12;
  limits.event_streams = 2;
  limits.head_bytes = 4096;
  limits.head_ms = 400;
  limits.idle_ms = 400;
  limits.body_bytes = 1000;
  limits.streamed_bytes = 100'000;
  return limits;
}

// Serves until it goes.
class Served {
 public:
  explicit Served(Routes routes, const HttpLimits& limits = small_limits())
      : routes_(std::move(routes)), server_(std::move(HttpServer::open(0, token, limits).value())) {
    thread_ = std::thread([this] { server_.serve(routes_); });
  }
  ~Served() { stop(); }
  void stop() {
    server_.stop();
    if (thread_.joinable()) thread_.join();
  }
  std::uint16_t port() const { return server_.port(); }
  std::string head(const std::string& line, const std::string& more = "") const {
    return fmt::format("{} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nCookie: a=b; hairline{}={}\r\n{}\r\n", line, port(),
                       port(), token, more);
  }

 private:
  Routes routes_;
  HttpServer server_;
  std::thread thread_;
};

int connected(std::uint16_t port) {
  const int socket = ::socket(AF_INET, SOCK_STREAM, 0);
  ::sockaddr_in to{};
  to.sin_family = AF_INET;
  to.sin_port = htons(port);
  to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  if (::connect(socket, reinterpret_cast<::sockaddr*>(&to), sizeof to) == 0) return socket;
  ::close(socket);
  return -1;
}

// What comes until the server closes, or until 20 s have passed without that ("" then).
std::string rest_of(int socket) {
  std::string text;
  for (;;) {
    ::pollfd one{socket, POLLIN, 0};
    if (::poll(&one, 1, 20'000) <= 0) return "";
    char bytes[4096];
    const ssize_t got = ::recv(socket, bytes, sizeof bytes, 0);
    if (got <= 0) return text + "|closed";
    text.append(bytes, static_cast<std::size_t>(got));
  }
}

std::string asked(std::uint16_t port, const std::string& request) {
  const int socket = connected(port);
  if (socket < 0) return "";  // nothing is required here: other threads ask too
  ::send(socket, request.data(), request.size(), MSG_NOSIGNAL);
  std::string text = rest_of(socket);
  ::close(socket);
  return text;
}

int status_of(const std::string& answer) {
  return answer.starts_with("HTTP/1.1 ") ? std::stoi(answer.substr(9, 3)) : 0;
}

Routes echo() {
  return {{"GET", "/", [](const Call&) { return Answer{.type = "text/html", .body = "<p>desk"}; }},
          {"GET", "/api/jobs/{}",
           [](const Call& call) { return Answer{.body = call.names.at(0) + "?" + call.asked("a")}; }},
          {"GET", "/api/jobs/{}/layers/{}.png", [](const Call& call) { return Answer{.body = call.names.at(1)}; }},
          {"POST", "/api/say", [](const Call& call) { return Answer{.body = call.body}; }},
          {"POST", "/api/long",
           [](const Call& call) {
             std::size_t bytes = 0;
             const bool whole = call.read_body([&](std::string_view part) { return bytes += part.size(), true; });
             return Answer{.body = fmt::format("{} {}", bytes, whole)};
           },
           false, Route::Body::streamed}};
}

}  // namespace

TEST_CASE("who has the token is answered; the address with it becomes a cookie") {
  const Served desk(echo());
  const auto get = [&](const std::string& path, const std::string& more) {
    return asked(desk.port(), fmt::format("GET {} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n{}Connection: close\r\n\r\n", path,
                                          desk.port(), more));
  };
  CHECK(status_of(get("/", "")) == 403);
  CHECK(status_of(get("/?token=0123456789abcdef0123456789abcdee", "")) == 403);
  CHECK(status_of(get("/api/jobs/a?token=" + std::string(token), "")) == 403);
  CHECK(status_of(get("/", fmt::format("Cookie: hairline{}=wrong\r\n", desk.port()))) == 403);
  CHECK(status_of(get("/", fmt::format("Cookie: xhairline{}={}\r\n", desk.port(), token))) == 403);
  const std::string let_in = get("/?token=" + std::string(token), "");
  CHECK(status_of(let_in) == 303);
  CHECK(let_in.find(fmt::format("Set-Cookie: hairline{}={}; Path=/; HttpOnly; SameSite=Strict", desk.port(), token)) !=
        std::string::npos);
  CHECK(let_in.find("Location: /\r\n") != std::string::npos);
  const std::string answer = get("/", fmt::format("Cookie: a=b; hairline{}={}\r\n", desk.port(), token));
  CHECK(status_of(answer) == 200);
  CHECK(answer.find("default-src 'none'") != std::string::npos);
  CHECK(answer.find("<p>desk") != std::string::npos);
}

TEST_CASE("foreign hosts and origins are refused") {
  const Served desk(echo());
  const std::string cookie = fmt::format("Cookie: hairline{}={}\r\nConnection: close\r\n", desk.port(), token);
  const auto send = [&](const std::string& method, const std::string& headers) {
    return status_of(asked(desk.port(), method + " /api/" + (method == "GET" ? "jobs/a" : "say") + " HTTP/1.1\r\n" +
                                            headers + cookie +
                                            (method == "GET" ? "\r\n" : "Content-Length: 2\r\n\r\n{}")));
  };
  const std::string own = fmt::format("127.0.0.1:{}", desk.port()), local = fmt::format("localhost:{}", desk.port());
  for (const std::string method : {"GET", "POST"}) {
    CHECK(send(method, "Host: " + own + "\r\n") == 200);
    CHECK(send(method, "Host: " + local + "\r\nOrigin: http://" + local + "\r\n") == 200);
    CHECK(send(method, "Host: harbour.example\r\n") == 403);
    CHECK(send(method, fmt::format("Host: harbour.example:{}\r\n", desk.port())) == 403);
    CHECK(send(method, "Host: 127.0.0.1\r\n") == 403);
    CHECK(send(method, "") == 403);
    CHECK(send(method, "Host: " + own + "\r\nHost: harbour.example\r\n") == 403);
    CHECK(send(method, "Host: " + own + "\r\nOrigin: http://harbour.example\r\n") == 403);
    CHECK(send(method, "Host: " + own + "\r\nOrigin: https://" + own + "\r\n") == 403);
    CHECK(send(method, "Host: " + own + "\r\nOrigin: null\r\n") == 403);
    CHECK(send(method, "Host: " + own + "\r\nOrigin: http://" + local + "\r\n") == 403);
  }
  CHECK(send("POST", "Host: " + own + "\r\nSec-Fetch-Site: cross-site\r\n") == 403);
}

TEST_CASE("paths that climb lead nowhere") {
  const Served desk(echo());
  const auto get = [&](const std::string& path) {
    return asked(desk.port(), desk.head("GET " + path, "Connection: close\r\n"));
  };
  for (const char* path :
       {"/../../etc/passwd", "/api/jobs/..", "/api/jobs/.", "/api/jobs/..%2f..%2fetc%2fpasswd", "/api/jobs/a%2Fb",
        "/api/jobs/%2e%2e", "/api/jobs/a%00b", "/api/jobs/a%0", "/api/jobs/%zz", "/api/jobs/", "/api/jobs/a/",
        "/api//jobs/a", "//api/jobs/a", "/api/jobs/a/layers/.png", "/api/jobs/a/layers/..%2f.png"}) {
    INFO(path);
    CHECK(status_of(get(path)) == 404);
  }
  CHECK(get("/api/jobs/hull%20two.zip?a=%2e%2e").find("hull two.zip?..") != std::string::npos);
  CHECK(get("/api/jobs/a/layers/12.png").find("\r\n\r\n12|") != std::string::npos);
}

TEST_CASE("what is too long or too slow ends, and the server answers on") {
  const Served desk(echo());
  const auto still_there = [&] {
    return status_of(asked(desk.port(), desk.head("GET /", "Connection: close\r\n"))) == 200;
  };

  SECTION("ten gigabytes are refused before they come") {
    for (const char* path : {"/api/say", "/api/long", "/api/none"}) {
      const std::string answer =
          asked(desk.port(), desk.head(std::string("POST ") + path, "Content-Length: 10737418240\r\n"));
      CHECK(status_of(answer) == 413);
      CHECK(answer.ends_with("|closed"));
    }
  }
  SECTION("a body over the limit, whole or in chunks") {
    const std::string body(2000, 'x');
    CHECK(status_of(asked(desk.port(), desk.head("POST /api/say", "Content-Length: 2000\r\n") + body)) == 413);
    CHECK(status_of(asked(desk.port(), desk.head("POST /api/say", "Transfer-Encoding: chunked\r\n") + "7d0\r\n" + body +
                                           "\r\n0\r\n\r\n")) == 413);
    std::string chunks = desk.head("POST /api/long", "Transfer-Encoding: chunked\r\n");
    for (int i = 0; i < 60; ++i) chunks += "7d0\r\n" + body + "\r\n";
    CHECK(asked(desk.port(), chunks).ends_with("|closed"));
  }
  SECTION("a body that ends early") {
    const int socket = connected(desk.port());
    const std::string part = desk.head("POST /api/say", "Content-Length: 100\r\n") + "half";
    ::send(socket, part.data(), part.size(), MSG_NOSIGNAL);
    ::shutdown(socket, SHUT_WR);
    CHECK(status_of(rest_of(socket)) == 400);
    ::close(socket);
  }
  SECTION("packed bodies, forms and a GET with a body") {
    CHECK(status_of(asked(desk.port(),
                          desk.head("POST /api/say", "Content-Encoding: gzip\r\nContent-Length: 1\r\n") + "x")) == 415);
    CHECK(status_of(asked(
              desk.port(),
              desk.head("POST /api/say", "Content-Type: multipart/form-data; boundary=b\r\nContent-Length: 1\r\n") +
                  "x")) == 415);
    CHECK(status_of(asked(desk.port(), desk.head("GET /", "Content-Length: 1\r\n") + "x")) == 400);
    CHECK(status_of(asked(desk.port(), desk.head("POST /api/say", "Connection: close\r\n"))) == 411);
    CHECK(status_of(asked(desk.port(), desk.head("DELETE /api/jobs/a", "Connection: close\r\n"))) == 405);
  }
  SECTION("a head without an end") {
    CHECK(asked(desk.port(), "GET /" + std::string(100'000, 'a')).find("200 OK") == std::string::npos);
    std::string many = "GET / HTTP/1.1\r\n";
    for (int i = 0; i < 2000; ++i) many += fmt::format("X-{}: y\r\n", i);
    CHECK(asked(desk.port(), many + "\r\n").find("200 OK") == std::string::npos);
  }
  SECTION("a head that comes byte by byte") {
    const int socket = connected(desk.port());
    const std::string head = desk.head("GET /");
    bool closed = false;
    for (std::size_t i = 0; i < head.size() && !closed; ++i) {
      closed = ::send(socket, &head[i], 1, MSG_NOSIGNAL) < 0;
      std::this_thread::sleep_for(std::chrono::milliseconds(30));
    }
    const std::string answer = rest_of(socket);
    ::close(socket);
    CHECK(answer.find("200 OK") == std::string::npos);
  }
  SECTION("a range of thousands") {
    std::string ranges = "Range: bytes=0-";
    for (int i = 0; i < 900; ++i) ranges += ",0-";
    const std::string answer = asked(desk.port(), desk.head("GET /", ranges + "\r\nConnection: close\r\n"));
    CHECK(answer.size() < 2000);
  }
  SECTION("noise") {
    CHECK(asked(desk.port(), std::string("\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", 15)).find("200 OK") ==
          std::string::npos);
    CHECK(asked(desk.port(), "GET / HTTP/9.9\r\n\r\n").find("200 OK") == std::string::npos);
  }
  CHECK(still_there());
}

TEST_CASE("more connections than there is room for are closed; silent ones make room again") {
  HttpLimits limits = small_limits();
  limits.idle_ms = 2000;  // longer than it takes to connect them all
  const Served desk(echo(), limits);
  std::vector<int> silent;
  for (int i = 0; i < 200; ++i) silent.push_back(connected(desk.port()));
  int refused = 0;
  for (const int socket : silent) {
    REQUIRE(socket >= 0);
    const std::string answer = rest_of(socket);
    refused += status_of(answer) == 503;
    CHECK(answer.ends_with("|closed"));  // at once, or after the idle time
    ::close(socket);
  }
  CHECK(refused >= 100);
  CHECK(status_of(asked(desk.port(), desk.head("GET /", "Connection: close\r\n"))) == 200);
}

TEST_CASE("two heavy requests run at once, and no more") {
  std::atomic<int> now = 0, most = 0;
  Routes routes = {{"GET", "/api/heavy",
                    [&](const Call&) {
                      const int running = ++now;
                      int seen = most;
                      while (seen < running && !most.compare_exchange_weak(seen, running)) {
                      }
                      std::this_thread::sleep_for(std::chrono::milliseconds(50));
                      --now;
                      return Answer{.body = "{}"};
                    },
                    true}};
  const Served desk(std::move(routes));
  std::vector<std::thread> threads;
  std::atomic<int> answered = 0;
  for (int i = 0; i < 8; ++i)
    threads.emplace_back([&] {
      if (status_of(asked(desk.port(), desk.head("GET /api/heavy", "Connection: close\r\n"))) == 200) ++answered;
    });
  for (std::thread& thread : threads) thread.join();
  CHECK(answered == 8);
  CHECK(most == 2);
}

TEST_CASE("event streams are counted, and end when the desk does") {
  Routes routes = {{"GET", "/api/events", [](const Call&) {
                      return Answer{.type = "text/event-stream", .body = "", .events = [](const TextSink& sink) {
                                      std::this_thread::sleep_for(std::chrono::milliseconds(10));
                                      return sink("data: {}\n\n");
                                    }};
                    }}};
  Served desk(std::move(routes));
  const std::string request = desk.head("GET /api/events");
  std::vector<int> open;
  for (int i = 0; i < 2; ++i) {
    open.push_back(connected(desk.port()));
    ::send(open.back(), request.data(), request.size(), MSG_NOSIGNAL);
    std::string first;
    while (first.find("data: {}") == std::string::npos) {
      char bytes[512];
      const ssize_t got = ::recv(open.back(), bytes, sizeof bytes, 0);
      REQUIRE(got > 0);
      first.append(bytes, static_cast<std::size_t>(got));
    }
  }
  CHECK(status_of(asked(desk.port(), desk.head("GET /api/events", "Connection: close\r\n"))) == 503);
  desk.stop();
  for (const int socket : open) {
    CHECK(rest_of(socket).ends_with("|closed"));
    ::close(socket);
  }
}

TEST_CASE("nothing but the loopback address is heard") {
  const Served desk(echo());
  // Listening sockets as the kernel lists them (proc(5), /proc/net/tcp): local address and port in hex, state 0A.
  std::ifstream table("/proc/net/tcp");
  std::string line, local;
  std::vector<std::string> heard;
  while (std::getline(table, line)) {
    std::istringstream words(line);
    std::string number, remote, state;
    if (words >> number >> local >> remote >> state;
        state == "0A" && local.ends_with(fmt::format(":{:04X}", desk.port())))
      heard.push_back(local);
  }
  CHECK(heard == std::vector{fmt::format("0100007F:{:04X}", desk.port())});
  std::ifstream table6("/proc/net/tcp6");
  while (std::getline(table6, line)) CHECK(line.find(fmt::format(":{:04X} ", desk.port())) == std::string::npos);
}

TEST_CASE("a port that is taken is no port for a second desk") {
  const auto first = HttpServer::open(0, token, small_limits());
  REQUIRE(first);
  const auto second = HttpServer::open(first->port(), token, small_limits());
  REQUIRE(!second);
  CHECK(second.error().kind == ErrorKind::usage);
}
