/// The desk: a local page over a folder of jobs and records, for people who never open a terminal (docs/desk.md).
#pragma once
#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include "hairline/result.hpp"

namespace hairline {

struct DeskSettings {
  std::filesystem::path folder;  ///< of jobs and records; the desk keeps its own files in its sub-folder `desk`
  std::uint16_t port = 0;        ///< on the loopback address; 0: any free one
  std::string today;             ///< YYYY-MM-DD; empty: whatever day it is
  std::uint32_t threads = 0;     ///< of a check; 0: one per processor
  std::uint64_t most_upload_bytes = 4ull << 30;  ///< of one dropped job
};

/// Nothing is heard but on 127.0.0.1, and nothing is answered but to who knows the address with its token.
class Desk {
 public:
  /// Makes the sub-folder and takes the port. Fails with not_found, unreadable, unwritable (the folder), and usage (the
  /// port is taken, or not allowed).
  static Result<Desk> open(const DeskSettings& settings);
  Desk(Desk&&) noexcept;
  Desk& operator=(Desk&&) noexcept;
  ~Desk();

  std::uint16_t port() const;
  /// What is opened in a browser: "http://127.0.0.1:8123/?token=...".
  std::string address() const;
  /// Answers until `stop` is called, or the page's own button is pressed.
  void serve();
  /// From any thread. Running checks are cancelled.
  void stop();

 private:
  struct State;
  explicit Desk(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace hairline
