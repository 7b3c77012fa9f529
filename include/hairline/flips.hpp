/// What flips in each layer of a checked job, at each of the check's times: written to a file while the job is checked,
/// and read from there for later looks at single layers.
///
/// The file holds no job's settings and is no format to exchange: whoever writes it knows what it belongs to. Numbers
/// are little endian; behind the head come the layers from the top down, deflated, then their index and a checksum.
#pragma once
#include <cstdint>
#include <filesystem>
#include <memory>
#include <vector>

#include "hairline/risk.hpp"

namespace hairline {

/// Voxels [begin, end) of one row. From the time with this index on they are cured, at those before they are not;
/// 0: always cured, the number of times: never.
struct FlipRun {
  std::uint32_t row = 0, begin = 0, end = 0;
  std::uint8_t cured_from = 0;
  bool operator==(const FlipRun&) const = default;
};

/// What surely flips (with a chance of 50 % or more) at some of the times; lists sorted by (row, begin), not
/// overlapping. Gaps of base and transition layers are not listed.
struct LayerFlips {
  bool known = true;            ///< false: left out for want of room, nothing is listed
  std::uint8_t bonds_from = 0;  ///< at times with a smaller index bulk does not bond: no solid of the layer stays
  std::vector<FlipRun> vanish;  ///< drawn solid
  std::vector<FlipRun> fuse;    ///< drawn gaps
  std::uint64_t bytes() const { return (vanish.size() + fuse.size()) * sizeof(FlipRun); }
};

struct FlipsHead {
  Size size;
  std::uint32_t layer_count = 0;
  std::vector<double> times_s;  ///< normal exposures, rising, at most 255; none: the job was not held against a record
  std::uint32_t judged = 0;     ///< index of the job's own time
  bool operator==(const FlipsHead&) const = default;
};
/// Of a job that was held against a record.
FlipsHead flips_head(const RiskContext& context);

inline constexpr std::uint64_t most_flips_bytes = 1'000'000'000;

/// The file while the job is checked. Holds one layer at a time.
class FlipsWriter {
 public:
  /// Fails with unwritable.
  static Result<FlipsWriter> open(const std::filesystem::path& path, const FlipsHead& head,
                                  std::uint64_t most_bytes = most_flips_bytes);
  FlipsWriter(FlipsWriter&&) noexcept;
  FlipsWriter& operator=(FlipsWriter&&) noexcept;
  ~FlipsWriter();  ///< what is not finished is removed

  /// Layers with falling numbers; in those that are not added nothing flips. Where the file would become larger than
  /// `most_bytes`, or a layer would take more than 32 MB before it is deflated, that layer is left out. Fails with
  /// unwritable.
  Result<void> add(const CriticalLayer& layer, const RiskContext& context);
  /// Renamed to its place; what was there before goes. Fails with unwritable.
  Result<void> finish();

 private:
  struct State;
  explicit FlipsWriter(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

/// Such a file, kept open. Any thread may ask.
class Flips {
 public:
  /// Fails with not_found, unreadable, broken (no such file, cut off, changed), version.
  static Result<Flips> open(const std::filesystem::path& path);
  const FlipsHead& head() const;
  /// `number`: 1 to the layer count, else invalid. Fails with unreadable and broken. Takes up to 160 MB.
  Result<LayerFlips> layer(std::uint32_t number) const;

 private:
  struct State;
  explicit Flips(std::shared_ptr<const State> state) : state_(std::move(state)) {}
  std::shared_ptr<const State> state_;
};

}  // namespace hairline
