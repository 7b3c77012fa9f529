/// The checks of tonight's jobs, one after the other on a thread of their own. What was checked before is answered from
/// memory.
#pragma once
#include <condition_variable>
#include <map>
#include <mutex>
#include <thread>

#include "shared.hpp"

namespace hairline::desk {

class NightChecks {
 public:
  explicit NightChecks(Shared& shared);
  /// Cancels what runs.
  ~NightChecks();

  struct Running {
    std::uint32_t job = 0;              ///< of the queue
    std::uint32_t done = 0, total = 0;  ///< layers; total 0: it is opened, or known
  };
  struct Seen {
    std::vector<std::optional<QueueEntry>> entries = {};  ///< one for each job; unset: not known yet
    std::optional<Running> running = {};
    std::uint32_t waiting = 0;  ///< jobs that are not known, that which runs included
    bool busy = false;          ///< jobs are looked at, known ones too
    bool stopped = false;       ///< those wait for another queue, or for `again`
  };
  /// What is known of the queue's jobs; the checks of the others begin. Any thread may call these.
  Seen see(const Queue& queue);
  /// Looks at all of them again, as files may have changed; what is known stays known meanwhile.
  void again();
  void stop();

 private:
  struct Known {
    QueueEntry entry;
    bool old = false;
  };
  void take(const Queue& queue);
  std::optional<std::size_t> next_job() const;
  void loop();
  NightRequest request_for(const Queue& queue) const;
  QueueEntry check(const Queue& queue, Progress& progress) const;

  Shared& shared_;
  std::mutex mutex_;
  std::condition_variable wake_;
  Queue queue_;                    // wanted
  std::vector<std::string> keys_;  // one for each of its jobs
  std::map<std::string, Known> known_;
  std::string running_key_;
  std::shared_ptr<Progress> running_;
  bool stopped_ = false, ended_ = false;
  std::thread thread_;
};

}  // namespace hairline::desk
