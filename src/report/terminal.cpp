// The report for a person: the verdict first, then what it stands on, then what can be done.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include "hairline/files.hpp"
#include "hairline/report.hpp"
#include "page.hpp"
#include "words.hpp"

namespace hairline {
namespace {

// ---- verdict ----

Tone tone_of(Verdict verdict) {
  return verdict == Verdict::hold ? Tone::bad : verdict == Verdict::caution ? Tone::doubtful : Tone::good;
}

std::string verdict_sentence(const Report& report) {
  switch (report.verdict) {
    case Verdict::hold:
      return "Do not start this print as it is.";
    case Verdict::caution:
      return "It will print, but look at what is listed first.";
    case Verdict::clear:
      return report.record ? "Nothing at risk was found." : "The measures alone show nothing wrong.";
  }
  return {};
}

std::string age_text(int days) {
  if (days < 0) return "dated in the future";
  return days == 0 ? "made today" : count_text(static_cast<std::uint64_t>(days), "day", "days") + " old";
}

std::string judged_by(const Report& report) {
  std::string text = fmt::format("Judged at {} a layer", exposure_text(report.exposure_s));
  if (std::abs(report.exposure_s - report.job.normal_s) > 1e-9)
    text += fmt::format(" (the job itself says {})", exposure_text(report.job.normal_s));
  if (!report.record)
    return fmt::format("Measured at {} a layer, without a resin record: nothing is said about what vanishes or fuses.",
                       exposure_text(report.exposure_s));
  const std::string name = visible(report.record->resin.empty() ? report.record->file : report.record->resin);
  text += fmt::format(", by the record of {}", name.empty() ? "an unnamed resin" : name);
  if (report.record->age_days) text += ", " + age_text(*report.record->age_days);
  return text + ".";
}

void write_opening(Page& page, const Report& report) {
  std::string word = to_string(report.verdict);
  std::transform(word.begin(), word.end(), word.begin(), [](char c) { return static_cast<char>(c - 'a' + 'A'); });
  page.beside(word + "  ", verdict_sentence(report), tone_of(report.verdict), Tone::strong);
  page.gap();
  const Report::Job& job = report.job;
  const std::string file = visible(job.file), title = visible(job.title);
  page.paragraph(title.empty() ? file : fmt::format("{} ({})", title, file));
  page.paragraph(fmt::format("{}, {} mm tall; {} to print; {} ml ({} g) of resin.",
                             count_text(job.layers, "layer", "layers"), mm_text(job.height_mm),
                             duration_text(job.duration_s), amount_text(job.resin_ml), amount_text(job.resin_g)));
  page.paragraph(judged_by(report));
  if (report.reasons.empty()) return;
  page.heading("Why");
  for (const std::string& reason : report.reasons) page.beside("  - ", visible(reason));
}

// ---- what will be lost ----

// All of one group of alike details, worst member first.
struct Group {
  std::vector<const Detail*> members;
  std::optional<double> spacing_mm;
};

std::vector<Group> grouped(const Report& report) {
  std::map<std::uint32_t, const Detail*> by_id;
  for (const Detail& detail : report.details) by_id[detail.id] = &detail;
  std::vector<Group> groups;
  for (const DetailGroup& alike : group_alike(report.details, report.job.pitch)) {
    Group group;
    for (const std::uint32_t id : alike.ids) group.members.push_back(by_id.at(id));
    group.spacing_mm = alike.spacing_mm;
    groups.push_back(std::move(group));
  }
  return groups;
}

struct Extent {
  double low = std::numeric_limits<double>::infinity(), high = -std::numeric_limits<double>::infinity();
  void add(double value) { low = std::min(low, value), high = std::max(high, value); }
};

template <class Field>
Extent extent_of(const Group& group, Field field) {
  Extent extent;
  for (const Detail* detail : group.members) extent.add(field(*detail));
  return extent;
}

template <class Field>
double sum_of(const Group& group, Field field) {
  double sum = 0;
  for (const Detail* detail : group.members) sum += field(*detail);
  return sum;
}

BoxMm box_of(const Group& group) {
  BoxMm box = group.members.front()->box;
  for (const Detail* detail : group.members) {
    box.from = {std::min(box.from.x, detail->box.from.x), std::min(box.from.y, detail->box.from.y),
                std::min(box.from.z, detail->box.from.z)};
    box.to = {std::max(box.to.x, detail->box.to.x), std::max(box.to.y, detail->box.to.y),
              std::max(box.to.z, detail->box.to.z)};
  }
  return box;
}

std::string in_words(double probability, Fate fate) {
  const char* verb = fate == Fate::vanish ? "vanish" : "close";
  if (probability >= 0.95) return fmt::format("almost certain to {}", verb);
  if (probability >= 0.75) return fmt::format("very likely to {}", verb);
  if (probability >= 0.5) return fmt::format("likely to {}", verb);
  if (probability >= 0.2) return fmt::format("may {}", verb);
  return fmt::format("unlikely to {}", verb);
}

std::string kind_of(const Detail& detail, std::size_t count) {
  const std::string kind = detail.fate == Fate::vanish ? "thin part" : detail.flat ? "flat gap" : "narrow gap";
  return count == 1 ? capitalised(kind) : fmt::format("{} {}s alike", count, kind);
}

std::string title_of(const Group& group) {
  const Detail& worst = *group.members.front();
  std::string text = kind_of(worst, group.members.size());
  if (group.spacing_mm) text += fmt::format(", spaced {} mm", mm_text(*group.spacing_mm));
  const Extent chance = extent_of(group, [](const Detail& detail) { return detail.probability; });
  const std::string low = percent_text(chance.low), high = percent_text(chance.high);
  const std::string words = in_words(chance.high, worst.fate);
  if (words == in_words(chance.low, worst.fate))
    return fmt::format("{}: {} ({})", text, words, low == high ? high : low + " to " + high);
  return fmt::format("{}: the worst {} ({} to {})", text, words, low, high);
}

std::string size_of(const Group& group) {
  const Detail& worst = *group.members.front();
  const Extent width = extent_of(group, [](const Detail& detail) { return detail.width_mm; });
  const double volume = sum_of(group, [](const Detail& detail) { return detail.volume_mm3; });
  std::string text = fmt::format("{} mm {}, {} mm3", range_text(width.low, width.high),
                                 worst.fate == Fate::vanish ? "thick"
                                 : worst.flat               ? "high"
                                                            : "wide",
                                 amount_text(volume));
  if (group.members.size() > 1) text += " together";
  const double lost = sum_of(group, [](const Detail& detail) { return detail.lost_fraction * detail.volume_mm3; });
  if (volume > 0 && lost <= 0)
    text += ", none of it at exactly this time";
  else if (volume > 0 && lost < 0.995 * volume)
    text += fmt::format(", {} of it at exactly this time", percent_text(lost / volume));
  return text;
}

std::string limit_of(const Group& group) {
  const Extent critical = extent_of(group, [](const Detail& detail) { return detail.critical_exposure_s; });
  const std::string low = mm_text(critical.low), high = mm_text(critical.high);
  const bool vanish = group.members.front()->fate == Fate::vanish;
  if (low != high) {
    return fmt::format("the first {} from {} s a layer on, the last from {} s", vanish ? "prints" : "closes", low,
                       high);
  }
  return vanish ? fmt::format("prints from {} s a layer on", low) : fmt::format("stays open below {} s a layer", low);
}

void write_row(Page& page, std::string_view label, std::string_view text) {
  page.beside("      " + padded(std::string(label), 8), text, Tone::quiet);
}

void write_group(Page& page, const Group& group) {
  const Detail& worst = *group.members.front();
  const BoxMm box = box_of(group);
  page.beside(padded_left(fmt::format("#{}", worst.id), 4) + "  ", title_of(group), Tone::strong);
  write_row(page, "where", fmt::format("{}, {}", layers_text(worst.from_layer, worst.to_layer), height_text(box)));
  write_row(page, "place", spot_text(box));
  write_row(page, "size", size_of(group));
  write_row(page, "limit", limit_of(group));
  const double carries = sum_of(group, [](const Detail& detail) { return detail.carries_mm3; });
  if (carries > 0.0005) write_row(page, "carries", fmt::format("{} mm3 that hangs on it alone", amount_text(carries)));
  const auto avoidable = [](const Detail* detail) { return detail->avoidable; };
  if (std::none_of(group.members.begin(), group.members.end(), avoidable))
    write_row(page, "note", "no time in the record's range saves it; only another shape does");
}

struct Count {
  std::uint64_t vanish = 0, fuse = 0;
  void add(Fate fate, std::uint64_t n = 1) { (fate == Fate::vanish ? vanish : fuse) += n; }
};

std::string both_fates(const Count& count) {
  if (count.fuse == 0) return fmt::format("{} that vanish", count.vanish);
  if (count.vanish == 0) return fmt::format("{} that close", count.fuse);
  return fmt::format("{} that vanish and {} that close", count.vanish, count.fuse);
}

void write_crumbs(Page& page, const Crumbs& crumbs) {
  if (crumbs.vanish + crumbs.fuse == 0) return;
  page.paragraph(fmt::format("Crumbs too small to list: {} ({} mm3 in all).", both_fates({crumbs.vanish, crumbs.fuse}),
                             amount_text(crumbs.vanish_mm3 + crumbs.fuse_mm3)),
                 2);
}

void write_details(Page& page, const Report& report, std::size_t most) {
  if (!report.record) return;
  const bool likely = std::any_of(report.details.begin(), report.details.end(),
                                  [](const Detail& detail) { return detail.probability >= 0.5; });
  page.heading(likely ? "What will be lost" : "What may be lost");
  const std::vector<Group> groups = grouped(report);
  if (groups.empty()) page.paragraph("No detail is at risk at this time.", 2);
  for (std::size_t i = 0; i < std::min(groups.size(), most); ++i) write_group(page, groups[i]);
  Count rest;
  double rest_mm3 = 0;
  for (std::size_t i = most; i < groups.size(); ++i) {
    for (const Detail* detail : groups[i].members) rest.add(detail->fate);
    rest_mm3 += sum_of(groups[i], [](const Detail& detail) { return detail.volume_mm3; });
  }
  if (rest.vanish + rest.fuse > 0)
    page.paragraph(fmt::format("Less grave and not shown: {} ({} mm3). `--details all` shows them.", both_fates(rest),
                               amount_text(rest_mm3)),
                   2);
  write_crumbs(page, report.crumbs);
}

// ---- what falls, islands ----

std::string ids_text(const std::vector<std::uint32_t>& ids) {
  constexpr std::size_t shown = 4;
  std::string text;
  for (std::size_t i = 0; i < std::min(ids.size(), shown); ++i)
    text += fmt::format("{}#{}", i == 0 ? "" : i + 1 == ids.size() ? " and " : ", ", ids[i]);
  if (ids.size() > shown) text += fmt::format(" and {} more", ids.size() - shown);
  return text;
}

void write_not_shown(Page& page, std::size_t total, std::size_t shown) {
  if (total > shown) page.paragraph(fmt::format("and {} smaller.", total - shown), 2);
}

// Bodies that hang on the same details, biggest cause first as the list is.
struct FallGroup {
  const Fall* first = nullptr;
  std::size_t count = 0;
  double volume_mm3 = 0;
  std::uint32_t from_layer = 0, to_layer = 0;
};

std::vector<FallGroup> by_cause(const std::vector<Fall>& falls) {
  std::map<std::pair<bool, std::vector<std::uint32_t>>, std::size_t> known;
  std::vector<FallGroup> groups;
  for (const Fall& fall : falls) {
    const auto [place, is_new] = known.try_emplace({fall.loose, fall.details}, groups.size());
    if (is_new) groups.push_back({.first = &fall, .from_layer = fall.layer, .to_layer = fall.layer});
    FallGroup& group = groups[place->second];
    ++group.count;
    group.volume_mm3 += fall.volume_mm3;
    group.from_layer = std::min(group.from_layer, fall.layer);
    group.to_layer = std::max(group.to_layer, fall.layer);
  }
  return groups;
}

std::string fall_text(const FallGroup& group) {
  const Fall& fall = *group.first;
  std::string text = group.count == 1
                         ? fmt::format("{} mm3 from layer {} on ({}), {}", amount_text(fall.volume_mm3), fall.layer,
                                       height_text(fall.box), spot_text(fall.box))
                         : fmt::format("{} bodies, {} mm3 together, that begin on {}; the biggest from layer {} on, {}",
                                       group.count, amount_text(group.volume_mm3),
                                       layers_text(group.from_layer, group.to_layer), fall.layer, spot_text(fall.box));
  const std::string cause = fall.details.empty() ? std::string("crumbs") : ids_text(fall.details);
  if (fall.loose) return text + fmt::format("; held only by {}.", cause);
  return text + fmt::format("; without {} nothing is beneath, but a sound part higher up holds.", cause);
}

void write_falls(Page& page, const Report& report, std::size_t most) {
  if (report.falls.empty()) return;
  page.heading("What falls with it");
  const std::vector<FallGroup> groups = by_cause(report.falls);
  for (std::size_t i = 0; i < std::min(groups.size(), most); ++i) page.beside("  - ", fall_text(groups[i]));
  write_not_shown(page, groups.size(), most);
}

std::string island_text(const IslandRow& island) {
  std::string text = fmt::format("Layer {}, {} mm up, {}: starts with {} mm2", island.layer, mm_text(island.height_mm),
                                 spot_text(island.box), amount_text(island.area_mm2));
  text += fmt::format(", grows to {} mm3", amount_text(island.volume_mm3));
  return text + (island.joins_layer ? fmt::format(" until it joins the rest on layer {}.", *island.joins_layer)
                                    : std::string(" and never joins the rest."));
}

void write_islands(Page& page, const Report& report, std::size_t most) {
  page.heading("Islands: pieces that start with nothing beneath them");
  std::vector<const IslandRow*> biggest;
  for (const IslandRow& island : report.islands) biggest.push_back(&island);
  std::stable_sort(biggest.begin(), biggest.end(),
                   [](const IslandRow* a, const IslandRow* b) { return a->volume_mm3 > b->volume_mm3; });
  if (biggest.empty()) page.paragraph("None.", 2);
  for (std::size_t i = 0; i < std::min(biggest.size(), most); ++i) page.beside("  - ", island_text(*biggest[i]));
  write_not_shown(page, biggest.size(), most);
  if (report.speck_count > 0)
    page.paragraph(fmt::format("Besides, {} of under 4 pixels.", count_text(report.speck_count, "speck", "specks")), 2);
}

// ---- base, thin places ----

void write_base(Page& page, const Report& report) {
  const BaseReport& base = report.base;
  page.heading("What holds it on the plate");
  page.paragraph(fmt::format("{} mm2 on the plate; the largest layer is {} with {} mm2.", amount_text(base.contact_mm2),
                             base.largest_layer, amount_text(base.largest_layer_mm2)),
                 2);
  if (base.base_layers > 0)
    page.paragraph(fmt::format("{} at {}, {} times the normal exposure.",
                               count_text(base.base_layers, "base layer", "base layers"),
                               number_text(base.base_s) + " s", fmt::format("{:.3g}", base.exposure_ratio)),
                   2);
  if (base.flare_mm && *base.flare_mm >= 0.005)
    page.paragraph(fmt::format("The base swells {} mm to each side.", mm_text(*base.flare_mm)), 2);
  const double closed = base.fuse_mm3.value_or(0), lost = base.vanish_mm3.value_or(0);
  if (closed >= 0.0005) page.paragraph(fmt::format("In it, {} mm3 of gaps close.", amount_text(closed)), 2);
  if (lost >= 0.0005) page.paragraph(fmt::format("Of it, {} mm3 do not hold.", amount_text(lost)), 2);
  for (const BaseReport::Finding& finding : base.findings)
    page.beside("  ! ", visible(finding.text), finding.comes_off ? Tone::bad : Tone::doubtful);
}

struct Thinnest {
  const LayerRow* wall = nullptr;
  const LayerRow* gap = nullptr;
};

Thinnest thinnest_of(const std::vector<LayerRow>& rows) {
  Thinnest found;
  for (const LayerRow& row : rows) {
    if (row.thinnest_wall_mm && (!found.wall || *row.thinnest_wall_mm < *found.wall->thinnest_wall_mm))
      found.wall = &row;
    if (row.thinnest_gap_mm && (!found.gap || *row.thinnest_gap_mm < *found.gap->thinnest_gap_mm)) found.gap = &row;
  }
  return found;
}

std::string thin_text(const char* what, double width_mm, const LayerRow& row, const PlaceMm& at) {
  return fmt::format("Thinnest {} drawn: {} mm, on layer {} ({} mm up) at x {}, y {} mm.", what, mm_text(width_mm),
                     row.layer, mm_text(row.bottom_mm), mm_text(at.x), mm_text(at.y));
}

void write_thinnest(Page& page, const Report& report) {
  const Thinnest found = thinnest_of(report.layers);
  page.heading("Thinnest places, as drawn");
  if (!found.wall && !found.gap) page.paragraph("No wall or gap thinner than the limit was found.", 2);
  if (found.wall) page.paragraph(thin_text("wall", *found.wall->thinnest_wall_mm, *found.wall, found.wall->wall_at), 2);
  if (found.gap) page.paragraph(thin_text("gap", *found.gap->thinnest_gap_mm, *found.gap, found.gap->gap_at), 2);
}

// ---- a safer time ----

std::string sweep_row(const std::array<std::string, 6>& cells) {
  constexpr std::array<std::size_t, 5> widths = {8, 8, 7, 10, 10};
  std::string row = " ";
  for (std::size_t i = 0; i < widths.size(); ++i) row += padded_left(cells[i], widths[i]);
  return cells[5].empty() ? row : row + "  " + cells[5];
}

void write_sweep_head(Page& page) {
  page.line(sweep_row({"time", "vanish", "close", "lost mm3", "expected", ""}), Tone::quiet);
}

void write_sweep_row(Page& page, const SweepPoint& point, const std::string& remark) {
  page.line(sweep_row({exposure_text(point.exposure_s), fmt::format("{}", point.vanish), fmt::format("{}", point.fuse),
                       amount_text(point.vanish_mm3 + point.fuse_mm3), amount_text(point.expected_losses), remark}));
}

// The point of the sweep nearest to a time; nullptr when that is over 2 % away.
const SweepPoint* nearest_point(const std::vector<SweepPoint>& sweep, double exposure_s) {
  const auto distance = [exposure_s](const SweepPoint& point) { return std::abs(point.exposure_s - exposure_s); };
  const auto nearest = std::min_element(
      sweep.begin(), sweep.end(), [&](const SweepPoint& a, const SweepPoint& b) { return distance(a) < distance(b); });
  return nearest != sweep.end() && distance(*nearest) <= 0.02 * exposure_s ? &*nearest : nullptr;
}

void write_sweep(Page& page, const Report& report, std::size_t most) {
  const Suggestion& suggestion = *report.suggestion;
  const std::vector<SweepPoint>& sweep = suggestion.sweep;
  if (sweep.empty()) return;
  const SweepPoint* judged = nearest_point(sweep, report.exposure_s);
  const SweepPoint* suggested = nearest_point(sweep, suggestion.exposure_s);
  page.gap();
  write_sweep_head(page);
  const std::size_t step = std::max<std::size_t>(1, (sweep.size() + most - 1) / most);
  for (std::size_t i = 0; i < sweep.size(); ++i) {
    const SweepPoint* point = &sweep[i];
    if (i % step != 0 && i + 1 != sweep.size() && point != judged && point != suggested) continue;
    const char* remark = point == judged      ? (point == suggested ? "< keep this" : "< this job")
                         : point == suggested ? "< suggested"
                                              : "";
    write_sweep_row(page, *point, remark);
  }
  page.paragraph("vanish, close: details; expected: sum of their chances", 2, Tone::quiet);
}

void write_change(Page& page, const Change& change) {
  const char* what = change.fate == Fate::vanish ? "Thin part" : change.flat ? "Flat gap" : "Narrow gap";
  const char* more = change.fate == Fate::vanish ? "thicker" : change.flat ? "higher" : "wider";
  page.beside("  - ", fmt::format("{} on {}, {}: {} mm drawn, needs {} mm ({} px {}).", what,
                                  layers_text(change.from_layer, change.to_layer), spot_text(change.box),
                                  mm_text(change.width_mm), mm_text(change.needed_mm),
                                  number_text(std::round(change.needed_px * 10) / 10), more));
}

void write_suggestion(Page& page, const Report& report, std::size_t most_changes, std::size_t most_rows) {
  if (!report.suggestion) return;
  const Suggestion& suggestion = *report.suggestion;
  page.heading(suggestion.conflict ? "The least bad time" : "A safer time");
  std::string text = exposure_text(suggestion.exposure_s) + " a layer";
  if (suggestion.window_s)
    text += fmt::format("; safe from {} to {}", mm_text((*suggestion.window_s)[0]),
                        exposure_text((*suggestion.window_s)[1]));
  if (suggestion.base_s) text += fmt::format("; base layers {} s", number_text(*suggestion.base_s));
  page.paragraph(text + ".", 2, Tone::strong);
  if (suggestion.outside_range) page.paragraph("This lies outside the times the record was made at.", 2);
  if (!suggestion.text.empty()) page.paragraph(visible(suggestion.text), 2);
  write_sweep(page, report, most_rows);
  std::vector<const Change*> changes;
  for (const Change& change : suggestion.changes)
    if (change.needed_mm > change.width_mm) changes.push_back(&change);
  if (changes.empty()) return;
  page.gap();
  page.paragraph(fmt::format("To live at {} these must change:", exposure_text(suggestion.exposure_s)), 2);
  for (std::size_t i = 0; i < std::min(changes.size(), most_changes); ++i) write_change(page, *changes[i]);
  write_not_shown(page, changes.size(), most_changes);
}

void write_levers(Page& page, const Report& report) {
  if (!report.suggestion) return;
  const Suggestion& suggestion = *report.suggestion;
  if (suggestion.tonight.empty() && suggestion.slicing.empty() && suggestion.modelling.empty()) return;
  page.heading("What you can do");
  const auto write = [&page](const char* label, const std::vector<std::string>& levers) {
    for (std::size_t i = 0; i < levers.size(); ++i)
      page.beside("  " + padded(i == 0 ? label : "", 15), visible(levers[i]), Tone::quiet);
  };
  write("tonight", suggestion.tonight);
  write("slicing again", suggestion.slicing);
  write("in the model", suggestion.modelling);
}

// ---- record and small print ----

void write_record(Page& page, const Report& report) {
  if (!report.record) return;
  const Report::Record& record = *report.record;
  page.heading("The record behind this");
  page.paragraph(visible(record.file), 2);
  if (record.model.valid_to_s > 0)
    page.paragraph(fmt::format("Made at {} to {}; blur {:.3f} mm, penetration depth {:.3f} mm.",
                               mm_text(record.model.valid_from_s), exposure_text(record.model.valid_to_s),
                               record.model.blur_mm, record.model.penetration_depth_mm),
                   2);
  for (const std::string& note : record.notes) page.beside("  ! ", visible(note), Tone::doubtful);
}

std::string joined(const std::vector<std::string>& parts, const char* between) {
  std::string text;
  for (const std::string& part : parts) text += (text.empty() ? "" : between) + visible(part);
  return text;
}

void write_small_print(Page& page, const Report& report) {
  if (!report.job.assumed.empty()) {
    page.gap();
    page.paragraph("Assumed, as the job does not say: " + joined(report.job.assumed, ", ") + ".", 0, Tone::quiet);
  }
  if (!report.limits.empty()) {
    page.gap();
    page.paragraph("What this check leaves out: " + joined(report.limits, "; ") + ".", 0, Tone::quiet);
  }
}

}  // namespace

std::string to_terminal(const Report& report, const TerminalStyle& style) {
  constexpr std::size_t most_sweep_rows = 9;
  Page page(style);
  write_opening(page, report);
  write_details(page, report, style.details);
  write_falls(page, report, style.details);
  write_islands(page, report, style.details);
  write_base(page, report);
  write_thinnest(page, report);
  write_suggestion(page, report, style.details, most_sweep_rows);
  write_levers(page, report);
  write_record(page, report);
  write_small_print(page, report);
  return page.take();
}

std::string to_sweep_terminal(const Report& report, const TerminalStyle& style) {
  Page page(style);
  const std::string file = visible(report.job.file), title = visible(report.job.title);
  page.paragraph(title.empty() ? file : fmt::format("{} ({})", title, file));
  page.paragraph(judged_by(report));
  write_suggestion(page, report, style.details, std::numeric_limits<std::uint32_t>::max());
  write_record(page, report);
  return page.take();
}

}  // namespace hairline
