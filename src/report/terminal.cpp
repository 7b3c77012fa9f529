// The report on a terminal: the answer in 16 lines, then at most 60 more (TerminalStyle::details), each list cut to its
// share of them. What is said is decided in wording.cpp; here it gets its place.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <utility>

#include "hairline/files.hpp"
#include "hairline/report.hpp"
#include "page.hpp"
#include "wording.hpp"
#include "words.hpp"

namespace hairline {
namespace {

constexpr std::size_t answer_lines = 16, more_lines = 60, lead_columns = 9;

// A sentence beside a short lead: "#3", "time", "why".
struct Item {
  std::string lead, text;
  Tone tone = Tone::quiet;
};

std::size_t lines_of(const Page& page, const Item& item) {
  return item.text.empty() ? 0 : wrapped(item.text, page.columns() - lead_columns).size();
}

std::size_t lines_of(const Page& page, const std::vector<Item>& items) {
  std::size_t lines = 0;
  for (const Item& item : items) lines += lines_of(page, item);
  return lines;
}

void write(Page& page, const Item& item) {
  if (!item.text.empty()) page.beside(padded(item.lead, lead_columns), item.text, item.tone);
}

// The item in at most `most` lines, the last ending in dots where text is left out; without text it takes none.
Item clipped(const Page& page, Item item, std::size_t most) {
  if (most == 0) item.text.clear();
  if (item.text.empty()) return item;
  const std::size_t columns = page.columns() - lead_columns;
  std::vector<std::string> lines = wrapped(item.text, columns);
  if (lines.size() <= most) return item;
  lines.resize(most);
  lines.back() = shortened(lines.back() + " ...", columns);
  item.text.clear();
  for (const std::string& line : lines) item.text += (item.text.empty() ? "" : " ") + line;
  return item;
}

// ---- the answer ----

// What the report has to tell, and how much of it the answer told.
struct Told {
  std::vector<LossGroup> will, may;
  std::vector<std::string> reasons;  // those that no listed loss and no doubt about the record says already
  std::vector<Lever> levers;
  std::size_t will_told = 0, may_told = 0, reasons_told = 0;
  bool doubts_told = true;
  bool first_lever_told = false;
};

// Whether a reason says of a loss, or of what falls with it, what the list of losses says too.
bool is_loss(const std::string& reason, const std::vector<LossGroup>& groups, std::size_t most) {
  constexpr std::size_t looked_at = 50;  // reasons name the gravest
  for (std::size_t i = 0; i < std::min({groups.size(), most, looked_at}); ++i) {
    for (const Detail* detail : groups[i].members)
      if (names_place(reason, detail->from_layer, detail->to_layer, detail->box)) return true;
    for (const Fall* fall : groups[i].falls)
      if (names_place(reason, fall->layer, fall->layer, fall->box)) return true;
  }
  return false;
}

Told to_tell(const Report& report, std::size_t most) {
  Told told;
  told.will = lost_groups(report, State::will);
  told.may = lost_groups(report, State::may);
  told.levers = levers(report);
  for (const std::string& reason : report.reasons) {
    const auto& doubts = report.record ? report.record->doubts : std::vector<std::string>{};
    const bool doubt = std::find(doubts.begin(), doubts.end(), reason) != doubts.end();
    if (!doubt && !is_loss(reason, told.will, most) && !is_loss(reason, told.may, most)) told.reasons.push_back(reason);
  }
  return told;
}

Tone tone_of(Verdict verdict) {
  return verdict == Verdict::hold ? Tone::bad : verdict == Verdict::caution ? Tone::doubtful : Tone::good;
}

Item loss_item(const LossGroup& group) {
  return {fmt::format("#{}", group.members.front()->id), loss_text(group), Tone::strong};
}

Item why_item(const std::string& reason) {
  return {"why", visible(reason), Tone::quiet};
}

// Losses and other reasons in `room` lines, the gravest first and in any case, the others where they fit.
std::vector<Item> what_is_wrong(const Page& page, const Report& report, std::size_t most, std::size_t room,
                                Told& told) {
  const std::vector<LossGroup>& groups = told.will.empty() ? told.may : told.will;
  std::size_t& shown = told.will.empty() ? told.may_told : told.will_told;
  const std::size_t listed = std::min(groups.size(), most);
  const bool why_first = !told.reasons.empty() && (listed == 0 || report.reasons.front() == told.reasons.front());
  std::vector<Item> items;
  std::size_t left = room;
  const auto add = [&](const Item& item) {
    items.push_back(item);
    left -= std::min(left, lines_of(page, item));
  };
  if (why_first) {
    const std::size_t share = listed > 0 ? (room - 1) / 2 : groups.empty() ? room : room - 1;
    add(clipped(page, why_item(told.reasons[0]), std::max<std::size_t>(share, 1)));
    told.reasons_told = 1;
  }
  for (; shown < listed; ++shown) {
    const std::size_t note = shown + 1 < groups.size() ? 1 : 0;
    const Item item = loss_item(groups[shown]);
    if (shown > 0 && lines_of(page, item) + note > left) break;
    add(clipped(page, item, std::max(left, note + 1) - note));
  }
  if (shown < groups.size())
    add({"", fmt::format("{}{} below.", shown == 0 ? "" : "And ", members_text(groups, shown)), {}});
  for (; told.reasons_told < told.reasons.size(); ++told.reasons_told) {
    const Item item = why_item(told.reasons[told.reasons_told]);
    if (lines_of(page, item) > left) break;
    add(item);
  }
  return items;
}

void write_answer(Page& page, const Report& report, std::size_t most, Told& told) {
  std::string word = to_string(report.verdict);
  std::transform(word.begin(), word.end(), word.begin(), [](char c) { return static_cast<char>(c - 'a' + 'A'); });
  const std::string step = first_step(report, told.levers);
  told.first_lever_told = !told.levers.empty() && step == told.levers.front().text;
  const Item all_doubts = {"record", report.record ? joined(report.record->doubts, " ") : "", Tone::doubtful};
  const Item time = clipped(page, {"time", time_text(report)}, 5);
  std::vector<Item> above = {clipped(page, {"job", job_text(report)}, 3)};
  std::vector<Item> below = {
      clipped(page, {told.first_lever_told && report.suggestion->action == Action::change ? "also" : "do", step}, 2),
      clipped(page, all_doubts, 2)};
  if (report.whole_fails)
    below.insert(below.begin(), time);  // why it fails comes first
  else
    above.push_back(time);
  page.beside(padded(word, lead_columns), verdict_sentence(report), tone_of(report.verdict), Tone::strong);
  constexpr std::size_t least_room = 3;  // a reason, a loss, and how many more
  const auto room_left = [&] { return answer_lines - page.lines() - lines_of(page, above) - lines_of(page, below); };
  if (room_left() < least_room) below.back() = clipped(page, all_doubts, 1);
  if (room_left() < least_room) above.front() = clipped(page, {"job", job_text(report)}, 2);
  const std::size_t room = room_left();
  for (const Item& item : above) write(page, item);
  const std::vector<Item> wrong = what_is_wrong(page, report, most, room, told);
  Item& doubts = below.back();
  const std::size_t left = room - std::min(room, lines_of(page, wrong));
  doubts = clipped(page, all_doubts, lines_of(page, doubts) + left);  // in full where it fits
  told.doubts_told = doubts.text == all_doubts.text;
  for (const Item& item : wrong) write(page, item);
  for (const Item& item : below) write(page, item);
}

// ---- lists below the answer ----

struct List {
  std::string heading;
  std::vector<Item> items;
  std::function<std::string(std::size_t shown)> rest;  // said when not all items are shown
  std::size_t skipped = 0;                             // further items that are never shown, only counted
  bool below_times = false;
};

// Lines a list takes that shows its first `shown` items.
std::size_t lines_of(const Page& page, const List& list, std::size_t shown) {
  std::size_t lines = 2;
  for (std::size_t i = 0; i < shown; ++i) lines += lines_of(page, list.items[i]);
  if (shown < list.items.size() + list.skipped) lines += lines_of(page, {"", list.rest(shown)});
  return lines;
}

// How many items each list shows in `room` lines: each its rest, then one item after the other, the lists in turn.
std::vector<std::size_t> shares(const Page& page, const std::vector<List>& lists, std::size_t room) {
  std::vector<std::size_t> shown(lists.size(), 0);
  std::size_t used = 0;
  for (const List& list : lists) used += lines_of(page, list, 0);
  bool grew = true;
  while (grew) {
    grew = false;
    for (std::size_t i = 0; i < lists.size(); ++i) {
      if (shown[i] == lists[i].items.size()) continue;
      const std::size_t now = lines_of(page, lists[i], shown[i]), then = lines_of(page, lists[i], shown[i] + 1);
      if (used + then > room + now) continue;
      used = used + then - now;
      ++shown[i];
      grew = true;
    }
  }
  return shown;
}

void write_list(Page& page, const List& list, std::size_t shown) {
  page.heading(list.heading);
  for (std::size_t i = 0; i < shown; ++i) write(page, list.items[i]);
  if (shown < list.items.size() + list.skipped) write(page, {"", list.rest(shown)});
}

List loss_list(const char* heading, const std::vector<LossGroup>& groups, std::size_t told, std::size_t most) {
  List list{heading, {}, {}};
  for (std::size_t i = told; i < std::min(groups.size(), std::max(told, most)); ++i)
    list.items.push_back(loss_item(groups[i]));
  list.skipped = groups.size() - told - list.items.size();
  list.rest = [&groups, told](std::size_t shown) {
    return fmt::format("{}{}; `--details all` lists them.", told + shown == 0 ? "" : "And ",
                       members_text(groups, told + shown));
  };
  return list;
}

std::function<std::string(std::size_t)> and_more(std::size_t count) {
  return [count](std::size_t shown) {
    return shown == 0 ? fmt::format("{}; `--details all` lists them.", count)
                      : fmt::format("And {} more.", count - shown);
  };
}

List lever_list(const Report& report, const Told& told) {
  List list{"What else you can do", {}, {}, 0, true};
  if (report.suggestion && report.suggestion->action == Action::change)
    list.heading = fmt::format("What you can do besides setting {}", exposure_text(report.suggestion->exposure_s));
  for (std::size_t i = told.first_lever_told ? 1 : 0; i < told.levers.size(); ++i) {
    list.items.push_back({told.levers[i].when, told.levers[i].text});
  }
  list.rest = and_more(list.items.size());
  return list;
}

List island_list(const Report& report, std::size_t most, const Told& told) {
  std::vector<const IslandRow*> biggest;
  for (const IslandRow& island : report.islands)
    if (!island.held_by_fill) biggest.push_back(&island);
  std::stable_sort(biggest.begin(), biggest.end(),
                   [](const IslandRow* a, const IslandRow* b) { return a->volume_mm3 > b->volume_mm3; });
  const auto in_reasons = [&](const IslandRow& island) {
    return std::any_of(told.reasons.begin(), told.reasons.end(), [&island](const std::string& reason) {
      return names_place(reason, island.layer, island.layer, island.box);
    });
  };
  List list{"Pieces that start with nothing beneath them", {}, {}};
  for (std::size_t i = 0; i < biggest.size(); ++i) {
    if (in_reasons(*biggest[i])) continue;
    if (list.items.size() < most)
      list.items.push_back({fmt::format("island {}", i + 1), island_text(*biggest[i])});
    else
      ++list.skipped;
  }
  list.rest = and_more(list.items.size() + list.skipped);
  return list;
}

std::vector<List> lists_of(const Report& report, std::size_t most, const Told& told) {
  std::vector<List> lists;
  const auto add = [&lists](List list) {
    if (!list.items.empty() || list.skipped > 0) lists.push_back(std::move(list));
  };
  List reasons{"Other reasons", {}, {}};
  for (std::size_t i = told.reasons_told; i < told.reasons.size(); ++i)
    reasons.items.push_back(why_item(told.reasons[i]));
  reasons.rest = and_more(reasons.items.size());
  add(reasons);
  add(loss_list(told.will_told > 0 ? "Will be lost as well" : "Will be lost", told.will, told.will_told, most));
  add(loss_list("May be lost, more likely not", told.may, told.may_told, most));
  add(lever_list(report, told));
  add(island_list(report, most, told));
  return lists;
}

// ---- times ----

std::string time_row(const std::array<std::string, 5>& cells, std::size_t columns) {
  constexpr std::array<std::size_t, 4> widths = {14, 9, 8, 9};
  std::string row = " ";
  for (std::size_t i = 0; i < widths.size(); ++i) row += padded_left(cells[i], widths[i]);
  return cells[4].empty() ? row : shortened(row + "  " + cells[4], columns);
}

std::string mark_of(const SweepPoint& point, const Report& report) {
  const Suggestion& s = *report.suggestion;
  const auto is = [&point](double exposure_s) { return std::abs(point.exposure_s - exposure_s) < 1e-6; };
  if (is(report.exposure_s)) return s.action == Action::keep ? "< this job: keep it" : "< this job";
  return s.action == Action::change && is(s.exposure_s) ? "< set this" : "";
}

std::array<std::string, 5> cells_of(const SweepPoint& point, const Report& report) {
  const std::string mark = mark_of(point, report);
  if (whole_fails(point)) return {"", "-", "-", "-", "the whole print fails" + (mark.empty() ? "" : "  " + mark)};
  const std::string doubt = doubt_of_bond(point);
  return {"", fmt::format("{}", point.vanish), fmt::format("{}", point.fuse), rough_text(point.expected_mm),
          mark + (mark.empty() || doubt.empty() ? "" : ", ") + doubt};
}

// With `joined`, times of equal losses stand in one row, unless one has a mark.
void write_times(Page& page, const Report& report, bool joined_rows) {
  if (!report.suggestion || report.suggestion->sweep.empty() || nothing_solid(report)) return;
  const Suggestion& s = *report.suggestion;
  page.gap();
  page.line(time_row({"time", "missing", "closed", "harm mm", ""}, page.columns()), Tone::quiet);
  bool harm = false;
  for (std::size_t i = 0; i < s.sweep.size(); ++i) {
    std::array<std::string, 5> cells = cells_of(s.sweep[i], report);
    std::size_t last = i;
    while (joined_rows && last + 1 < s.sweep.size() && mark_of(s.sweep[i], report).empty() &&
           cells_of(s.sweep[last + 1], report) == cells)
      ++last;
    cells[0] = last == i ? exposure_text(s.sweep[i].exposure_s)
                         : mm_text(s.sweep[i].exposure_s) + " to " + exposure_text(s.sweep[last].exposure_s);
    page.line(time_row(cells, page.columns()));
    harm = harm || s.sweep[i].expected_mm > 0;
    i = last;
  }
  if (harm) page.paragraph("harm: size of each loss times its chance, added up", 2, Tone::quiet);
  for (const std::string& text : about_times(s)) page.paragraph(text, 2);
}

// ---- what is worth knowing ----

void write_measures(Page& page, const Report& report, const Told& told) {
  std::vector<Item> items = {{"rounding", report.record ? rounding_text(report.rounding) : ""},
                             {"crumbs", crumbs_text(report)},
                             {"falls", small_falls_text(report)},
                             {"islands", held_islands_text(report)},
                             {"bond", bond_text(report)},
                             {"plate", base_text(report.base)}};
  for (const BaseReport::Finding& finding : report.base.findings)
    if (std::find(report.reasons.begin(), report.reasons.end(), finding.text) == report.reasons.end())
      items.push_back({"", visible(finding.text)});
  const char* lead = "thinnest";
  for (const std::string& text : thinnest_texts(report.layers)) items.push_back({std::exchange(lead, ""), text});
  if (report.record) {
    items.push_back({"record", record_text(*report.record)});
    items.push_back({"", joined(told.doubts_told ? std::vector<std::string>{} : report.record->doubts, " ")});
    items.push_back({"", joined(report.record->notes, " ")});
  }
  if (!report.job.remarks.empty()) items.push_back({"archive", joined(report.job.remarks, " ")});
  if (!report.job.assumed.empty()) items.push_back({"assumed", joined(report.job.assumed, ", ") + "."});
  page.gap();
  for (const Item& item : items) write(page, clipped(page, item, 3));
  if (report.record && !report.limits.empty())
    write(page, clipped(page, {"left out", joined(report.limits, "; ") + "."}, 4));
}

}  // namespace

std::string to_terminal(const Report& report, const TerminalStyle& style) {
  const std::size_t most = style.details;
  Page page(style), times(style), measures(style);
  Told told = to_tell(report, most);
  write_answer(page, report, most, told);
  page.gap();
  page.paragraph("x counts from the left edge of the image, y from the top.", 0, Tone::quiet);
  write_times(times, report, true);
  write_measures(measures, report, told);
  const std::vector<List> lists = lists_of(report, most, told);
  const std::size_t taken = 2 + times.lines() + measures.lines();
  std::vector<std::size_t> shown;
  if (most > TerminalStyle{}.details)
    for (const List& list : lists) shown.push_back(list.items.size());
  else
    shown = shares(page, lists, more_lines - std::min(more_lines, taken));
  for (std::size_t i = 0; i < lists.size(); ++i)
    if (!lists[i].below_times) write_list(page, lists[i], shown[i]);
  page.add(times);
  for (std::size_t i = 0; i < lists.size(); ++i)
    if (lists[i].below_times) write_list(page, lists[i], shown[i]);
  page.add(measures);
  return page.take();
}

std::string to_sweep_terminal(const Report& report, const TerminalStyle& style) {
  Page page(style);
  const Item items[] = {{"job", job_text(report)},
                        {"time", time_text(report)},
                        {"record", report.record ? joined(report.record->doubts, " ") : "", Tone::doubtful}};
  for (const Item& item : items) write(page, item);
  write_times(page, report, false);
  page.gap();
  if (report.record) write(page, {"record", record_text(*report.record)});
  return page.take();
}

}  // namespace hairline
