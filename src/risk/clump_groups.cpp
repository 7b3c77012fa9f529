#include "clump_groups.hpp"

namespace hairline::risk {

std::uint32_t ClumpGroups::make() {
  const std::uint32_t group = free_place(free_, groups_);
  groups_[group].parent = group;
  groups_[group].clumps = 1;
  return group;
}

std::uint32_t ClumpGroups::find(std::uint32_t group) {
  while (groups_[group].parent != group) {
    groups_[group].parent = groups_[groups_[group].parent].parent;
    group = groups_[group].parent;
  }
  return group;
}

void ClumpGroups::join(std::uint32_t a, std::uint32_t b) {
  a = find(a), b = find(b);
  if (a == b) return;
  Group &into = groups_[a], &from = groups_[b];
  into.clumps += from.clumps;
  if (!into.ended)
    into.ended = std::move(from.ended);
  else if (from.ended)
    into.ended->absorb(std::move(*from.ended));
  if (!into.bonds)
    into.bonds = std::move(from.bonds);
  else if (from.bonds)
    into.bonds->absorb(*from.bonds);
  from = {};
  from.parent = a;
  joined_.push_back(b);
}

Bonds& ClumpGroups::bonds(std::uint32_t group) {
  Group& of = groups_[find(group)];
  if (!of.bonds) of.bonds = std::make_unique<Bonds>();
  return *of.bonds;
}

void ClumpGroups::forget_joined() {
  free_.insert(free_.end(), joined_.begin(), joined_.end());
  joined_.clear();
}

}  // namespace hairline::risk
