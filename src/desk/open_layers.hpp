/// Jobs whose layers are looked at: kept open between requests, with the layers seen last.
#pragma once
#include <list>
#include <memory>
#include <mutex>

#include "hairline/flips.hpp"
#include "last_check.hpp"

namespace hairline::desk {

/// A layer as drawn, and what flips in it.
struct SeenLayer {
  Mask solid;
  LayerFlips flips;
  std::uint64_t bytes() const { return solid.spans.size() * sizeof(Span) + solid.rows.size() * 8 + flips.bytes(); }
};

/// What the last check of a job left.
enum class Kept : std::uint8_t {
  nothing,  ///< it was not checked, or measured only, or what was kept is gone
  changed,  ///< it has been changed since, so that it shows another print
  all,
};

class OpenLayers {
 public:
  /// Fails as Archive::open does.
  static Result<std::shared_ptr<OpenLayers>> open(const Folder& folder, const std::string& job);

  const Archive& archive() const { return archive_; }
  Kept kept() const { return kept_; }
  /// Normal exposures, rising, and the index of the one judged; none where nothing is kept.
  const FlipsHead& head() const { return head_; }
  /// That check; unset where nothing is kept.
  const std::optional<LastCheck>& check() const { return check_; }
  /// Fails as Archive::read_layer and Flips::layer do. One layer is decoded at a time; the last few are kept.
  Result<std::shared_ptr<const SeenLayer>> layer(std::uint32_t number);

 private:
  explicit OpenLayers(Archive archive) : archive_(std::move(archive)) {}
  Result<SeenLayer> read(std::uint32_t number) const;
  void take_check(const Folder& folder, const std::string& job);

  Archive archive_;
  Kept kept_ = Kept::nothing;
  std::optional<Flips> flips_;
  FlipsHead head_;
  std::optional<LastCheck> check_;
  std::mutex mutex_;
  std::list<std::pair<std::uint32_t, std::shared_ptr<const SeenLayer>>> seen_;  // the last one first
};

/// Those that were asked for last. Any thread may ask.
class OpenJobs {
 public:
  explicit OpenJobs(const Folder& folder) : folder_(folder) {}
  /// Opened anew once the job, or its last check, has changed. Fails with not_found, and as OpenLayers::open.
  Result<std::shared_ptr<OpenLayers>> find(const std::string& job);
  /// The next `find` opens it anew.
  void forget(const std::string& job);

 private:
  struct One {
    std::string job, mark;
    std::shared_ptr<OpenLayers> layers;
  };
  const Folder& folder_;
  std::mutex mutex_;
  std::list<One> open_;  // the last one first
};

}  // namespace hairline::desk
