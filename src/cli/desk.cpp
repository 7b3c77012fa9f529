// desk: the local page, until Ctrl-C or its own button.
#include "hairline/desk.hpp"

#include <fmt/format.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>

#include <stop_token>
#include <thread>

#include "commands.hpp"
#include "options.hpp"

extern char** environ;

namespace hairline::cli {
namespace {

struct Options {
  DeskSettings settings;
  std::string folder;
  std::uint32_t port = 0;
  bool no_open = false;
};

// The person's browser, by the desktop's own opener where there is one (freedesktop.org, xdg-utils); else nothing.
void open_browser(const std::string& address) {
  std::string program = "xdg-open", argument = address;
  char* words[] = {program.data(), argument.data(), nullptr};
  ::posix_spawn_file_actions_t quiet;
  ::posix_spawn_file_actions_init(&quiet);
  for (const int stream : {0, 1, 2})
    ::posix_spawn_file_actions_addopen(&quiet, stream, "/dev/null", stream == 0 ? 0 : 1, 0);
  // Signals that this program ignores are not ignored there.
  ::sigset_t usual;
  ::sigemptyset(&usual);
  for (const int signal : {SIGPIPE, SIGXFSZ}) ::sigaddset(&usual, signal);
  ::posix_spawnattr_t attributes;
  ::posix_spawnattr_init(&attributes);
  ::posix_spawnattr_setsigdefault(&attributes, &usual);
  ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGDEF);
  ::pid_t child = 0;
  if (::posix_spawnp(&child, program.c_str(), &quiet, &attributes, words, environ) == 0)
    std::thread([child] { ::waitpid(child, nullptr, 0); }).detach();
  ::posix_spawnattr_destroy(&attributes);
  ::posix_spawn_file_actions_destroy(&quiet);
}

int run(const Options& options, const Context& context) {
  DeskSettings settings = options.settings;
  settings.folder = options.folder;
  settings.port = static_cast<std::uint16_t>(options.port);
  auto desk = Desk::open(settings);
  if (!desk) return fail(desk.error());
  if (const int status = tell(
          fmt::format("The desk is open: {}\nIt is heard on this machine only. Ctrl-C ends it.\n", desk->address()));
      status != status_fine)
    return status;
  if (!options.no_open) open_browser(desk->address());
  const std::jthread watch([&](const std::stop_token& ended) {
    while (!ended.stop_requested()) {
      if (context.progress.cancelled()) desk->stop();
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
  });
  desk->serve();
  return tell("The desk is closed.\n");
}

}  // namespace

void add_desk(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "desk", "Open a page over a folder of jobs and records, on this machine only",
                                  "  hairline desk prints\n"
                                  "  hairline desk prints --port 8123 --no-open");
  Options& options = options_of(command, context, run);
  command
      .add_option("folder", options.folder, "Of jobs and records; the desk keeps its own files in its sub-folder desk")
      ->required()
      ->type_name("DIR");
  add_count(command, "--port", options.port, "Port on the loopback address; 0: any free one (default)", 0, 65535);
  command.add_flag("--no-open", options.no_open, "Only print the address, do not open a browser");
  add_count(command, "--threads", options.settings.threads, "Threads of a check (default: one per processor)", 1, 1024);
  add_today(command, options.settings.today, "Date of checks and records");
}

}  // namespace hairline::cli
