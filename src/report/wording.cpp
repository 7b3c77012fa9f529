#include "wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "../base/and_list.hpp"
#include "../base/thresholds.hpp"
#include "hairline/files.hpp"
#include "lines.hpp"
#include "words.hpp"

namespace hairline {
namespace {

struct Span {
  double low = std::numeric_limits<double>::infinity(), high = -std::numeric_limits<double>::infinity();
  void add(double value) { low = std::min(low, value), high = std::max(high, value); }
};

template <class Field>
Span span_of(const LossGroup& group, Field field) {
  Span span;
  for (const Detail* detail : group.members) span.add(field(*detail));
  return span;
}

BoxMm box_of(const LossGroup& group) {
  BoxMm box = group.members.front()->box;
  for (const Detail* detail : group.members) box = join(box, detail->box);
  return box;
}

std::string where_text(std::uint32_t from_layer, std::uint32_t to_layer, const BoxMm& box) {
  return layers_text(from_layer, to_layer, box) + ", " + place_text(box);
}

std::string none_or(std::uint64_t count, const char* one, const char* many) {
  return count == 0 ? fmt::format("no {}", one) : count_text(count, one, many);
}

// "#1 to #14", "#1, #3 and 12 more".
std::string ids_text(const std::vector<const Detail*>& members) {
  constexpr std::size_t shown = 3;
  const std::uint32_t first = members.front()->id, last = members.back()->id;
  if (last - first + 1 == members.size())
    return fmt::format("#{} {} #{}", first, members.size() == 2 ? "and" : "to", last);
  std::string text = fmt::format("#{}", first);
  for (std::size_t i = 1; i < std::min(members.size(), shown); ++i) text += fmt::format(", #{}", members[i]->id);
  return members.size() > shown ? text + fmt::format(" and {} more", members.size() - shown) : text;
}

std::string kind_of(Fate fate, bool flat) {
  return fate == Fate::vanish ? "thin part" : flat ? "flat gap" : "narrow gap";
}

// ---- a loss ----

std::string happens(const Detail& detail) {
  const bool will = detail.state == State::will;
  if (detail.breaks) return will ? "will be missing and leave a break" : "may be missing and leave a break";
  if (detail.fate == Fate::vanish) return will ? "will be missing" : "may be missing";
  if (detail.welds) return will ? "will close and weld two parts" : "may close and weld two parts";
  if (detail.shuts) return will ? "will close and shut a way through" : "may close and shut a way through";
  return will ? "will be closed" : "may be closed";
}

std::string percents_text(const Span& span) {
  const std::string low = percent_text(span.low), high = percent_text(span.high);
  return low == high ? high : low + " to " + high;
}

std::string loss_title(const LossGroup& group) {
  const Detail& worst = *group.members.front();
  const std::size_t count = group.members.size();
  const std::string kind = group.grey ? "part" : kind_of(worst.fate, worst.flat);
  const std::string chance = percents_text(span_of(group, [](const Detail& detail) { return detail.probability; }));
  if (count == 1) return fmt::format("A {} {} ({})", kind, happens(worst), chance);
  return fmt::format("{} {}s alike ({}) {} ({})", count, kind, ids_text(group.members), happens(worst), chance);
}

// A small share of what was drawn, that goes (fills) far into it.
bool lost_by_reach(const Detail& detail) {
  const RiskSettings usual;
  return at_least(detail.reach_mm.value_or(0), usual.lost_reach_mm) &&
         !at_least(detail.share.value_or(0), usual.lost_share);
}

std::string loss_size(const LossGroup& group) {
  const Detail& worst = *group.members.front();
  const bool vanish = worst.fate == Fate::vanish, alone = group.members.size() == 1;
  const Span width = span_of(group, [](const Detail& detail) { return detail.width_mm; });
  std::string text = group.grey ? "grey in the masks"
                                : fmt::format("{} mm {}", range_text(width.low, width.high),
                                              vanish       ? "thick"
                                              : worst.flat ? "high"
                                                           : "wide");
  if (alone) text += fmt::format(", {} mm {}", length_text(worst.extent_mm), worst.flat ? "across" : "long");
  const Span share = span_of(group, [](const Detail& detail) { return detail.share.value_or(1); });
  if (share.low < 0.95)
    text += fmt::format(", {} of {} {}", percents_text(share), alone ? "it" : "each",
                        worst.state == State::may ? (vanish ? "could go" : "could fill")
                        : vanish                  ? "goes"
                                                  : "fills");
  if (lost_by_reach(worst)) {
    const Span reach = span_of(group, [](const Detail& detail) { return detail.reach_mm.value_or(0); });
    text += fmt::format(", up to {} mm deep", mm_text(reach.high));
  }
  if (group.spacing_mm) text += fmt::format(", {} mm apart", mm_text(*group.spacing_mm));
  return text;
}

std::string loss_place(const LossGroup& group) {
  const Detail& worst = *group.members.front();
  const BoxMm box = box_of(group);
  if (group.members.size() == 1) return where_text(worst.from_layer, worst.to_layer, box);
  return layers_text(worst.from_layer, worst.to_layer, box) + ", " + spot_text(box);
}

std::string loss_limit(const LossGroup& group) {
  const Detail& worst = *group.members.front();
  const bool vanish = worst.fate == Fate::vanish, alone = group.members.size() == 1;
  if (worst.base)
    return fmt::format(" {} in the base or transition layers, which have their own times.",
                       alone ? "It lies" : "They lie");
  if (std::none_of(group.members.begin(), group.members.end(), [](const Detail* detail) { return detail->avoidable; }))
    return fmt::format(" No time of the record saves {}.", alone ? "it" : "them");
  const Span limit = span_of(group, [](const Detail& detail) {
    return detail.critical_exposure_s.value_or(std::numeric_limits<double>::quiet_NaN());
  });
  if (!(limit.high < std::numeric_limits<double>::infinity()) || !(limit.low > 0)) return {};
  // A detail's limit is that of its middle voxel, so some of it goes on the other side.
  const std::string times = range_text(limit.low, limit.high);
  const char* which = alone ? "it" : "each";
  return vanish ? fmt::format(" Most of {} prints from {} s on.", which, times)
                : fmt::format(" Most of {} stays open below {} s.", which, times);
}

std::string exception_text(const Report& report, const Detail& detail) {
  const auto own = own_time(detail, report.layers, report.exposure_s);
  return own ? fmt::format(" An exception of the job gives {} to {}.", exposure_text(own->exposure_s),
                           layer_numbers_text(own->from_layer, own->to_layer))
             : "";
}

// What comes loose with a group, and what starts on nothing but is held higher up.
std::string falls_text(const LossGroup& group) {
  struct Sum {
    const Fall* lowest = nullptr;
    std::size_t count = 0;
    double volume_mm3 = 0;
  } loose, held;
  for (const Fall* fall : group.falls) {
    Sum& sum = fall->loose ? loose : held;
    ++sum.count;
    sum.volume_mm3 += fall->volume_mm3;
    if (sum.lowest == nullptr || fall->layer < sum.lowest->layer) sum.lowest = fall;
  }
  const char* it = group.members.size() == 1 ? "it" : "them";
  const auto from = [](const Sum& sum) {
    return ", from " + layer_text(sum.lowest->layer, sum.lowest->box.from.z) + " on";
  };
  constexpr double least_mm3 = 0.0005;  // less is said by nobody
  std::string text;
  double carries_mm3 = 0;
  for (const Detail* detail : group.members) carries_mm3 += detail->carries_mm3;
  if (group.falls.empty() && carries_mm3 >= least_mm3)
    text = fmt::format(" On {} hang {} mm3.", it, amount_text(carries_mm3));
  if (loose.count > 0 && loose.volume_mm3 >= least_mm3)
    text = fmt::format(" {} mm3 {} with {}{}.", amount_text(loose.volume_mm3),
                       loose.count == 1 ? "falls" : fmt::format("({} bodies) fall", loose.count), it, from(loose));
  if (held.count > 0 && held.volume_mm3 >= least_mm3)
    text += fmt::format(" {} mm3 above {} {} on nothing{}.", amount_text(held.volume_mm3), it,
                        held.count == 1 ? "starts" : "start", text.empty() ? from(held) : "");
  return text;
}

// ---- times ----

// Do exceptions of the job give some normal layers another time than the others?
bool has_exceptions(const Report& report) {
  return std::any_of(report.layers.begin(), report.layers.end(), [&](const LayerRow& row) {
    return has_own_time(row, Fate::vanish, report.exposure_s) || has_own_time(row, Fate::fuse, report.exposure_s);
  });
}

std::string change_text(const Suggestion& s, const Report& report) {
  const bool none_then = s.then.vanish + s.then.fuse == 0;
  const std::string exceptions = has_exceptions(report) ? fmt::format(", and {:.2f} times as much in its exceptions",
                                                                      s.exposure_s / report.exposure_s)
                                                        : "";
  std::string text = fmt::format("{} {} a layer instead of {}{}. Lost now: {}. Lost then: {}.",
                                 s.exception ? "With the job as it is, set" : "Set", exposure_text(s.exposure_s),
                                 exposure_text(report.exposure_s), exceptions, lost_text(s.now),
                                 none_then && s.conflict ? "nothing for certain" : lost_text(s.then));
  if (s.then_hangs_mm3 > 0) text += hangs_text(s.then_hangs_mm3);
  if (is_much_uncured(s.then.uncured_share)) text += " So it stays on hold.";
  if (whole_fails(s.now)) return text;
  if (at_least(s.now.bulk_chance.value_or(0), verdict_bounds.hold_bulk_chance))
    return text + fmt::format(" At {} the whole print may fail ({}).", exposure_text(report.exposure_s),
                              percent_text(*s.now.bulk_chance));
  if (is_much_uncured(s.now.uncured_share) && !is_much_uncured(s.then.uncured_share)) return text;
  const char* why = s.now.vanish == s.then.vanish && s.now.fuse == s.then.fuse ? "Less of each"
                    : s.now.vanish + s.now.fuse <= s.then.vanish + s.then.fuse ? "Smaller ones"
                                                                               : nullptr;
  if (why != nullptr)
    text += fmt::format(" {}: the harm falls from {} to {} mm.", why, rough_text(s.now.expected_mm),
                        rough_text(s.then.expected_mm));
  return text;
}

// Whether more than a part of the record's times was asked for.
bool spans_record(const Suggestion& s, const CureModel& model) {
  return s.sweep.empty() || (!over(s.sweep.front().exposure_s, model.valid_from_s) &&
                             at_least(s.sweep.back().exposure_s, model.valid_to_s));
}

// "no other time loses clearly less"; "no time from 2.00 to 2.30 s is clearly better".
std::string no_time_text(const Report& report, const char* what) {
  const Suggestion& s = *report.suggestion;
  const CureModel& model = report.record->model;
  if (spans_record(s, model)) return fmt::format("no other time {}", what);
  const auto may_be_set = [&](const SweepPoint& row) {
    return covers(model, row.exposure_s) && row.exposure_s != report.exposure_s;
  };
  if (std::none_of(s.sweep.begin(), s.sweep.end(), may_be_set)) return outside_record_text(model);
  return fmt::format("no time from {} to {} {}", mm_text(s.sweep.front().exposure_s),
                     exposure_text(s.sweep.back().exposure_s), what);
}

bool any_lost(const Report& report) {
  return std::any_of(report.details.begin(), report.details.end(), [](const Detail& detail) { return detail.lost; });
}

// Whether what is too small or too shallow to be called lost is reason enough by itself.
bool small_losses(const Report& report) {
  if (report.verdict == Verdict::clear) return false;
  double normal_mm3 = 0;
  for (const LayerRow& row : report.layers)
    if (row.kind == LayerKind::normal) normal_mm3 += row.solid_mm2 * row.height_mm;
  return are_seen(report.crumbs) ||
         over(report.crumbs.vanish_mm3 + report.rounding.vanish_mm3, verdict_bounds.most_vanishing * normal_mm3);
}

std::string keep_text(const Suggestion& s, const Report& report) {
  const std::string keep = fmt::format("{} {} a layer", keep_word(report), exposure_text(s.exposure_s));
  if (s.now.vanish + s.now.fuse > 0 || whole_fails(s.now) || is_much_uncured(s.now.uncured_share))
    return fmt::format("{}. Lost: {}; {}.", keep, lost_text(s.now), no_time_text(report, "loses clearly less"));
  if (s.covered_s) return fmt::format("{}, or set {}: nothing is at risk there.", keep, exposure_text(*s.covered_s));
  const bool doubtful = any_lost(report) || small_losses(report) || !doubt_of_row(s.now).empty() || s.conflict;
  return keep + (doubtful               ? fmt::format("; {}.", no_time_text(report, "is clearly better"))
                 : report.faint.empty() ? ": nothing is lost at it."
                                        : ": nothing else is lost at it.");
}

// Cut where it takes too much of a line; foreign bytes stay as they are, but count as they will be shown.
std::string short_name(const std::string& name) {
  constexpr std::size_t most_columns = 48;
  const auto inside_character = [&name](std::size_t at) {
    return (static_cast<unsigned char>(name[at]) & 0xC0) == 0x80;
  };
  std::size_t kept = 0, columns = 0;
  for (std::size_t at = 0; at < name.size();) {
    std::size_t end = at + 1;
    while (end < name.size() && inside_character(end)) ++end;
    columns += std::max<std::size_t>(1, width_of(visible(name.substr(at, end - at))));
    if (columns > most_columns) return name.substr(0, kept) + "...";
    if (columns + 3 <= most_columns) kept = end;
    at = end;
  }
  return name;
}

}  // namespace

std::string age_text(int days) {
  if (days < 0) return "dated in the future";
  return days == 0 ? "made today" : count_text(static_cast<std::uint64_t>(days), "day", "days") + " old";
}

std::vector<LossGroup> lost_groups(const Report& report, State state) {
  std::map<std::uint32_t, std::vector<const Fall*>> falls_of;
  for (const Fall& fall : report.falls)
    if (!fall.details.empty()) falls_of[fall.details.front()].push_back(&fall);
  std::vector<Detail> lost;
  std::map<std::uint32_t, const Detail*> by_id;
  for (const Detail& detail : report.details) {
    if (!detail.lost || detail.state != state) continue;
    lost.push_back(detail);
    by_id[detail.id] = &detail;
  }
  std::vector<LossGroup> groups;
  for (const DetailGroup& alike : group_alike(lost, report.job.pitch)) {
    LossGroup& group = groups.emplace_back();
    group.spacing_mm = alike.spacing_mm;
    for (const std::uint32_t id : alike.ids) {
      group.members.push_back(by_id.at(id));
      if (const auto falls = falls_of.find(id); falls != falls_of.end())
        group.falls.insert(group.falls.end(), falls->second.begin(), falls->second.end());
    }
    group.exception = exception_text(report, *group.members.front());
    group.grey = report.record && is_grey(*group.members.front(), report.record->model);
  }
  return groups;
}

std::string members_text(const std::vector<LossGroup>& groups, std::size_t from) {
  std::uint64_t parts = 0, gaps = 0;
  for (std::size_t i = from; i < groups.size(); ++i)
    (groups[i].members.front()->fate == Fate::vanish ? parts : gaps) += groups[i].members.size();
  return parts_and_gaps(parts, gaps);
}

std::string verdict_sentence(const Report& report) {
  switch (report.verdict) {
    case Verdict::hold:
      return report.whole_fails ? "Do not start this print: it would fail as a whole."
                                : "Do not start this print as it is.";
    case Verdict::caution:
      return "You can start this print, but read these lines first.";
    case Verdict::clear:
      return report.record ? "You can start this print." : "The measures alone show nothing wrong.";
  }
  return {};
}

// ", cost 2.45 (at 40 a litre)"; the price is the record's, found back from what it made of the job.
std::string said_cost(const Report::Job& job) {
  if (!job.resin_cost || !(job.resin_ml > 0)) return {};
  const double price_per_l = std::round(*job.resin_cost / job.resin_ml * 1e5) / 100;
  return fmt::format(", cost {} (at {} a litre)", cost_text(*job.resin_cost), price_per_l);
}

bool judges_own_time(const Report& report) {
  return std::abs(report.exposure_s - report.job.normal_s) < 1e-9;
}

const char* keep_word(const Report& report) {
  return judges_own_time(report) ? "Keep" : "Stay at";
}

// " (26 empty ones at the top)", where an export may have been cut off.
std::string spare_text(const std::vector<LayerRow>& layers) {
  const auto top = std::find_if(layers.rbegin(), layers.rend(), [](const LayerRow& row) { return row.pieces > 0; });
  const auto spare = top - layers.rbegin();
  return top == layers.rend() || 4 * spare <= std::ssize(layers) ? ""
                                                                 : fmt::format(" ({} empty ones at the top)", spare);
}

std::string job_text(const Report& report) {
  const Report::Job& job = report.job;
  const std::string file = short_name(job.file), title = short_name(job.title);
  std::string text =
      fmt::format("{}: {}{}, {} mm tall; {} to print; {} ml ({} g) of resin{}.",
                  title.empty() ? file : fmt::format("{} ({})", title, file), count_text(job.layers, "layer", "layers"),
                  spare_text(report.layers), mm_text(job.height_mm), duration_text(job.duration_s),
                  amount_text(job.resin_ml), amount_text(job.resin_g), said_cost(job));
  if (!judges_own_time(report))
    text += fmt::format(" Judged at {} a layer; the job itself says {}.", exposure_text(report.exposure_s),
                        exposure_text(job.normal_s));
  return text;
}

std::string lost_text(const SweepPoint& point) {
  if (whole_fails(point)) return "the whole print";
  const bool none = point.vanish + point.fuse == 0;
  const std::string uncured =
      is_much_uncured(point.uncured_share) ? percent_text(point.uncured_share) + " of the print" : "";
  if (none && !uncured.empty()) return uncured + ", in small pieces";
  if (none) return point.expected_mm > 0 || !doubt_of_row(point).empty() ? "nothing for certain" : "nothing";
  return fmt::format("{} missing, {} closed{}", none_or(point.vanish, "part", "parts"),
                     none_or(point.fuse, "gap", "gaps"), uncured.empty() ? "" : ", " + uncured + " in all");
}

std::string time_text(const Report& report) {
  if (!report.record)
    return fmt::format("{} a layer; `hairline check` with a resin record says what is lost at it.",
                       exposure_text(report.exposure_s));
  if (!report.suggestion || nothing_solid(report)) return {};
  const Suggestion& s = *report.suggestion;
  if (s.action == Action::change) return change_text(s, report);
  if (s.action == Action::keep) return keep_text(s, report);
  if (report.whole_fails) return s.text;
  return fmt::format("Lost at {}: {}. {}", exposure_text(report.exposure_s), lost_text(s.now), s.text);
}

std::string loss_text(const LossGroup& group) {
  std::string text = fmt::format("{}: {}, {}.", loss_title(group), loss_size(group), loss_place(group));
  text += loss_limit(group) + group.exception;
  return text + falls_text(group);
}

std::string loss_name(const Detail& detail) {
  LossGroup alone;
  alone.members = {&detail};
  return fmt::format("{} {}, {}", kind_of(detail.fate, detail.flat), loss_size(alone), loss_place(alone));
}

bool names_place(const std::string& text, std::uint32_t from_layer, std::uint32_t to_layer, const BoxMm& box) {
  return text.find(place_text(box)) != std::string::npos &&
         text.find(layers_text(from_layer, to_layer, box)) != std::string::npos;
}

std::vector<Lever> levers(const Report& report) {
  std::vector<Lever> found;
  const WrongLayers wrong = wrong_layers(report.layers, report.faint);
  if (!wrong.none() && !nothing_solid(report)) found.push_back({"slicing", "Export the job again, then check it."});
  if (!report.suggestion || !wrong.empty.empty()) return found;
  const Suggestion& s = *report.suggestion;
  const auto add = [&found](const char* when, const std::vector<std::string>& texts) {
    for (const std::string& text : texts) found.push_back({when, text});
  };
  for (const std::string& text : s.tonight) {  // the time to set and the coupons are named where the times are
    const bool the_time = s.action == Action::change && text.find(exposure_text(s.exposure_s)) != std::string::npos;
    const bool coupons = s.coupons && text.rfind("Print coupons", 0) == 0;
    if (!the_time && !coupons) found.push_back({"tonight", text});
  }
  add("slicing", s.slicing);
  add("model", s.modelling);
  return found;
}

std::string first_step(const Report& report, const std::vector<Lever>& levers) {
  if (report.verdict == Verdict::clear) return {};
  if (report.suggestion && report.suggestion->exception && !levers.empty()) return levers.front().text;
  const bool timed = report.suggestion && !nothing_solid(report);
  if (timed && report.suggestion->action == Action::record && report.suggestion->coupons) {
    const double height_mm = report.job.layer_height_mm;
    if (report.suggestion->covered_s)
      return "Set that time, or print those coupons, add their readings to the record, and check again.";
    if (std::abs(height_mm / report.record->model.layer_height_mm - 1) < 0.01)
      return "Print those coupons, add their readings to the record, and check again.";
    return fmt::format(
        "Make a record of its own for layers of {} mm (`hairline record new`), print those coupons for "
        "it, and check again.",
        mm_text(height_mm));
  }
  const bool safer = timed && report.suggestion->covered_s && report.verdict == Verdict::caution;
  if (!levers.empty() && !safer) return levers.front().text;
  if (timed && report.suggestion->action == Action::change) return "Set that time and check again.";
  if (report.verdict == Verdict::hold) return "Change what is named here, then check again.";
  return std::string(safer ? "Set that time, or start it if " : "Start it if ") +
         (any_lost(report) ? "you can do without what is named here." : "what is named here does not matter to you.");
}

bool nothing_solid(const Report& report) {
  const auto solid = [](const LayerRow& row) { return row.kind == LayerKind::normal && row.solid_mm2 > 0; };
  return std::none_of(report.layers.begin(), report.layers.end(), solid);
}

bool whole_fails(const SweepPoint& point) {
  return at_least(point.bulk_chance.value_or(0), will_chance);
}

std::string doubt_of_row(const SweepPoint& point) {
  const double chance = point.bulk_chance.value_or(0);
  if (is_much_uncured(point.uncured_share)) return percent_text(point.uncured_share) + " does not cure";
  if (at_least(chance, verdict_bounds.caution_bulk_chance))
    return fmt::format("may not bond ({})", percent_text(chance));
  return point.half_lost == 0 ? std::string() : fmt::format("{} half lost", point.half_lost);
}

std::vector<std::string> about_times(const Suggestion& s, const CureModel& model) {
  std::vector<std::string> texts;
  if (s.window_s) {
    texts.push_back(fmt::format("From {} to {} nothing that a time of the record can save is at risk.",
                                mm_text((*s.window_s)[0]), exposure_text((*s.window_s)[1])));
  } else if (s.action != Action::record && s.conflict) {
    const bool none_lost = std::any_of(s.sweep.begin(), s.sweep.end(), [](const SweepPoint& row) {
      return row.expected_losses == 0 && doubt_of_row(row).empty();
    });
    texts.emplace_back(none_lost ? "Where nothing is lost a loss is near: no stretch of times is free of risk."
                       : spans_record(s, model) ? "At every time something that a time can save is at risk."
                                                : "At each of these times something that a time can save is at risk.");
  } else if (s.action != Action::record && spans_record(s, model) && !s.sweep.empty()) {
    const std::string time = exposure_text(s.exposure_s);
    texts.push_back(
        s.then.expected_losses == 0 && !s.covered_s
            ? fmt::format("The stretch of times around {0} that is free of risk is narrow: keep to {0}.", time)
            : fmt::format("Around {} no stretch of times is free of risk.", time));
  }
  if (s.coupons && s.action != Action::record)
    texts.push_back(fmt::format("Coupons at {}, beyond the record's times, may show a time that saves {} more.",
                                and_list(s.coupons->exposures_s, mm_text) + " s", s.coupons->saves));
  const auto beyond = [&](const SweepPoint& row) { return !covers(model, row.exposure_s); };
  if (std::count_if(s.sweep.begin(), s.sweep.end(), beyond) > 1)  // of one, the job's own, the answer says it
    texts.push_back(fmt::format("Times beyond the record ({} to {}) are a guess: print coupons there first.",
                                mm_text(model.valid_from_s), exposure_text(model.valid_to_s)));
  if (std::any_of(s.sweep.begin(), s.sweep.end(), [](const SweepPoint& row) { return row.half_lost > 0; }))
    texts.emplace_back("Half lost: lost at another time, and most of it goes here too, but not enough to be counted.");
  if (s.coarse_sweep) texts.emplace_back("The range is so wide that the times stand over 5 % apart.");
  return texts;
}

std::vector<const IslandRow*> loose_islands(const Report& report) {
  std::vector<const IslandRow*> islands;
  for (const IslandRow& island : report.islands)
    if (!island.held_by_fill) islands.push_back(&island);
  std::stable_sort(islands.begin(), islands.end(),
                   [](const IslandRow* a, const IslandRow* b) { return a->volume_mm3 > b->volume_mm3; });
  return islands;
}

std::string island_text(const IslandRow& island) {
  return fmt::format("Starts with {} mm2 on {}, grows to {} mm3 {}.", amount_text(island.area_mm2),
                     where_text(island.layer, island.layer, island.start_box()), amount_text(island.volume_mm3),
                     island.joins_layer ? fmt::format("until it joins the rest on layer {}", *island.joins_layer)
                                        : std::string("and never joins the rest"));
}

// Where what rounds is so deep that somebody may look for it.
std::string deepest_text(const Report& report) {
  constexpr double least_mm = 0.2;
  const Detail* deepest = nullptr;
  double most_mm = least_mm;
  for (const Detail& detail : report.details) {
    const double depth_mm = std::min(detail.depth_mm, detail.reach_mm.value_or(0));
    if (detail.lost || !at_least(depth_mm, most_mm)) continue;
    if (deepest == nullptr || over(depth_mm, most_mm)) deepest = &detail, most_mm = depth_mm;
  }
  if (deepest == nullptr) return {};
  return fmt::format(": {}, {}", layers_text(deepest->from_layer, deepest->to_layer, deepest->box),
                     place_text(deepest->box));
}

std::string rounding_text(const Report& report) {
  const Rounding& rounding = report.rounding;
  const std::uint64_t count = std::uint64_t{rounding.vanish} + rounding.fuse;
  if (count == 0) return {};
  const std::string what = rounding.fuse == 0 ? count_text(count, "edge or tip rounds", "edges and tips round")
                           : rounding.vanish == 0
                               ? count_text(count, "crease fills", "creases fill")
                               : count_text(count, "crease or edge rounds", "creases and edges round");
  std::string text = fmt::format("{} by {}{}.", what,
                                 rounding.deepest_mm < 0.005 ? std::string("less than 0.01 mm")
                                                             : fmt::format("up to {} mm", mm_text(rounding.deepest_mm)),
                                 deepest_text(report));
  if (rounding.not_looked_at > 0)
    text += fmt::format(" {} of them were not looked at closely.", rounding.not_looked_at);
  return text;
}

std::string crumbs_text(const Report& report) {
  const Crumbs& crumbs = report.crumbs;
  const std::uint64_t count = std::uint64_t{crumbs.vanish} + crumbs.fuse;
  std::string text;
  if (count > 0) {
    const bool told = crumbs.deep_mm3 < 0.0005 || !crumbs.longest || are_seen(crumbs);  // then a reason tells it
    const std::string deep =
        told ? ""
             : fmt::format(", {} of them deep: up to {}", amount_text(crumbs.deep_mm3), longest_text(*crumbs.longest));
    text = fmt::format("{} too small to list ({} mm3{})", count_text(count, "crumb", "crumbs"),
                       amount_text(crumbs.vanish_mm3 + crumbs.fuse_mm3), deep);
  }
  if (report.speck_count > 0)
    text += (text.empty() ? "" : " and ") +
            count_text(report.speck_count, "speck of under 4 pixels", "specks of under 4 pixels");
  return text.empty() ? text : text + ".";
}

std::string small_falls_text(const Report& report) {
  std::uint32_t listed = 0;  // lost details come first in the order of ids
  for (const Detail& detail : report.details) listed += detail.lost;
  const Fall* biggest = nullptr;
  std::size_t count = 0;
  double volume_mm3 = 0;
  for (const Fall& fall : report.falls) {
    if (!fall.details.empty() && fall.details.front() <= listed) continue;
    ++count;
    volume_mm3 += fall.volume_mm3;
    if (biggest == nullptr || fall.volume_mm3 > biggest->volume_mm3) biggest = &fall;
  }
  if (count == 0) return {};
  const std::string where = where_text(biggest->layer, biggest->layer, biggest->box);
  if (count == 1)
    return fmt::format("A body of {} mm3 hangs on something too small to list: {}.", amount_text(volume_mm3), where);
  return fmt::format("{} bodies ({} mm3 in all) hang on something too small to list; the biggest: {}.", count,
                     amount_text(volume_mm3), where);
}

std::string held_islands_text(const Report& report) {
  const auto held = std::count_if(report.islands.begin(), report.islands.end(),
                                  [](const IslandRow& island) { return island.held_by_fill; });
  if (held == 0) return {};
  return fmt::format("{} over a gap that fills, and {} held by that.",
                     count_text(static_cast<std::uint64_t>(held), "island starts", "islands start"),
                     held == 1 ? "is" : "are");
}

std::string bond_text(const Report& report) {
  if (!report.bulk || report.whole_fails) return {};
  return fmt::format("Thick parts get {:.3g} times the light they need (least: layer {}).", report.bulk->margin,
                     report.bulk->layer);
}

std::string base_text(const BaseReport& base) {
  if (base.largest_layer == 0) return "Nothing solid on it, nor in any other layer.";
  std::string text =
      fmt::format("{} mm2 on it; largest {}: {} mm2.", amount_text(base.contact_mm2),
                  layer_text(base.largest_layer, base.largest_box.from.z), amount_text(base.largest_layer_mm2));
  if (!base.stated)
    return text +
           (base.base_layers > 0 ? " The job does not state its base exposure." : " The job does not state its base.");
  if (base.base_layers > 0)
    text +=
        fmt::format(" {} of {} s, {} times the normal time", count_text(base.base_layers, "base layer", "base layers"),
                    number_text(base.base_s), rough_text(base.exposure_ratio));
  else
    text += " There are no base layers";
  if (base.flare_mm && *base.flare_mm >= 0.005) text += fmt::format("; {} mm wider a side", mm_text(*base.flare_mm));
  const double fuse_mm3 = base.fuse_mm3.value_or(0);
  if (fuse_mm3 >= 0.0005) text += fmt::format(", {} mm3 of gaps closed", amount_text(fuse_mm3));
  text += ".";
  constexpr double matters_mm3 = 0.1;  // common practice, no source
  if (fuse_mm3 >= matters_mm3) text += " If holes or letters close, take fewer base layers.";
  return text;
}

std::string growth_text(const Report& report) {
  const Growth& growth = *report.growth;
  if (!growth.normal_mm) return {};
  const double both_mm = 2 * std::abs(*growth.normal_mm);
  const bool grows = *growth.normal_mm >= 0;
  if (both_mm < 0.005) return "Walls and slots print as wide as drawn, to 0.01 mm.";
  std::string text =
      fmt::format("At {3} walls print {0} mm {1}, slots {0} mm {2} than drawn", mm_text(both_mm),
                  grows ? "thicker" : "thinner", grows ? "narrower" : "wider", exposure_text(report.exposure_s));
  if (growth.base_mm) text += fmt::format(" (in base layers {} mm)", mm_text(2 * std::abs(*growth.base_mm)));
  return text + fmt::format("; an outline correction of {:+.3f} mm in the slicer undoes it", -*growth.normal_mm) +
         (grows ? fmt::format(", if every wall can spare {} mm.", mm_text(both_mm)) : ".");
}

std::vector<std::string> thinnest_texts(const std::vector<LayerRow>& layers) {
  std::vector<std::string> texts;
  const auto add = [&](const char* what, std::optional<double> LayerRow::*width_mm, PlaceMm LayerRow::*at) {
    const LayerRow* found = nullptr;
    for (const LayerRow& row : layers)
      if (row.*width_mm && (!found || *(row.*width_mm) < *(found->*width_mm))) found = &row;
    if (found)
      texts.push_back(fmt::format("{} {} mm: {}.", what, mm_text(*(found->*width_mm)),
                                  where_text(found->layer, found->layer, {found->*at, found->*at})));
  };
  add("wall", &LayerRow::thinnest_wall_mm, &LayerRow::wall_at);
  add("gap", &LayerRow::thinnest_gap_mm, &LayerRow::gap_at);
  return texts;
}

std::string record_text(const Report::Record& record) {
  std::string text = record.resin.empty() ? record.file : fmt::format("{} ({})", record.resin, record.file);
  if (record.age_days) text += ", " + age_text(*record.age_days);
  if (record.model.valid_to_s > 0)
    text +=
        fmt::format(", good from {} to {}", mm_text(record.model.valid_from_s), exposure_text(record.model.valid_to_s));
  return text + fmt::format("; blur {:.3f} mm, penetration depth {:.3f} mm.", record.model.blur_mm,
                            record.model.penetration_depth_mm);
}

}  // namespace hairline
