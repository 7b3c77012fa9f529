// Readings that cannot both be right: more time never thickens the thinnest wall and never narrows the narrowest slot.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "../base/numbers.hpp"
#include "hairline/fit.hpp"
#include "observations.hpp"
#include "reading_fields.hpp"

namespace hairline {
namespace {

// +1: the limit grows with time (slots, holes, depths); -1: it shrinks (walls, pins).
int direction(Seen seen) {
  return seen == Seen::wall || seen == Seen::pin ? -1 : 1;
}

// By how much `more` exceeds `less` beyond what the readings' errors allow; positive: a contradiction.
double excess(const Observation& more, const Observation& less, double sigmas) {
  if (more.step || less.step) {
    // Steps: the smallest the one can be against the largest the other can be, with half a step of grace.
    const double low = more.step ? more.low_mm : more.read_mm - sigmas * more.sd_mm;
    const double high = less.step ? less.read_mm : less.read_mm + sigmas * less.sd_mm;
    return low - high * 1.12;
  }
  return more.read_mm - less.read_mm - sigmas * std::hypot(more.sd_mm, less.sd_mm);
}

std::string sizes_of(const Observation& a, const Observation& b) {
  return fmt::format("{} mm at {} s, but {} mm at {} s", number_text(a.read_mm), number_text(a.exposure_s),
                     number_text(b.read_mm), number_text(b.exposure_s));
}

Error contradiction(const ResinRecord& record, std::string found, std::string expected) {
  return {ErrorKind::invalid, record.file, std::move(found), std::move(expected),
          "Look at both coupons again, then replace or remove the reading that is wrong."};
}

std::optional<Error> compare_sizes(const ResinRecord& record, const Observation& a, const Observation& b,
                                   double sigmas) {
  if (a.seen != b.seen || a.seen == Seen::look || by_caliper(a.seen)) return std::nullopt;
  const bool shrinks = direction(a.seen) < 0, same = same_number(a.exposure_s, b.exposure_s);
  const double over = shrinks ? excess(b, a, sigmas) : excess(a, b, sigmas);
  if (over <= 0 && !(same && (shrinks ? excess(a, b, sigmas) : excess(b, a, sigmas)) > 0)) return std::nullopt;
  const std::string error = fmt::format("within the reading error ({} mm)", number_text(std::max(a.sd_mm, b.sd_mm)));
  if (same)
    return contradiction(
        record,
        fmt::format("two readings of the {} at {} s contradict each other: {} mm and {} mm", name_of(a.seen),
                    number_text(a.exposure_s), number_text(a.read_mm), number_text(b.read_mm)),
        "one size at one exposure, " + error);
  const char* wrong = shrinks ? "gets thicker" : a.seen == Seen::cure_depth ? "gets shallower" : "gets narrower";
  const char* right = shrinks ? "thinner or equal" : a.seen == Seen::cure_depth ? "deeper or equal" : "wider or equal";
  return contradiction(record, fmt::format("the {} {} with more time: {}", name_of(a.seen), wrong, sizes_of(a, b)),
                       fmt::format("{} sizes at more time, {}", right, error));
}

std::optional<Error> compare_looks(const ResinRecord& record, const BracketReading& a, const BracketReading& b) {
  const int step_back = static_cast<int>(*a.look) - static_cast<int>(*b.look);
  const bool same = same_number(a.exposure_s, b.exposure_s);
  if (step_back < 2 && !(same && step_back <= -2)) return std::nullopt;
  return contradiction(record,
                       fmt::format("the looks contradict each other: {} at {} s, but {} at {} s", to_string(*a.look),
                                   number_text(a.exposure_s), to_string(*b.look), number_text(b.exposure_s)),
                       same ? "one look at one exposure" : "looks that go from under to over with more time");
}

// A coupon that fell off at more light than one that was read stood at.
std::optional<Error> compare_missing(const ResinRecord& record, const BracketReading& a, const BracketReading& b) {
  if (!has_sizes(a) || b.look != Look::missing || has_sizes(b)) return std::nullopt;
  return contradiction(
      record,
      fmt::format("the coupon of {} s stood, but that of {} s is missing", number_text(a.exposure_s),
                  number_text(b.exposure_s)),
      "coupons that stand with more time too; one that came off the plate for another reason is no reading");
}

std::optional<Error> compare_bases(const ResinRecord& record, const BaseReading& a, const BaseReading& b) {
  const int apart = static_cast<int>(a.result) - static_cast<int>(b.result);
  if (a.layers != b.layers || !same_number(a.base_s, b.base_s) || std::abs(apart) < 2) return std::nullopt;
  return contradiction(record,
                       fmt::format("two base readings at {} s contradict each other: {} and {}", number_text(a.base_s),
                                   to_string(a.result), to_string(b.result)),
                       "one result at one base exposure");
}

// What `compare` finds first between two of a list, an earlier and a later one.
template <class Readings, class Compare>
std::optional<Error> in_pairs(const Readings& readings, const Compare& compare) {
  for (auto a = readings.begin(); a != readings.end(); ++a)
    for (auto b = std::next(a); b != readings.end(); ++b)
      if (auto error = compare(*a, *b)) return error;
  return std::nullopt;
}

}  // namespace

std::optional<Error> find_contradiction(const ResinRecord& record, const FitSettings& settings) {
  auto sizes = observations(record, settings);
  std::stable_sort(sizes.begin(), sizes.end(),
                   [](const Observation& a, const Observation& b) { return a.exposure_s < b.exposure_s; });
  const auto by_size = [&](const Observation& a, const Observation& b) {
    return compare_sizes(record, a, b, settings.contradiction_sigmas);
  };
  if (auto error = in_pairs(sizes, by_size)) return error;
  for (const BracketReading& a : record.bracket)
    for (const BracketReading& b : record.bracket)
      if (a.exposure_s <= b.exposure_s)
        if (auto error = compare_missing(record, a, b)) return error;
  std::vector<const BracketReading*> looks;
  for (const auto& reading : record.bracket)
    if (reading.look) looks.push_back(&reading);
  std::stable_sort(looks.begin(), looks.end(),
                   [](const auto* a, const auto* b) { return a->exposure_s < b->exposure_s; });
  const auto by_look = [&](const auto* a, const auto* b) { return compare_looks(record, *a, *b); };
  if (auto error = in_pairs(looks, by_look)) return error;
  return in_pairs(record.base, [&](const auto& a, const auto& b) { return compare_bases(record, a, b); });
}

}  // namespace hairline
