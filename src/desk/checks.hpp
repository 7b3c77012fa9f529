/// Checks as they run: one after the other, on a thread of their own.
#pragma once
#include <condition_variable>
#include <list>
#include <mutex>
#include <thread>

#include "hairline/progress.hpp"
#include "json.hpp"
#include "last_check.hpp"

namespace hairline::desk {

class Checks {
 public:
  explicit Checks(Shared& shared);
  ~Checks();  ///< cancels what runs and what waits
  Checks(const Checks&) = delete;
  Checks& operator=(const Checks&) = delete;

  /// Its number; that of a check which waits or runs already and is the same. Fails with limit: too many wait.
  Result<std::uint64_t> add(const AskedCheck& asked);
  /// One that is over stays as it ended. False: there never was one of that number.
  bool cancel(std::uint64_t number);
  /// The running one, those that wait in their order, and of other jobs how their last one ended.
  Json states() const;
  bool active() const;

 private:
  enum class Stage : std::uint8_t { waiting, running, done, failed, cancelled };
  struct Check {
    bool active() const { return stage == Stage::waiting || stage == Stage::running; }
    std::uint64_t number = 0;
    AskedCheck asked;
    Stage stage = Stage::waiting;
    Progress progress;
    std::string error;
  };
  void work();
  Result<void> run(Check& check);
  Result<void> check_and_keep(Check& check);

  Shared& shared_;
  mutable std::mutex mutex_;
  std::condition_variable wake_;
  std::list<Check> checks_;  // by number; those that ended are removed when the job is checked again
  std::uint64_t last_number_ = 0;
  bool ended_ = false;
  std::thread thread_;
};

/// POST /api/jobs/{}/check, POST /api/checks/{}/cancel, GET /api/events.
void add_check_routes(Routes& routes, Shared& shared, const std::shared_ptr<Checks>& checks);

}  // namespace hairline::desk
