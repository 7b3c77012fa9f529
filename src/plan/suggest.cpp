/// The time to set, from what a check finds at each time (docs/verdicts.md, "The time to set").
#include <fmt/core.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "../base/thresholds.hpp"
#include "at_risk.hpp"
#include "changes.hpp"
#include "words.hpp"

namespace hairline {
namespace {

struct Range {
  double from_s = 0, to_s = 0;
  bool has(double t) const { return at_least(t, from_s) && !over(t, to_s); }
  bool has(const TimeRow& row) const { return has(row.point.exposure_s); }
  bool empty() const { return from_s > to_s; }
};

bool bulk_holds(const TimeRow& row) {
  return !row.whole_fails && !at_least(row.point.bulk_chance.value_or(0), verdict_bounds.caution_bulk_chance);
}
// Bulk so unsure that the print must not be started, whatever its details do.
bool bulk_fails(const TimeRow& row) {
  return row.whole_fails || at_least(row.point.bulk_chance.value_or(0), verdict_bounds.hold_bulk_chance);
}
std::uint32_t losses(const SweepPoint& point) {
  return point.vanish + point.fuse;
}
// Of the rows that count, which are rising, the one nearest to a time; null where none does.
const TimeRow* nearest_row(const std::vector<TimeRow>& rows, double exposure_s, const auto& counts) {
  const auto way_s = [&](const TimeRow& row) { return std::abs(row.point.exposure_s - exposure_s); };
  const TimeRow* nearest = nullptr;
  for (const TimeRow& row : rows)
    if (counts(row) && (nearest == nullptr || way_s(row) < way_s(*nearest))) nearest = &row;
  return nearest;
}

std::vector<plan::AlsoLost> also_lost_at(const std::vector<TimeRow>& rows, bool surely) {
  std::vector<plan::AlsoLost> all;
  for (const TimeRow& row : rows) all.push_back(plan::also_lost(rows, row, surely));
  return all;
}

// What a suggestion is worked out from.
struct Basis {
  const RiskFound& found;
  const PlanContext& context;
  const CureModel& model = context.risk.model;
  const std::vector<TimeRow>& rows = found.rows;
  const TimeRow& now = *nearest_row(rows, context.risk.exposure_s, [](const TimeRow&) { return true; });  // the job's
  Range record{model.valid_from_s, model.valid_to_s};
  // The times that may be suggested: those of the record, and of them those that were asked for.
  Range allowed{std::max(record.from_s, context.sweep.from_s),
                context.sweep.to_s > 0 ? std::min(record.to_s, context.sweep.to_s) : record.to_s};
  std::vector<plan::AlsoLost> surely = also_lost_at(rows, true), mostly = also_lost_at(rows, false);  // of each row
  const plan::AlsoLost& also(const TimeRow& row) const { return surely[static_cast<std::size_t>(&row - rows.data())]; }
  const plan::AlsoLost& half(const TimeRow& row) const { return mostly[static_cast<std::size_t>(&row - rows.data())]; }
};

// Is nothing lost or at risk at the row itself, but something doubtful all the same?
bool is_doubtful(const TimeRow& row, const Basis& basis) {
  return plan::is_on_doubtful(row.shared_load_mm3) || basis.also(row).losses() > 0 ||
         plan::loss_beside(basis.rows, row) != nullptr;
}
// A row inside a window.
bool is_clean(const TimeRow& row, const Basis& basis) {
  return bulk_holds(row) && !is_much_uncured(row.point.uncured_share) && !plan::has_at_risk(row) &&
         !is_doubtful(row, basis);
}

// Of what is lost elsewhere and half of it at a row, what comes on top of that at the job's own time.
std::uint32_t more_half_lost(const TimeRow& row, const Basis& basis) {
  const std::uint32_t here = basis.half(row).losses(), now = basis.half(basis.now).losses();
  return here - std::min(here, now);
}

// What is lost at a row, seen from the job's own time, and the harm to be expected.
struct Stake {
  std::uint32_t losses = 0;
  double harm_mm = 0;
};
Stake stake_at(const TimeRow& row, const Basis& basis) {
  const double more_mm = basis.half(row).harm_mm - basis.half(basis.now).harm_mm;
  return {losses(row.point) + more_half_lost(row, basis), row.point.expected_mm + std::max(0.0, more_mm)};
}

SweepPoint point_of(const TimeRow& row, const Basis& basis) {
  SweepPoint point = row.point;
  point.half_lost = std::max(basis.also(row).losses(), more_half_lost(row, basis));
  return point;
}

bool is_better(const TimeRow& row, const Basis& basis) {
  const TimeRow& now = basis.now;
  if (!bulk_holds(row)) return false;
  if (bulk_fails(now)) return true;
  const Stake stake = stake_at(row, basis);
  const double spared_mm = now.point.expected_mm - stake.harm_mm;
  if (!at_least(spared_mm, 0)) return false;
  const bool uncured = is_much_uncured(row.point.uncured_share), uncured_now = is_much_uncured(now.point.uncured_share);
  if (uncured != uncured_now) return uncured_now;
  const bool much_less = over(spared_mm, 2) && over(spared_mm, 0.5 * now.point.expected_mm);
  return stake.losses < losses(now.point) || much_less;
}

// The row to change to; null where none is better. One at which much does not cure is none while there are others, nor
// is one outside every window while there are others as good.
const TimeRow* better_row(const Basis& basis) {
  const TimeRow& now = basis.now;
  std::vector<const TimeRow*> better;
  for (const TimeRow& row : basis.rows)
    if (basis.allowed.has(row) && is_better(row, basis)) better.push_back(&row);
  const auto drop_where_others_are = [&](const auto& worse) {
    if (!std::all_of(better.begin(), better.end(), worse)) std::erase_if(better, worse);
  };
  drop_where_others_are([](const TimeRow* row) { return is_much_uncured(row->point.uncured_share); });
  double least_mm = INFINITY, most_mm = 0;
  for (const TimeRow* row : better) {
    least_mm = std::min(least_mm, stake_at(*row, basis).harm_mm);
    most_mm = std::max(most_mm, stake_at(*row, basis).harm_mm);
  }
  // Where the print as a whole fails nothing is known of its details, so the worst of the better rows stands for it.
  const double now_mm = bulk_fails(now) ? most_mm : now.point.expected_mm;
  std::erase_if(better, [&](const TimeRow* row) {
    return over(stake_at(*row, basis).harm_mm, least_mm + 0.05 * (now_mm - least_mm));
  });
  drop_where_others_are([&](const TimeRow* row) { return !is_clean(*row, basis); });
  const auto distance = [&](const TimeRow& row) {
    return std::abs(std::log(row.point.exposure_s / now.point.exposure_s));
  };
  const TimeRow* nearest = nullptr;
  for (const TimeRow* row : better)
    if (nearest == nullptr || distance(*row) < distance(*nearest) - tolerance) nearest = row;
  return nearest;
}

std::optional<std::array<double, 2>> window_around(const TimeRow& chosen, const Basis& basis) {
  const std::vector<TimeRow>& rows = basis.rows;
  const auto inside = [&](const TimeRow& row) { return basis.allowed.has(row) && is_clean(row, basis); };
  if (!inside(chosen)) return std::nullopt;
  const TimeRow *first = &chosen, *last = &chosen;
  while (first != &rows.front() && inside(*(first - 1))) --first;
  while (last != &rows.back() && inside(*(last + 1))) ++last;
  const double from_s = first->point.exposure_s, to_s = last->point.exposure_s;
  if (!at_least(to_s - from_s, 0.05 * 0.5 * (from_s + to_s))) return std::nullopt;
  return std::array{from_s, to_s};
}

// Multiples of 0.1 s that cover from_s to to_s, at most five (common practice, no source).
std::vector<double> coupon_times(double from_s, double to_s) {
  const int first = std::max(1, static_cast<int>(std::floor(10 * from_s + tolerance)));
  const int last = std::max(first, static_cast<int>(std::ceil(10 * to_s - tolerance)));
  const int step = std::max(1, (last - first + 3) / 4);
  std::vector<double> times;
  for (int i = first; i < last; i += step) times.push_back(i / 10.0);
  times.push_back(last / 10.0);
  return times;
}
std::vector<double> coupon_times_around(double time_s) {
  return coupon_times(0.95 * time_s, 1.05 * time_s);
}

// Coupons just beyond an end of the record's range, and which of the row's lost parts (gaps) longer (shorter) times
// would save there: those whose critical exposure lies within a quarter beyond the end. The times reach to where the
// last of them is no longer at risk, but not below `bonds_from_s`: there is nothing to read on what does not bond.
CouponAdvice beyond_end(const TimeRow& row, Fate saved, double end_s, double bonds_from_s) {
  const double way = saved == Fate::vanish ? 1 : -1;
  double reach_s = end_s;
  CouponAdvice advice;
  for (const Detail& detail : row.lost) {
    if (detail.fate != saved || detail.state != State::will || !detail.critical_exposure_s) continue;
    const double beyond_s = way * (*detail.critical_exposure_s - end_s);
    if (beyond_s <= 0 || over(beyond_s, 0.25 * end_s) || *detail.critical_exposure_s < bonds_from_s) continue;
    ++advice.saves;
    const double safe_s = *detail.critical_exposure_s * std::exp(way * plan::z_at_risk * detail.log_sd);
    reach_s = way * std::max(way * reach_s, way * safe_s);
  }
  reach_s = std::max(bonds_from_s, std::clamp(reach_s, end_s / 1.5, end_s * 1.5));
  advice.exposures_s = saved == Fate::vanish ? coupon_times(end_s + 0.1, reach_s) : coupon_times(reach_s, end_s - 0.1);
  return advice;
}

// Coupons beyond the end where more would be saved, and what is lost at that end besides. None where that is no less
// than what the row loses, where the print as a whole fails, or where that end was not asked for.
struct Beyond {
  std::optional<CouponAdvice> coupons;
  std::uint32_t others = 0;
};
Beyond beyond_record(const TimeRow& row, const Basis& basis, double bonds_from_s) {
  const Range& record = basis.record;
  const CouponAdvice longer = beyond_end(row, Fate::vanish, record.to_s, 0);
  const CouponAdvice shorter = beyond_end(row, Fate::fuse, record.from_s, bonds_from_s);
  const bool up = longer.saves >= shorter.saves;
  const CouponAdvice& coupons = up ? longer : shorter;
  if (coupons.saves == 0) return {};
  const TimeRow* end = nullptr;  // nearest to the record's, of the rows at or beyond it
  for (const TimeRow& one : basis.rows) {
    if (up && end == nullptr && at_least(one.point.exposure_s, record.to_s)) end = &one;
    if (!up && !over(one.point.exposure_s, record.from_s)) end = &one;
  }
  if (end == nullptr || end->whole_fails) return {};
  const std::uint32_t there = losses(end->point);
  const std::uint32_t others = there - std::min(there, coupons.saves);
  if (others >= losses(row.point)) return {};
  return {coupons, others};
}

// Normal exposure from which bulk of the layer where it is least sure bonds for sure; unset where nothing is bulk.
std::optional<double> bulk_bonds_from_s(const Basis& basis) {
  if (!basis.found.bulk) return std::nullopt;
  const PrintedLayer& layer = basis.context.risk.layers[basis.found.bulk->layer - 1];
  return sure_bond_s(basis.context.risk, layer.height_mm) / layer.factor;
}

// Grey masks and not the layer height: the print as a whole fails without bulk, or something lost is grey.
bool masks_to_blame(const Basis& basis) {
  const TimeRow& now = basis.now;
  if (now.whole_fails && !basis.found.bulk) return true;
  return std::any_of(now.lost.begin(), now.lost.end(),
                     [&](const Detail& detail) { return is_grey(detail, basis.model); });
}

// ---- text ----

std::string will_text(const TimeRow& row) {
  return parts_and_gaps(row.point.vanish, row.point.fuse);
}
std::string may_text(const TimeRow& row) {
  const auto count = [&](Fate fate) {
    return static_cast<std::size_t>(std::count_if(row.lost.begin(), row.lost.end(), [&](const Detail& detail) {
      return detail.fate == fate && plan::may_be_lost(detail);
    }));
  };
  return parts_and_gaps(count(Fate::vanish), count(Fate::fuse));
}
const char* is_or_are(const TimeRow& row) {
  return losses(row.point) > 1 ? "are" : "is";
}

std::string change_text(const Basis& basis, const TimeRow& then) {
  const TimeRow& now = basis.now;
  const std::string set = fmt::format("Set {:.2f} s: ", then.point.exposure_s), may = may_text(then);
  const std::string though = may == "nothing" ? "" : fmt::format(", though {} may be", may);
  if (bulk_fails(now))
    return set + fmt::format("{} {} lost then{}. At {:.2f} s the print as a whole {}.", will_text(then),
                             is_or_are(then), though, now.point.exposure_s, now.whole_fails ? "fails" : "may fail");
  if (losses(then.point) < losses(now.point))
    return set +
           fmt::format("{} {} lost then instead of {}{}.", will_text(then), is_or_are(then), will_text(now), though);
  if (is_much_uncured(now.point.uncured_share) && !is_much_uncured(then.point.uncured_share))
    return set + fmt::format("at {:.2f} s {}.", now.point.exposure_s, uncured_text(now.point.uncured_share));
  if (losses(now.point) == 0 && may == "nothing" && !is_doubtful(then, basis))
    return set +
           fmt::format("nothing is at risk then; at {:.2f} s {} may be lost.", now.point.exposure_s, may_text(now));
  return set +
         fmt::format("less than half as much of the print is at stake then as at {:.2f} s.", now.point.exposure_s);
}

// "no time of the record", "no time from 2.00 to 2.30 s" where only a part of it was asked for.
std::string no_time_text(const Basis& basis) {
  const SweepSettings& asked = basis.context.sweep;
  if (asked.from_s <= 0 && asked.to_s <= 0) return "no time of the record";
  const Range range = basis.allowed.empty() ? Range{asked.from_s, asked.to_s} : basis.allowed;
  return fmt::format("no time from {:.2f} to {:.2f} s", range.from_s, range.to_s);
}

// "no time of the record is better"; or that those asked for lie outside it.
std::string no_time_text(const Basis& basis, const std::string& what) {
  return basis.allowed.empty() ? outside_record_text(basis.model) : no_time_text(basis) + " " + what;
}

// Says that no row is better: "no time of the record loses less than these 5 parts".
std::string none_better_text(const Basis& basis) {
  const TimeRow& now = basis.now;
  const std::string these = losses(now.point) > 1   ? "these " + will_text(now)
                            : now.point.vanish == 1 ? "this part"
                                                    : "this gap";
  const bool fewer = std::any_of(basis.rows.begin(), basis.rows.end(), [&](const TimeRow& row) {
    return basis.allowed.has(row) && bulk_holds(row) && stake_at(row, basis).losses < losses(now.point);
  });
  return fewer && !basis.allowed.empty() ? "the times that lose fewer than " + these + " put more of the print at stake"
                                         : no_time_text(basis, "loses less than " + these);
}

// The nearest time of the record at which nothing is lost or at risk.
std::optional<double> covered_s(const Basis& basis) {
  const TimeRow* nearest = nearest_row(basis.rows, basis.now.point.exposure_s, [&](const TimeRow& row) {
    return basis.allowed.has(row) && row.lost.empty() && is_clean(row, basis) && basis.half(row).losses() == 0;
  });
  return nearest == nullptr ? std::nullopt : std::optional(nearest->point.exposure_s);
}

std::string keep_text(const Basis& basis, std::optional<double> safe_s) {
  const TimeRow& now = basis.now;
  const std::string keep = fmt::format("Keep {:.2f} s: ", now.point.exposure_s);
  if (losses(now.point) > 0) return keep + none_better_text(basis) + ".";
  if (is_much_uncured(now.point.uncured_share))
    return keep + fmt::format("{}, but {}.", uncured_text(now.point.uncured_share), no_time_text(basis, "is better"));
  const std::string safe = safe_s ? fmt::format("; at {:.2f} s nothing is at risk.", *safe_s) : ".";
  if (const std::string may = may_text(now); may != "nothing") {
    if (safe_s) return keep + may + " may be lost" + safe;
    return keep + fmt::format("{} may be lost, but {}.", may, no_time_text(basis, "is clearly better"));
  }
  if (const plan::AlsoLost& also = basis.also(now); also.losses() > 0)
    return keep + plan::also_lost_text(also, now.point.exposure_s) + safe;
  if (const TimeRow* beside = plan::loss_beside(basis.rows, now))
    return keep + "nothing is lost, but " + plan::beside_text(*beside, now.point.exposure_s) + safe;
  if (plan::is_on_doubtful(now.shared_load_mm3))
    return keep + fmt::format("{:.1f} mm3 stand on parts that may be lost", now.shared_load_mm3) + safe;
  const std::vector<Detail>& details = basis.found.details;
  const bool base =
      std::any_of(details.begin(), details.end(), [](const Detail& detail) { return detail.base && detail.lost; });
  return keep + (base ? "what is lost in the base depends on the base exposure alone." : "nothing is lost" + safe);
}

// `bonds_from_s` where the whole range is too short for bulk; `others` are lost where the coupons begin; `safe_s` for a
// time outside the record.
std::string record_text(const Basis& basis, const std::optional<CouponAdvice>& coupons, std::uint32_t others,
                        std::optional<double> bonds_from_s, std::optional<double> safe_s) {
  const TimeRow& now = basis.now;
  const bool named = !basis.allowed.empty();
  std::string text;
  if (bonds_from_s) {
    text =
        fmt::format("{} is sure to print this: its solid parts bond from about {:.1f} s on.",
                    !named && basis.context.sweep.to_s >= *bonds_from_s ? "no time of the record" : no_time_text(basis),
                    std::ceil(10 * *bonds_from_s - tolerance) / 10);
  } else if (!basis.record.has(now)) {
    text = fmt::format("{:.2f} s lies outside the record ({:.2f} to {:.2f} s), ", now.point.exposure_s,
                       basis.record.from_s, basis.record.to_s);
    text += safe_s ? fmt::format("in which nothing is at risk at {:.2f} s: set that.", *safe_s)
                   : "and no time in it is better.";
  } else if (coupons) {
    const bool all = coupons->saves == losses(now.point);
    const std::string saved = !all     ? fmt::format("{} of {}", coupons->saves, named ? "them" : "what is lost")
                              : !named ? "what is lost"
                              : losses(now.point) == 1 ? "it"
                                                       : "all of them";
    text = fmt::format("{}, but {} may be saved just beyond the record", none_better_text(basis), saved);
    if (others > 0 && others + coupons->saves == losses(now.point))
      text += others == 1 ? ", where the other stays lost" : fmt::format(", where the other {} stay lost", others);
    else if (others > 0)
      text += fmt::format(", where {} lost", count_text(others, "other detail is", "other details are"));
    text += ".";
  } else {
    const std::optional<Bulk>& base_bulk = basis.found.base_bulk;
    const bool base = base_bulk && at_least(base_bulk->chance, will_chance);
    text = fmt::format("{} prints this: {} does not cure.", no_time_text(basis),
                       base ? "its base, which has a time of its own," : "more than half of it");
  }
  text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  if (coupons)
    text += fmt::format(" {} coupons at {} first.",
                        safe_s ? fmt::format("To stay at {:.2f} s, print", now.point.exposure_s) : "Print",
                        plan::times_text(coupons->exposures_s));
  return text;
}

// The window around a row; the layer height that would give one where at no row all is safe comes back.
std::optional<plan::BetterHeight> add_window(const Basis& basis, const TimeRow& then, Suggestion& s) {
  const std::vector<TimeRow>& rows = basis.rows;
  const auto any_row = [&](const auto& holds) { return std::any_of(rows.begin(), rows.end(), holds); };
  const auto holds_here = [&](const TimeRow& row) { return basis.allowed.has(row) && bulk_holds(row); };
  const bool any_clean = any_row([&](const TimeRow& row) { return holds_here(row) && is_clean(row, basis); });
  s.window_s = window_around(then, basis);
  s.conflict = any_row(holds_here) && !any_clean;
  if (any_clean || masks_to_blame(basis)) return std::nullopt;
  auto height = plan::better_height(basis.found, basis.context);
  if (height) s.layer_height_mm = height->height_mm;
  return height;
}

bool bulk_holds_in_record(const Basis& basis) {
  return std::any_of(basis.rows.begin(), basis.rows.end(),
                     [&](const TimeRow& row) { return basis.record.has(row) && bulk_holds(row); });
}

// ---- the three answers; `s.coupons`: what may be saved beyond the record ----

void change_to(const TimeRow& then, const Basis& basis, Suggestion& s) {
  s.action = Action::change;
  s.exposure_s = then.point.exposure_s;
  s.text = change_text(basis, then);
  for (const Detail& detail : then.lost)
    if (plan::is_grave_risk(detail)) s.then_hangs_mm3 += detail.carries_mm3;
  if (s.then_hangs_mm3 > 0) s.text += hangs_text(s.then_hangs_mm3);
  if (is_much_uncured(then.point.uncured_share))
    s.text += fmt::format(" {} then, so it stays on hold.", uncured_text(then.point.uncured_share));
  if (s.coupons)
    s.text += fmt::format(" {} of what stays lost may be saved beyond the record: print coupons at {}.",
                          s.coupons->saves, plan::times_text(s.coupons->exposures_s));
}

void keep(const Basis& basis, Suggestion& s) {
  const TimeRow& now = basis.now;
  s.action = Action::keep;
  const bool doubtful = may_text(now) != "nothing" || !bulk_holds(now) || is_doubtful(now, basis);
  if (losses(now.point) == 0 && doubtful) s.covered_s = covered_s(basis);
  s.text = keep_text(basis, s.covered_s);
}

// `others`: of beyond_record; `bonds_from_s`: of bulk.
void ask_for_coupons(const Basis& basis, std::uint32_t others, std::optional<double> bonds_from_s, Suggestion& s) {
  const TimeRow& now = basis.now;
  const bool in_record = basis.record.has(now);
  s.action = Action::record;
  if (bulk_holds(now) || bulk_holds_in_record(basis) || bonds_from_s.value_or(0) <= basis.allowed.to_s)
    bonds_from_s.reset();
  if (bonds_from_s.value_or(0) > basis.record.to_s) s.coupons = CouponAdvice{coupon_times_around(*bonds_from_s), 0};
  if (!s.coupons && !in_record && bulk_holds(now))
    s.coupons = CouponAdvice{coupon_times_around(now.point.exposure_s), 0};
  if (!in_record && !bonds_from_s) s.covered_s = covered_s(basis);
  s.text = record_text(basis, s.coupons, others, bonds_from_s, s.covered_s);
}

}  // namespace

Suggestion suggest(const RiskFound& found, const PlanContext& context) {
  const RiskContext& risk = context.risk;
  const Basis basis{found, context};
  const TimeRow* better = better_row(basis);
  const TimeRow& then = better != nullptr ? *better : basis.now;
  const std::optional<double> bonds_from_s = bulk_bonds_from_s(basis);
  Beyond beyond = beyond_record(then, basis, bonds_from_s.value_or(0));

  Suggestion s;
  s.now = point_of(basis.now, basis), s.then = point_of(then, basis), s.exposure_s = risk.exposure_s;
  s.coupons = std::move(beyond.coupons);
  if (better != nullptr)
    change_to(*better, basis, s);
  else if (!s.coupons && basis.record.has(basis.now) && bulk_holds_in_record(basis))
    keep(basis, s);
  else
    ask_for_coupons(basis, beyond.others, bonds_from_s, s);

  const auto height = add_window(basis, then, s);
  if (context.base_s) {
    const double base_bonds_s = base_bonds_from_s(found, risk, *context.base_s);
    s.base_s = base_to_set(*context.base_s, {risk.exposure_s, s.exposure_s, context.base_readings, base_bonds_s});
  }
  if (!bulk_fails(then)) s.changes = plan::needed_changes(then, basis.rows, context);
  for (const TimeRow& row : basis.rows) s.sweep.push_back(point_of(row, basis));
  s.coarse_sweep = row_times(context.sweep, risk.model, risk.exposure_s).coarse;
  plan::add_levers(found, context, then, height, s);
  return s;
}

}  // namespace hairline
