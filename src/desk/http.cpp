#include "http.hpp"

#include <fmt/format.h>
#include <httplib.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <semaphore>
#include <thread>

#include "../base/ascii.hpp"
#include "../base/percent.hpp"

namespace hairline::desk {
namespace {

using Clock = std::chrono::steady_clock;

int ms_until(Clock::time_point end) {
  const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(end - Clock::now()).count();
  return static_cast<int>(std::clamp<long long>(left, 0, 60'000));
}

// ---- a connection that keeps to the limits ----

// Reads and writes of one connection. A read fails once the head is too long or too late, a body comes too slowly, or
// nothing comes at all; then the connection ends.
class BoundedStream : public httplib::Stream {
 public:
  BoundedStream(socket_t socket, const HttpLimits& limits, const std::atomic<bool>& stopping)
      : socket_(socket), limits_(limits), stopping_(stopping) {}

  // Waits for the first byte of a request.
  bool next_request() {
    in_head_ = true;
    head_bytes_ = 0;
    line_is_empty_ = true;
    if (fill(Clock::now() + std::chrono::milliseconds(limits_.idle_ms)) <= 0) return false;
    head_end_ = Clock::now() + std::chrono::milliseconds(limits_.head_ms);
    return true;
  }
  // No further request is read: what is left of this one is not looked for.
  void end() { ended_ = true; }
  bool ended() const { return ended_; }

  bool is_readable() const override { return at_ < end_ || ready(POLLIN, 0); }
  bool is_writable() const override { return ready(POLLOUT, static_cast<int>(limits_.idle_ms)); }

  ssize_t read(char* to, std::size_t size) override {
    if (at_ == end_ && fill(deadline()) <= 0) return -1;
    const std::size_t count = std::min(size, end_ - at_);
    std::copy_n(bytes_.data() + at_, count, to);
    at_ += count;
    return in_head_ && !take_head({to, count}) ? -1 : static_cast<ssize_t>(count);
  }

  ssize_t write(const char* from, std::size_t size) override {
    if (stopping_ || !is_writable()) return -1;
    return ::send(socket_, from, size, MSG_NOSIGNAL | MSG_DONTWAIT);
  }

  void get_remote_ip_and_port(std::string& ip, int& port) const override { ip = "127.0.0.1", port = 0; }
  void get_local_ip_and_port(std::string& ip, int& port) const override { ip = "127.0.0.1", port = 0; }
  socket_t socket() const override { return socket_; }

 private:
  bool ready(short what, int wait_ms) const {
    ::pollfd one{socket_, what, 0};
    return ::poll(&one, 1, wait_ms) > 0 && (one.revents & what) != 0;
  }

  Clock::time_point deadline() const {
    const auto idle = Clock::now() + std::chrono::milliseconds(limits_.idle_ms);
    return in_head_ ? std::min(head_end_, idle) : idle;
  }

  // Bytes that are there; waits for them in short steps, so that a stop is seen. 0: none came; under 0: it has ended.
  ssize_t fill(Clock::time_point end) {
    if (at_ < end_) return static_cast<ssize_t>(end_ - at_);
    while (!stopping_) {
      const int left = ms_until(end);
      if (ready(POLLIN, std::min(left, 200))) break;
      if (left == 0) return 0;
    }
    if (stopping_ || !fast_enough()) return -1;
    const ssize_t got = ::recv(socket_, bytes_.data(), bytes_.size(), 0);
    at_ = 0;
    end_ = got > 0 ? static_cast<std::size_t>(got) : 0;
    period_bytes_ += end_;
    return got;
  }

  // Counts the body over periods of 10 s.
  bool fast_enough() {
    constexpr std::chrono::seconds period(10);
    const auto now = Clock::now();
    if (in_head_ || period_start_ == Clock::time_point()) {
      period_start_ = now;
      period_bytes_ = 0;
      return true;
    }
    if (now - period_start_ < period) return true;
    const bool fast = period_bytes_ >= 10 * limits_.least_bytes_per_s;
    period_start_ = now;
    period_bytes_ = 0;
    return fast;
  }

  // The head ends with an empty line.
  bool take_head(std::string_view part) {
    head_bytes_ += part.size();
    for (const char c : part) {
      if (c == '\n' && line_is_empty_) in_head_ = false;
      if (c != '\r') line_is_empty_ = c == '\n';
    }
    return head_bytes_ <= limits_.head_bytes && (!in_head_ || Clock::now() < head_end_);
  }

  socket_t socket_;
  const HttpLimits& limits_;
  const std::atomic<bool>& stopping_;
  std::array<char, 16384> bytes_;
  std::size_t at_ = 0, end_ = 0;
  bool in_head_ = true, line_is_empty_ = true, ended_ = false;
  std::uint64_t head_bytes_ = 0, period_bytes_ = 0;
  Clock::time_point head_end_, period_start_;
};

// That of the request this thread answers.
thread_local BoundedStream* current_stream = nullptr;
// The connection this thread takes is one too many.
thread_local bool one_too_many = false;

// ---- threads ----

// One thread for each connection, made when needed; beyond the most a connection is handed back at once, to be refused.
class Crew : public httplib::TaskQueue {
 public:
  explicit Crew(std::size_t most) : most_(most) {}

  void enqueue(std::function<void()> work) override {
    if (take(work)) return;
    one_too_many = true;
    work();
    one_too_many = false;
  }

  void shutdown() override {
    {
      const std::lock_guard lock(mutex_);
      ended_ = true;
    }
    wake_.notify_all();
    for (std::thread& thread : threads_) thread.join();
  }

 private:
  bool take(std::function<void()>& work) {
    const std::lock_guard lock(mutex_);
    if (waiting_ <= work_.size()) {
      if (threads_.size() >= most_) return false;
      try {
        threads_.emplace_back([this] { loop(); });
      } catch (const std::system_error&) {  // the machine gives no more threads
        return false;
      }
    }
    work_.push_back(std::move(work));
    wake_.notify_one();
    return true;
  }

  void loop() {
    std::unique_lock lock(mutex_);
    for (;;) {
      ++waiting_;
      wake_.wait(lock, [this] { return ended_ || !work_.empty(); });
      --waiting_;
      if (work_.empty()) return;
      const auto work = std::move(work_.front());
      work_.pop_front();
      lock.unlock();
      work();
      lock.lock();
    }
  }

  const std::size_t most_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<std::function<void()>> work_;
  std::vector<std::thread> threads_;
  std::size_t waiting_ = 0;
  bool ended_ = false;
};

// ---- the connections of a server ----

// What the peer still sends is taken for a moment, so that it gets to read the answer.
void close_politely(socket_t socket) {
  ::shutdown(socket, SHUT_WR);
  const auto end = Clock::now() + std::chrono::milliseconds(200);
  std::array<char, 4096> rest;
  for (std::size_t taken = 0; taken < (1u << 18);) {
    ::pollfd one{socket, POLLIN, 0};
    if (::poll(&one, 1, ms_until(end)) <= 0) break;
    const ssize_t got = ::recv(socket, rest.data(), rest.size(), 0);
    if (got <= 0) break;
    taken += static_cast<std::size_t>(got);
  }
  ::close(socket);
}

// On one connection.
constexpr int most_requests = 1000;

class Listener : public httplib::Server {
 public:
  Listener(const HttpLimits& limits, const std::atomic<bool>& stopping) : limits_(limits), stopping_(stopping) {}

  // Once bound: more may wait to be let in than the library's 5, or many at once are a second late.
  void let_many_wait() { ::listen(svr_sock_, 1024); }
  // Also just before it runs, where `stop` alone does nothing: it then finds nothing to accept.
  void stop_for_good() {
    stop();
    if (const socket_t socket = svr_sock_; socket != INVALID_SOCKET) ::shutdown(socket, SHUT_RDWR);
  }

 private:
  bool process_and_close_socket(socket_t socket) override {
    if (one_too_many) {
      constexpr std::string_view busy =
          "HTTP/1.1 503 Service Unavailable\r\nConnection: close\r\nContent-Length: 0\r\n\r\n";
      ::send(socket, busy.data(), busy.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
      ::close(socket);
      return true;
    }
    BoundedStream stream(socket, limits_, stopping_);
    current_stream = &stream;
    bool closed = false;
    for (int i = 1; i <= most_requests && !closed && !stream.ended() && stream.next_request(); ++i)
      if (!process_request(stream, i == most_requests, closed, [](httplib::Request& request) { plain(request); }))
        break;
    current_stream = nullptr;
    close_politely(socket);
    return true;
  }

  // No ranges (many of one text would fill the memory), and no packing of what stays on this machine.
  static void plain(httplib::Request& request) {
    request.ranges.clear();
    request.headers.erase("Accept-Encoding");
  }

  const HttpLimits& limits_;
  const std::atomic<bool>& stopping_;
};

// ---- who may ask ----

bool same_secret(std::string_view a, std::string_view b) {
  unsigned differs = a.size() == b.size() ? 0 : 1;
  for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i)
    differs |= static_cast<unsigned char>(a[i]) ^ static_cast<unsigned char>(b[i]);
  return differs == 0;
}

// The value of a cookie (RFC 6265, section 4.2.1); empty where there is none.
std::string cookie_of(const httplib::Request& request, const std::string& name) {
  for (const std::string& cookie : cut_at(request.get_header_value("Cookie"), ';'))
    if (const std::string_view one = trimmed(cookie, " "); one.starts_with(name + '='))
      return std::string(one.substr(name.size() + 1));
  return {};
}

constexpr const char* page_policy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "frame-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'";
// A report brings its own policy along for what is in it; here is what it may do to others.
constexpr const char* report_policy = "sandbox allow-scripts allow-downloads allow-popups; frame-ancestors 'self'";

bool is_page(const std::string& target) {
  return !target.starts_with("/api/");
}

}  // namespace

// ---- the server ----

struct HttpServer::State {
  State(std::uint16_t asked_port, std::string secret, const HttpLimits& bounds)
      : limits(bounds), token(std::move(secret)), listener(limits, stopping), port(asked_port) {}

  HttpLimits limits;
  std::string token;
  std::atomic<bool> stopping{false};
  std::atomic<std::size_t> event_streams{0};
  std::counting_semaphore<> heavy{2};
  Listener listener;
  std::uint16_t port;
  const Routes* routes = nullptr;

  std::string cookie_name() const { return fmt::format("hairline{}", port); }

  // Why a request is refused before anything of it is looked at; none: it is not.
  std::optional<Answer> refused(const httplib::Request& request) const;
  httplib::Server::HandlerResponse before_routes(const httplib::Request& request, httplib::Response& response);
  void set_up_listener();
  void answer(const httplib::Request& request, httplib::Response& response, const httplib::ContentReader* reader);
  void give(const Answer& answer, const std::string& target, httplib::Response& response);
  Answer answer_route(const Route& route, Call call, const httplib::ContentReader* reader);
  bool let_in(const httplib::Request& request, httplib::Response& response) const;
};

namespace {

void set_answer(httplib::Response& response, const Answer& answer) {
  response.status = answer.status;
  response.set_content(answer.body, answer.type.c_str());
}

bool has_body(const httplib::Request& request) {
  return request.has_header("Transfer-Encoding") ||
         (request.has_header("Content-Length") && request.get_header_value("Content-Length") != "0");
}

// Of a file offered for saving (RFC 6266, RFC 8187).
std::string disposition(const std::string& name) {
  return "attachment; filename*=UTF-8''" + percent_coded(valid_utf8(name));
}

}  // namespace

std::optional<Answer> HttpServer::State::refused(const httplib::Request& request) const {
  const std::string host = request.get_header_value("Host");
  if (request.get_header_value_count("Host") != 1 ||
      (host != fmt::format("127.0.0.1:{}", port) && host != fmt::format("localhost:{}", port)))
    return refusal(403, "The desk answers only under the address it printed.");
  if (request.method != "GET" && request.method != "POST") return refusal(405, "Only GET and POST are understood.");
  const bool foreign = (request.has_header("Origin") && request.get_header_value("Origin") != "http://" + host) ||
                       (request.has_header("Sec-Fetch-Site") && request.method != "GET" &&
                        request.get_header_value("Sec-Fetch-Site") != "same-origin");
  if (foreign) return refusal(403, "The desk answers only its own pages.");
  if (request.has_header("Content-Encoding") || request.is_multipart_form_data())
    return refusal(415, "A body is sent plain, as it is.");
  if (request.method == "GET" && has_body(request)) return refusal(400, "A GET has no body.");
  if (request.method == "POST" && !request.has_header("Content-Length") && !request.has_header("Transfer-Encoding"))
    return refusal(411, "A POST says how long its body is.");
  const std::string length = request.get_header_value("Content-Length");
  const auto bytes = length.empty() ? 0 : std::strtoull(length.c_str(), nullptr, 10);
  if (bytes > limits.streamed_bytes) return refusal(413, "That is more than the desk takes.");
  return {};
}

// The address with its token becomes a cookie, so that the token leaves the address bar.
bool HttpServer::State::let_in(const httplib::Request& request, httplib::Response& response) const {
  if (same_secret(cookie_of(request, cookie_name()), token)) return true;
  if (request.method == "GET" && request.path == "/" && same_secret(request.get_param_value("token"), token)) {
    response.set_header("Set-Cookie", fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict", cookie_name(), token));
    set_answer(response, {.status = 303, .type = "text/plain", .body = ""});
    response.set_header("Location", "/");
    return false;
  }
  set_answer(response,
             {.status = 403,
              .type = "text/plain; charset=utf-8",
              .body = "Open the address that `hairline desk` printed: it holds a token, new each time it starts.\n"});
  return false;
}

Answer HttpServer::State::answer_route(const Route& route, Call call, const httplib::ContentReader* reader) {
  std::uint64_t taken = 0;
  const std::uint64_t most = route.body == Route::Body::streamed ? limits.streamed_bytes : limits.body_bytes;
  const BodyReader read = [&](const TextSink& sink) {
    if (reader == nullptr) return true;
    const bool whole = (*reader)([&](const char* data, std::size_t size) {
      taken += size;
      return sink({data, size}) && taken <= most;  // the route is told first, and may say more
    });
    if (!whole) current_stream->end();
    return whole;
  };
  if (route.body == Route::Body::streamed) {
    call.read_body = read;
  } else if (!read([&](std::string_view part) { return call.body.append(part), true; })) {
    return refusal(taken > most ? 413 : 400, "The body is too long, or ended early.");
  }
  if (!route.heavy) return route.answer(call);
  if (!heavy.try_acquire_for(std::chrono::seconds(20))) return refusal(503, "The desk is busy. Try again in a moment.");
  struct Release {
    std::counting_semaphore<>& turn;
    ~Release() { turn.release(); }
  } release{heavy};
  return route.answer(call);
}

void HttpServer::State::give(const Answer& answer, const std::string& target, httplib::Response& response) {
  response.status = answer.status;
  if (!answer.file_name.empty()) response.set_header("Content-Disposition", disposition(answer.file_name));
  if (!is_page(target) && answer.type.starts_with("text/html"))
    response.set_header("Content-Security-Policy", report_policy);
  if (!answer.events) return set_answer(response, answer);
  if (event_streams.fetch_add(1) >= limits.event_streams) {
    --event_streams;
    return set_answer(response, refusal(503, "Too many pages listen already."));
  }
  response.set_chunked_content_provider(
      answer.type,
      [this, events = answer.events](std::size_t, httplib::DataSink& sink) {
        if (stopping) return false;
        const bool more = events([&sink](std::string_view part) { return sink.write(part.data(), part.size()); });
        if (!more) sink.done();
        return true;
      },
      [this](bool) { --event_streams; });
}

void HttpServer::State::answer(const httplib::Request& request, httplib::Response& response,
                               const httplib::ContentReader* reader) {
  Call call;
  const std::string_view target(request.target);
  const std::string_view path = target.substr(0, target.find('?'));
  const Route* route = find_route(*routes, request.method, path, call.names);
  if (route == nullptr) {
    if (reader != nullptr) current_stream->end();
    return set_answer(response, refusal(404, "There is nothing of that name here."));
  }
  for (const auto& [name, value] : request.params) call.query.emplace(name, value);
  give(answer_route(*route, std::move(call), reader), std::string(path), response);
}

HttpServer::HttpServer(std::unique_ptr<State> state) : state_(std::move(state)) {}
HttpServer::HttpServer(HttpServer&&) noexcept = default;
HttpServer::~HttpServer() = default;

httplib::Server::HandlerResponse HttpServer::State::before_routes(const httplib::Request& request,
                                                                  httplib::Response& response) {
  using Handler = httplib::Server::HandlerResponse;
  if (is_page(request.path)) response.set_header("Content-Security-Policy", page_policy);
  const auto refusal = refused(request);
  if (refusal) set_answer(response, *refusal);
  if (refusal || !let_in(request, response)) {
    if (response.status != 303) current_stream->end();
    return Handler::Handled;
  }
  if (request.method == "POST") return Handler::Unhandled;
  answer(request, response, nullptr);
  return Handler::Handled;
}

void HttpServer::State::set_up_listener() {
  listener.set_keep_alive_max_count(most_requests);
  listener.set_keep_alive_timeout(static_cast<time_t>(limits.idle_ms / 1000));
  listener.set_payload_max_length(limits.streamed_bytes);
  listener.set_default_headers({{"X-Content-Type-Options", "nosniff"},
                                {"Referrer-Policy", "no-referrer"},
                                {"Cross-Origin-Opener-Policy", "same-origin"},
                                {"Cross-Origin-Resource-Policy", "same-origin"},
                                {"Cache-Control", "no-store"}});
  listener.new_task_queue = [this] { return new Crew(limits.connections); };
  listener.set_pre_routing_handler([this](const httplib::Request& request, httplib::Response& response) {
    return before_routes(request, response);
  });
  listener.Post(".*", [this](const httplib::Request& request, httplib::Response& response,
                             const httplib::ContentReader& reader) { answer(request, response, &reader); });
  listener.set_exception_handler([](const httplib::Request&, httplib::Response& response, std::exception_ptr) {
    set_answer(response, refusal(500, "The machine has no room left for that."));
  });
}

Result<HttpServer> HttpServer::open(std::uint16_t port, std::string token, const HttpLimits& limits) {
  auto state = std::make_unique<State>(port, std::move(token), limits);
  Listener& listener = state->listener;
  listener.set_socket_options([](socket_t socket) {  // but not to share the port with another program
    const int yes = 1;
    ::setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
  });
  listener.set_tcp_nodelay(true);  // before the socket is made: later it would do nothing
  int bound = port;
  if (port == 0) bound = listener.bind_to_any_port("127.0.0.1");
  if (port != 0 && !listener.bind_to_port("127.0.0.1", port)) bound = -1;
  if (bound <= 0)
    return tl::unexpected(Error{ErrorKind::usage, "", fmt::format("port {} cannot be taken", port),
                                "a free one of 1024 to 65535", "Choose another, or --port 0 for any free one."});
  state->port = static_cast<std::uint16_t>(bound);
  listener.let_many_wait();
  state->set_up_listener();
  return HttpServer(std::move(state));
}

std::uint16_t HttpServer::port() const {
  return state_->port;
}

void HttpServer::serve(const Routes& routes) {
  state_->routes = &routes;
  if (!state_->stopping) state_->listener.listen_after_bind();
}

void HttpServer::stop() {
  if (!state_->stopping.exchange(true)) state_->listener.stop_for_good();
}

}  // namespace hairline::desk
