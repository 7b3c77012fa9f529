/// What holds the print on the plate (docs/verdicts.md, "Base").
#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "../base/thresholds.hpp"
#include "hairline/verdict.hpp"

namespace hairline {
namespace {

// What the record's base readings say: bases from least_held_s to most_held_s held, up to lifted_s they came off, and
// from welded_s on they would not come off the plate.
struct Read {
  double least_held_s = INFINITY, most_held_s = 0, lifted_s = 0, welded_s = INFINITY;
};

Read read_of(const std::vector<BaseReading>& readings) {
  Read read;
  for (const BaseReading& reading : readings) {
    if (reading.result == BaseResult::held) {
      read.least_held_s = std::min(read.least_held_s, reading.base_s);
      read.most_held_s = std::max(read.most_held_s, reading.base_s);
    }
    if (reading.result == BaseResult::lifted) read.lifted_s = std::max(read.lifted_s, reading.base_s);
    if (reading.result == BaseResult::welded) read.welded_s = std::min(read.welded_s, reading.base_s);
  }
  return read;
}

// Ten times the normal exposure (common practice, no source), held inside what the readings allow, but no less than
// what cures the base itself.
double usual_base_s(double normal_s, const Read& read, double bonds_from_s = 0) {
  double base_s = 10 * normal_s;
  if (read.most_held_s > 0) base_s = std::clamp(base_s, read.least_held_s, read.most_held_s);
  if (base_s <= read.lifted_s)
    base_s = std::isfinite(read.welded_s) ? std::sqrt(read.lifted_s * read.welded_s) : 1.25 * read.lifted_s;
  if (base_s >= read.welded_s)
    base_s = read.lifted_s > 0 ? std::sqrt(read.lifted_s * read.welded_s) : 0.8 * read.welded_s;
  return std::max(std::round(base_s), std::ceil(bonds_from_s));
}

enum class Fault : std::uint8_t { none, too_short, too_long };

// Of a base of `base_s` under layers of `normal_s`. No fault is found where a reading, or the number that would be
// advised, says the opposite.
Fault fault_of(double base_s, double normal_s, double usual_s, const Read& read) {
  const double ratio = base_s / normal_s;
  if (!at_least(ratio, base_bounds.least_ratio) && base_s < std::min(read.least_held_s, usual_s))
    return Fault::too_short;
  if (over(ratio, base_bounds.most_ratio) && base_s > std::max(read.most_held_s, usual_s)) return Fault::too_long;
  return Fault::none;
}

}  // namespace

double usual_base_s(double normal_s, const std::vector<BaseReading>& readings) {
  return usual_base_s(normal_s, read_of(readings));
}

std::optional<double> base_to_set(double base_s, const BaseTimes& times) {
  const Read read = read_of(times.readings);
  const double usual_s = usual_base_s(times.set_s, read, times.bonds_from_s);
  if (base_s < times.bonds_from_s) return usual_s;
  return fault_of(base_s, times.set_s, usual_s, read) == Fault::none ? std::nullopt : std::optional(usual_s);
}

void judge_base(BaseReport& base, const BaseTimes& times) {
  const Read read = read_of(times.readings);
  const double usual_s = usual_base_s(times.set_s, read, times.bonds_from_s);
  Fault fault = fault_of(base.base_s, times.normal_s, usual_s, read);
  if (fault_of(base.base_s, times.set_s, usual_s, read) != fault) fault = Fault::none;  // the new time mends it
  const auto add = [&base](bool comes_off, std::string text) { base.findings.push_back({std::move(text), comes_off}); };
  if (base.stated && base.base_layers == 0) {
    add(true, fmt::format("There is no base layer, though a base exposure is stated: the first layers get the normal "
                          "exposure and may not stick; set about 5 base layers of {:.0f} s (--base-layers 5, where "
                          "the job has them and does not say so).",
                          usual_s));
  } else if (base.stated && fault == Fault::too_short) {
    add(true, fmt::format("The base exposure of {:.4g} s is only {:.1f} times the normal one: the print may come off "
                          "the plate; raise it to about {:.0f} s.",
                          base.base_s, base.base_s / times.normal_s, usual_s));
  } else if (base.stated && fault == Fault::too_long) {
    add(false, fmt::format("The base exposure of {:.4g} s is {:.1f} times the normal one: the print may have to be "
                           "chiselled off the plate; lower it to about {:.0f} s.",
                           base.base_s, base.base_s / times.normal_s, usual_s));
  }
  if (base.base_layers > base_bounds.most_layers && times.height_mm > base_bounds.most_mm)
    add(false,
        fmt::format("The {} base layers are {:.1f} mm high, and the base exposure decides on their gaps and thin "
                    "walls: is that meant? About 5 are usual.",
                    base.base_layers, times.height_mm));
  if (base.largest_layer_mm2 > 0 && base.contact_mm2 < base_bounds.least_share * base.largest_layer_mm2) {
    add(true,
        fmt::format("Layer 1 touches the plate with {:.1f} mm2 only, {:.0f} % of the largest layer ({:.1f} mm2 on "
                    "layer {}): the print may be pulled off; add a raft or a wider base.",
                    base.contact_mm2, 100 * base.contact_mm2 / base.largest_layer_mm2, base.largest_layer_mm2,
                    base.largest_layer));
  }
}

}  // namespace hairline
