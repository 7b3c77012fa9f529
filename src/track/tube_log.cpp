#include "tube_log.hpp"

namespace hairline::inner {
namespace {

std::uint64_t zigzag(std::int64_t value) {
  return (static_cast<std::uint64_t>(value) << 1) ^ static_cast<std::uint64_t>(value >> 63);
}
std::int64_t unzigzag(std::uint64_t value) {
  return static_cast<std::int64_t>(value >> 1) ^ -static_cast<std::int64_t>(value & 1);
}
std::uint64_t difference(std::uint64_t to, std::uint64_t from) {
  return zigzag(static_cast<std::int64_t>(to - from));
}

/// Bits of a record's last byte: which fields differ. Bit 5: more than one layer.
enum Field : std::uint8_t { area = 1, x0 = 2, y0 = 4, x1 = 8, y1 = 16, repeated = 32 };

}  // namespace

void TubeLog::put(std::uint64_t value) {
  for (; value >= 0x80; value >>= 7) packed_.push_back(static_cast<std::uint8_t>(value | 0x80));
  packed_.push_back(static_cast<std::uint8_t>(value));
}

void TubeLog::push(const Slice& slice) {
  if (count_ > 0 && slice == last_) {
    ++count_;
    return;
  }
  if (count_ > 0) pack(slice);
  last_ = slice;
  count_ = 1;
}

// What is read last comes first.
void TubeLog::pack(const Slice& from) {
  const Slice& to = last_;
  unsigned fields = 0;
  if (to.area_px != from.area_px) fields |= area;
  if (to.box.x0 != from.box.x0) fields |= x0;
  if (to.box.y0 != from.box.y0) fields |= y0;
  if (to.box.x1 != from.box.x1) fields |= x1;
  if (to.box.y1 != from.box.y1) fields |= y1;
  if (count_ > 1) fields |= repeated;
  if (fields & area) put(difference(to.area_px, from.area_px));
  if (fields & x0) put(difference(to.box.x0, from.box.x0));
  if (fields & y0) put(difference(to.box.y0, from.box.y0));
  if (fields & x1) put(difference(to.box.x1, from.box.x1));
  if (fields & y1) put(difference(to.box.y1, from.box.y1));
  if (fields & repeated) put(count_);
  packed_.push_back(static_cast<std::uint8_t>(fields));
}

void TubeLog::finish(std::pmr::deque<std::uint8_t>& out) {
  if (count_ > 0) pack({});
  out.insert(out.end(), packed_.begin(), packed_.end());
}

// Ends where the byte before is the last one of something else: only those are under 128.
std::uint64_t TubeLogReader::number() {
  std::uint64_t value = logs_[--at_];
  while (at_ > 0 && logs_[at_ - 1] >= 0x80) value = value << 7 | (logs_[--at_] & 0x7fu);
  return value;
}

bool TubeLogReader::next() {
  if (left_ == 0) return false;
  const unsigned fields = logs_[--at_];
  const auto add = [&](std::uint32_t& value) {
    value = static_cast<std::uint32_t>(std::int64_t{value} + unzigzag(number()));
  };
  count_ = fields & repeated ? static_cast<std::uint32_t>(number()) : 1;
  if (fields & y1) add(slice_.box.y1);
  if (fields & x1) add(slice_.box.x1);
  if (fields & y0) add(slice_.box.y0);
  if (fields & x0) add(slice_.box.x0);
  if (fields & area) slice_.area_px += static_cast<std::uint64_t>(unzigzag(number()));
  left_ -= count_;
  return true;
}

}  // namespace hairline::inner
