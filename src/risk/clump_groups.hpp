/// Clumps (detail_forest.hpp) that belong together, as details or as contenders: a union-find over clumps that forgets
/// a group with its last clump.
#pragma once
#include <cstdint>
#include <memory>
#include <utility>
#include <vector>

#include "detail_sum.hpp"

namespace hairline::risk {

/// A free place among `all`, or a new one.
template <class List>
std::uint32_t free_place(std::vector<std::uint32_t>& free, List& all) {
  if (free.empty()) {
    all.emplace_back();
    return static_cast<std::uint32_t>(all.size() - 1);
  }
  const std::uint32_t at = free.back();
  free.pop_back();
  return at;
}

class ClumpGroups {
 public:
  /// A group of one clump.
  std::uint32_t make();
  std::uint32_t find(std::uint32_t group);
  void join(std::uint32_t a, std::uint32_t b);
  /// Two clumps of a group have become one.
  void drop_clump(std::uint32_t group) { --groups_[find(group)].clumps; }
  Bonds& bonds(std::uint32_t group);
  /// Marks what the layer `number` touches.
  void touch(std::uint32_t group, std::uint32_t number) { groups_[find(group)].touched = number; }
  /// Calls see(bonds) for each group that has bonds and that layer `number` does not touch.
  template <class See>
  void each_bound_untouched(std::uint32_t number, See see) {
    for (const Group& group : groups_) {
      if (group.bonds && group.touched != number) see(*group.bonds);
    }
  }
  /// A clump of the group has ended; if it was the last one, calls see(all that the group had, bonds or null).
  template <class See>
  void end_clump(std::uint32_t group, DetailSum&& sum, See see);
  /// Groups that were joined into others go: nobody may ask for them any more.
  void forget_joined();

 private:
  struct Group {
    std::uint32_t parent = 0;  // itself: a root
    std::uint32_t clumps = 0;  // that are open
    std::uint32_t touched = 0;
    std::unique_ptr<DetailSum> ended;  // of its clumps that are not; null: none
    std::unique_ptr<Bonds> bonds;
  };
  std::vector<Group> groups_;
  std::vector<std::uint32_t> free_, joined_;
};

template <class See>
void ClumpGroups::end_clump(std::uint32_t number, DetailSum&& sum, See see) {
  Group& group = groups_[number];
  if (--group.clumps > 0) {
    if (group.ended)
      group.ended->absorb(std::move(sum));
    else
      group.ended = std::make_unique<DetailSum>(std::move(sum));
    return;
  }
  if (group.ended) {
    group.ended->absorb(std::move(sum));
    see(*group.ended, group.bonds.get());
  } else {
    see(sum, group.bonds.get());
  }
  group = {};
  free_.push_back(number);
}

}  // namespace hairline::risk
