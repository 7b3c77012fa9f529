// The real binary in a fresh folder: both streams, exit status, and what is left in the folder.
#pragma once
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace hairline::test {

struct Ran {
  std::string out, err;
  int status = -1;  // 128 + signal when it was killed
};

inline std::string file_text(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

inline void write_file(const std::filesystem::path& path, const std::string& text) {
  std::filesystem::create_directories(path.parent_path());
  std::ofstream(path, std::ios::binary) << text;
}

/// A folder of its own, gone at the end.
class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "hairline-cli-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = name;
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  const std::filesystem::path& path() const { return path_; }
  std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
  /// Everything in it, relative, sorted.
  std::vector<std::string> files() const {
    std::vector<std::string> names;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(path_))
      names.push_back(entry.path().lexically_relative(path_).string());
    std::sort(names.begin(), names.end());
    return names;
  }

 private:
  std::filesystem::path path_;
};

/// Runs a program in `folder`, as a user without rights if asked (needs root; 126 or 127 where that user cannot run
/// it); the streams go through files outside it, so nothing blocks and nothing is left there.
inline Ran run(const std::vector<std::string>& command, const std::filesystem::path& folder,
               const std::vector<std::string>& environment = {}, bool as_nobody = false) {
  const Folder streams;
  const std::string out = (streams / "out").string(), err = (streams / "err").string();
  const pid_t child = ::fork();
  if (child < 0) throw std::runtime_error("no process");
  if (child == 0) {
    const int null = ::open("/dev/null", O_RDONLY);
    const int out_file = ::open(out.c_str(), O_WRONLY | O_CREAT, 0600);
    const int err_file = ::open(err.c_str(), O_WRONLY | O_CREAT, 0600);
    if (::chdir(folder.c_str()) != 0) ::_exit(126);
    if (as_nobody && (::setgid(65534) != 0 || ::setuid(65534) != 0)) ::_exit(126);
    ::dup2(null, 0), ::dup2(out_file, 1), ::dup2(err_file, 2);
    ::setenv("XDG_STATE_HOME", "/dev/null", 1);  // what a person did last is none of a test's business
    ::setenv("XDG_CACHE_HOME", (streams / "cache").c_str(), 1);
    for (const std::string& setting : environment) ::putenv(const_cast<char*>(setting.c_str()));
    std::vector<char*> arguments;
    for (const std::string& argument : command) arguments.push_back(const_cast<char*>(argument.c_str()));
    arguments.push_back(nullptr);
    ::execv(arguments[0], arguments.data());
    ::_exit(127);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  Ran ran;
  ran.out = file_text(out);
  ran.err = file_text(err);
  ran.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return ran;
}

#ifdef HAIRLINE_BINARY
/// Runs `hairline` with these arguments.
inline Ran hairline(std::vector<std::string> arguments, const std::filesystem::path& folder,
                    const std::vector<std::string>& environment = {}) {
  arguments.insert(arguments.begin(), HAIRLINE_BINARY);
  return run(arguments, folder, environment);
}
#endif

}  // namespace hairline::test
