/// The real binary as a process of its own, to be stopped, killed, or asked on a terminal.
#pragma once
#include <poll.h>
#include <pty.h>
#include <sys/wait.h>

#include <chrono>
#include <csignal>
#include <functional>
#include <thread>
#include <utility>

#include "support/run_binary.hpp"

namespace hairline::test {

/// Whether it comes true within 60 s.
inline bool comes(const std::function<bool()>& true_now) {
  for (int wait = 0; wait < 6000; ++wait) {
    if (true_now()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  return false;
}

/// `hairline` in `folder`, without terminal (its words go to a file) or on one of its own.
class Process {
 public:
  enum class On : std::uint8_t { files, terminal };
  Process(
      const std::vector<std::string>& arguments, const std::filesystem::path& folder, On on = On::files,
      const std::function<void()>& first = [] {}) {
    const std::string err = (streams_ / "err").string();
    child_ = on == On::terminal ? ::forkpty(&terminal_, nullptr, nullptr, nullptr) : ::fork();
    if (child_ < 0) throw std::runtime_error("no process");
    if (child_ > 0) return;
    if (on == On::files) {
      const int null = ::open("/dev/null", O_RDWR), words = ::open(err.c_str(), O_WRONLY | O_CREAT, 0600);
      ::dup2(null, 0), ::dup2(null, 1), ::dup2(words, 2);
    }
    for (const int signal : {SIGINT, SIGTERM, SIGHUP}) std::signal(signal, SIG_DFL);  // whatever the tests ignore
    first();
    std::vector<char*> words{const_cast<char*>(HAIRLINE_BINARY)};
    for (const std::string& argument : arguments) words.push_back(const_cast<char*>(argument.c_str()));
    words.push_back(nullptr);
    if (::chdir(folder.c_str()) == 0) ::execv(words[0], words.data());
    ::_exit(127);
  }
  ~Process() {
    if (child_ > 0) kill(SIGKILL), end();
    if (terminal_ >= 0) ::close(terminal_);
  }
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;

  void kill(int signal) const { ::kill(child_, signal); }
  void type(const std::string& text) const {
    if (::write(terminal_, text.data(), text.size()) < 0) throw std::runtime_error("nobody at the terminal");
  }
  /// Until this was shown on the terminal.
  bool shows(const std::string& text) {
    return comes([&] { return !listen() || shown_.find(text) != std::string::npos; }) &&
           shown_.find(text) != std::string::npos;
  }
  /// Its status, 128 + signal when it was killed; all it said is in `out` (a terminal) or `err`.
  Ran end() {
    if (terminal_ >= 0) comes([&] { return !listen(); });
    int status = 0;
    ::waitpid(std::exchange(child_, -1), &status, 0);
    Ran ran;
    ran.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    ran.out = shown_;
    ran.err = file_text(streams_ / "err");
    return ran;
  }

 private:
  // What the terminal shows by now; false: nothing will follow.
  bool listen() {
    ::pollfd input{terminal_, POLLIN, 0};
    char heard[4096];
    while (::poll(&input, 1, 0) > 0) {
      const ssize_t got = ::read(terminal_, heard, sizeof heard);
      if (got <= 0) return false;
      shown_.append(heard, static_cast<std::size_t>(got));
    }
    return true;
  }

  Folder streams_;
  pid_t child_ = -1;
  int terminal_ = -1;
  std::string shown_;
};

}  // namespace hairline::test
