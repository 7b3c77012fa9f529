#include "bulk.hpp"

#include <algorithm>

namespace hairline::risk {

bool BulkLayers::note(std::uint32_t number) {
  const PrintedLayer& printed = context_.layers[number - 1];
  for (std::uint32_t& known : layers_) {
    const PrintedLayer& other = context_.layers[known - 1];
    if (other.height_mm != printed.height_mm || other.fixed_s != printed.fixed_s || other.factor != printed.factor)
      continue;
    known = number;
    return false;
  }
  layers_.push_back(number);
  return true;
}

std::optional<Bulk> BulkLayers::least_sure(double exposure_s, bool base) const {
  std::optional<Bulk> worst;
  for (const std::uint32_t number : layers_) {
    if (is_base(number) != base) continue;
    const PrintedLayer& printed = context_.layers[number - 1];
    const double time_s = printed.time_s(exposure_s), bond_s = bond_time_s(context_.model, printed.height_mm);
    const double chance = bulk_chance(context_, printed.height_mm, time_s);
    if (!worst || chance > worst->chance) worst = Bulk{bond_s, time_s / bond_s, chance, number};
  }
  return worst;
}

double BulkLayers::chance_at(double exposure_s) const {
  const auto worst = least_sure(exposure_s, false);
  return worst ? worst->chance : 0;
}

std::optional<double> BulkLayers::holds_from_s() const {
  double from_s = context_.model.valid_from_s;
  for (const std::uint32_t number : layers_) {
    const PrintedLayer& printed = context_.layers[number - 1];
    if (!is_base(number)) from_s = std::max(from_s, sure_bond_s(context_, printed.height_mm) / printed.factor);
  }
  return from_s <= context_.model.valid_to_s ? std::optional(from_s) : std::nullopt;
}

}  // namespace hairline::risk
