// The report as a document: the answer in 16 lines, then at most 60 more (TerminalStyle::details), each list cut to its
// share of them. Sentences are made in wording.cpp; here each gets its place.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "hairline/report.hpp"
#include "height_bar.hpp"
#include "lines.hpp"
#include "report_blocks.hpp"
#include "words.hpp"

namespace hairline {
namespace {

constexpr std::size_t answer_lines = 16, more_lines = 60;

std::size_t lines_of(const std::vector<Item>& items, const TerminalStyle& style) {
  std::size_t lines = 0;
  for (const Item& item : items) lines += hairline::lines_of(item, style);
  return lines;
}

// The item in at most `most` lines.
Item within(std::size_t most, Item item) {
  item.most_lines = static_cast<std::uint32_t>(most);
  return item;
}

void add(Document& said, const auto& part) {
  said.insert(said.end(), part.begin(), part.end());
}

// ---- the answer ----

// What the report has to tell, and how much of it the answer told.
struct Told {
  std::vector<LossGroup> will, may;
  std::vector<std::string> reasons;  // those that no listed loss and no doubt about the record says already
  std::vector<Lever> levers;
  std::size_t will_told = 0, may_told = 0, reasons_told = 0, levers_told = 0;
  bool doubts_told = true;
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
  const std::uint32_t id = group.members.front()->id;
  return {.lead = fmt::format("#{}", id), .text = loss_text(group), .lead_tone = Tone::strong, .finding = id};
}

Item why_item(const std::string& reason) {
  return {"why", reason};
}

// Losses and other reasons in `room` lines, the gravest first and in any case, the others where they fit.
std::vector<Item> what_is_wrong(const TerminalStyle& style, const Report& report, std::size_t room, Told& told) {
  const std::vector<LossGroup>& groups = told.will.empty() ? told.may : told.will;
  std::size_t& shown = told.will.empty() ? told.may_told : told.will_told;
  const std::size_t listed = std::min<std::size_t>(groups.size(), style.details);
  const bool why_first = !told.reasons.empty() && (listed == 0 || report.reasons.front() == told.reasons.front());
  std::vector<Item> items;
  std::size_t left = room;
  const auto add = [&](const Item& item) {
    items.push_back(item);
    left -= std::min(left, lines_of(item, style));
  };
  if (why_first) {
    const std::size_t share = listed > 0 ? (room - 1) / 2 : groups.empty() ? room : room - 1;
    add(within(std::max<std::size_t>(share, 1), why_item(told.reasons[0])));
    told.reasons_told = 1;
  }
  for (; shown < listed; ++shown) {
    const std::size_t note = shown + 1 < groups.size() ? 1 : 0;
    const Item item = loss_item(groups[shown]);
    if (shown > 0 && lines_of(item, style) + note > left) break;
    add(within(std::max(left, note + 1) - note, item));
  }
  if (shown < groups.size())
    add({"",
         shown == 0 ? members_text(groups, 0) + " in all." : fmt::format("And {} more.", members_text(groups, shown))});
  for (; told.reasons_told < told.reasons.size(); ++told.reasons_told) {
    const Item item = why_item(told.reasons[told.reasons_told]);
    if (lines_of(item, style) > left) break;
    add(item);
  }
  return items;
}

// What else can be done goes beneath what is to be done, before the doubts, as far as it fits.
void add_levers(const TerminalStyle& style, std::size_t room, Told& told, std::vector<Item>& below) {
  for (; told.levers_told > 0 && told.levers_told < told.levers.size(); ++told.levers_told) {
    const Item next = {"and", told.levers[told.levers_told].text};
    const std::size_t lines = lines_of(next, style);
    if (lines > room) return;
    room -= lines;
    below.insert(below.end() - 1, next);
  }
}

Document say_answer(const Report& report, const TerminalStyle& style, Told& told) {
  const std::string step = first_step(report, told.levers);
  told.levers_told = !told.levers.empty() && step == told.levers.front().text ? 1 : 0;
  const Item verdict = {in_capitals(report.verdict), verdict_sentence(report), tone_of(report.verdict), Tone::strong};
  const Item all_doubts = {"record", report.record ? joined(report.record->doubts, " ") : "", Tone::doubtful};
  const Item job = {"job", job_text(report)}, time = within(5, {"time", time_text(report)});
  std::vector<Item> above = {within(3, job)};
  const bool first = report.suggestion && report.suggestion->exception;  // the step, before another time
  const bool also = told.levers_told > 0 && report.suggestion->action == Action::change && !first;
  std::vector<Item> below = {within(2, {also ? "also" : "do", step}), within(2, all_doubts)};
  if (first || report.whole_fails)
    below.insert(below.begin() + (first ? 1 : 0), time);  // why it fails comes first
  else
    above.push_back(time);
  constexpr std::size_t least_room = 3;  // a reason, a loss, and how many more
  const auto room_left = [&] {
    return answer_lines - lines_of(verdict, style) - lines_of(above, style) - lines_of(below, style);
  };
  if (room_left() < least_room) below.back() = within(1, all_doubts);
  if (room_left() < least_room) above.front() = within(2, job);
  const std::size_t room = room_left();
  const std::vector<Item> wrong = what_is_wrong(style, report, room, told);
  const std::size_t left = room - std::min(room, lines_of(wrong, style));
  Item& doubts = below.back();
  doubts = within(lines_of(doubts, style) + left, all_doubts);  // in full where it fits
  told.doubts_told = lines_of(all_doubts, style) <= doubts.most_lines;
  add_levers(style, room_left() - std::min(room_left(), lines_of(wrong, style)), told, below);
  Document said = {verdict};
  add(said, above);
  add(said, wrong);
  add(said, below);
  return said;
}

// ---- lists below the answer ----

struct List {
  std::string heading;
  std::vector<Item> items = {};
  std::function<std::string(std::size_t shown)> rest = {};  // said when not all items are shown
  std::size_t skipped = 0;                                  // further items that are never shown, only counted
  bool below_times = false;
};

// A list that shows its first `shown` items.
Document say_list(const List& list, std::size_t shown) {
  Document said = {Heading{list.heading}};
  said.insert(said.end(), list.items.begin(), list.items.begin() + static_cast<std::ptrdiff_t>(shown));
  if (shown < list.items.size() + list.skipped) said.push_back(Item{"", list.rest(shown)});
  return said;
}

// How many items each list shows in `room` lines: each its rest, then one item after the other, the lists in turn.
std::vector<std::size_t> shares(const TerminalStyle& style, const std::vector<List>& lists, std::size_t room) {
  std::vector<std::size_t> shown(lists.size(), 0);
  std::size_t used = 0;
  for (const List& list : lists) used += lines_of(say_list(list, 0), style);
  bool grew = true;
  while (grew) {
    grew = false;
    for (std::size_t i = 0; i < lists.size(); ++i) {
      if (shown[i] == lists[i].items.size()) continue;
      const std::size_t now = lines_of(say_list(lists[i], shown[i]), style),
                        then = lines_of(say_list(lists[i], shown[i] + 1), style);
      if (used + then > room + now) continue;
      used = used + then - now;
      ++shown[i];
      grew = true;
    }
  }
  return shown;
}

// The same below so many lines; all of them where more than usual were asked for.
std::vector<std::size_t> shown_below(std::size_t taken, const TerminalStyle& style, const std::vector<List>& lists) {
  if (style.details <= TerminalStyle{}.details) return shares(style, lists, more_lines - std::min(more_lines, taken));
  std::vector<std::size_t> shown;
  for (const List& list : lists) shown.push_back(list.items.size());
  return shown;
}

// All fits below so many lines, and no list is without an item for lack of room.
bool has_room(std::size_t taken, const TerminalStyle& style, const std::vector<List>& lists,
              const std::vector<std::size_t>& shown) {
  for (std::size_t i = 0; i < lists.size(); ++i) {
    if (shown[i] == 0 && !lists[i].items.empty()) return false;
    taken += lines_of(say_list(lists[i], shown[i]), style);
  }
  return taken <= more_lines || style.details > TerminalStyle{}.details;
}

List loss_list(const char* heading, const std::vector<LossGroup>& groups, std::size_t told, std::size_t most) {
  List list{.heading = heading};
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
    return shown == 0 ? fmt::format("{} in all; `--details all` lists them.", count)
                      : fmt::format("And {} more.", count - shown);
  };
}

List lever_list(const Report& report, const Told& told) {
  List list{.heading = "What else you can do", .below_times = true};
  if (report.suggestion && report.suggestion->action == Action::change)
    list.heading = fmt::format("What you can do besides setting {}", exposure_text(report.suggestion->exposure_s));
  for (std::size_t i = told.levers_told; i < told.levers.size(); ++i)
    list.items.push_back({told.levers[i].when, told.levers[i].text});
  list.rest = and_more(list.items.size());
  return list;
}

List island_list(const Report& report, std::size_t most, const Told& told) {
  const std::vector<const IslandRow*> biggest = loose_islands(report);
  const auto in_reasons = [&](const IslandRow& island) {
    return std::any_of(told.reasons.begin(), told.reasons.end(), [&island](const std::string& reason) {
      return names_place(reason, island.layer, island.layer, island.start_box());
    });
  };
  List list{.heading = "Pieces that start with nothing beneath them"};
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
  List reasons{.heading = "Other reasons"};
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

// ---- where ----

// Losses by their ids, islands counted.
Document say_heights(const Report& report, const Told& told, int bands, const TerminalStyle& style) {
  std::vector<HeightMark> marks;
  for (const auto* groups : {&told.will, &told.may})
    for (std::size_t i = 0; i < std::min<std::size_t>(groups->size(), style.details); ++i) {
      const Detail& worst = *(*groups)[i].members.front();
      marks.push_back({worst.id, worst.box.from.z, worst.box.to.z});
    }
  for (const IslandRow& island : report.islands)
    if (!island.held_by_fill) marks.push_back({0, island.height_mm, island.height_mm + report.job.layer_height_mm});
  const std::optional<Picture> bar = height_bar(report, marks, bands, style);
  return bar ? Document{*bar} : Document{};
}

// ---- times ----

std::string mark_of(const SweepPoint& point, const Report& report) {
  const Suggestion& s = *report.suggestion;
  const auto is = [&point](double exposure_s) { return std::abs(point.exposure_s - exposure_s) < 1e-6; };
  if (is(report.exposure_s) && judges_own_time(report))
    return s.action == Action::keep ? "< this job: keep it" : "< this job";
  if (is(report.exposure_s)) return s.action == Action::keep ? "< judged: stay at it" : "< judged";
  return s.action == Action::change && is(s.exposure_s) ? "< set this" : "";
}

std::vector<std::string> cells_of(const SweepPoint& point, const Report& report) {
  const std::string mark = mark_of(point, report);
  if (whole_fails(point)) return {"", "-", "-", "-", "the whole print fails" + (mark.empty() ? "" : "  " + mark)};
  const std::string doubt = doubt_of_row(point);
  return {"", fmt::format("{}", point.vanish), fmt::format("{}", point.fuse), rough_text(point.expected_mm),
          mark + (mark.empty() || doubt.empty() ? "" : ", ") + doubt};
}

// More light loses fewer parts and closes more gaps; where the counts say otherwise, one of them counts as several.
bool in_pieces(const std::vector<SweepPoint>& rows) {
  const auto odd = [](const SweepPoint& one, const SweepPoint& next) {
    return !whole_fails(one) && (next.vanish > one.vanish || next.fuse < one.fuse);
  };
  return std::adjacent_find(rows.begin(), rows.end(), odd) != rows.end();
}

// With `joined_rows`, times of equal losses stand in one row, unless one has a mark.
Document say_times(const Report& report, bool joined_rows) {
  if (!report.suggestion || report.suggestion->sweep.empty() || nothing_solid(report)) return {};
  const Suggestion& s = *report.suggestion;
  Table table{{{"time", TableColumn::Kind::number, 15},
               {"missing", TableColumn::Kind::number, 9},
               {"closed", TableColumn::Kind::number, 8},
               {"harm mm", TableColumn::Kind::number, 9},
               {"", TableColumn::Kind::remark, 0, 2}}};
  bool harm = false;
  for (std::size_t i = 0; i < s.sweep.size(); ++i) {
    std::vector<std::string> cells = cells_of(s.sweep[i], report);
    std::size_t last = i;
    while (joined_rows && last + 1 < s.sweep.size() && mark_of(s.sweep[i], report).empty() &&
           cells_of(s.sweep[last + 1], report) == cells)
      ++last;
    cells[0] = last == i ? exposure_text(s.sweep[i].exposure_s)
                         : mm_text(s.sweep[i].exposure_s) + " to " + exposure_text(s.sweep[last].exposure_s);
    table.rows.push_back({cells});
    harm = harm || s.sweep[i].expected_mm > 0;
    i = last;
  }
  Document said = {Heading{}, table};
  if (harm) said.push_back(Paragraph{"harm: size of each loss times its chance, added up", Tone::quiet, 2});
  if (in_pieces(s.sweep))
    said.push_back(
        Paragraph{"A part that goes in pieces, or a gap that closes in places, counts as several.", Tone::quiet, 2});
  for (const std::string& text : about_times(s, report.record->model)) said.push_back(Paragraph{text, Tone::plain, 2});
  return said;
}

// ---- what is worth knowing ----

Document say_measures(const Report& report, const Told& told) {
  Document said = {Heading{}};
  add(said, items_of(report, told.doubts_told));
  if (report.record && !report.limits.empty())
    said.push_back(within(4, {"left out", joined(report.limits, "; ") + "."}));
  return said;
}

}  // namespace

Document say_report(const Report& report, const TerminalStyle& style) {
  Told told = to_tell(report, style.details);
  Document said = say_answer(report, style, told);
  said.push_back(Heading{});
  said.push_back(Paragraph{"x counts from the left edge of the image, y from the top.", Tone::quiet});
  const Document times = say_times(report, true), measures = say_measures(report, told);
  const std::vector<List> lists = lists_of(report, style.details, told);
  const std::size_t taken = 2 + lines_of(times, style) + lines_of(measures, style);
  std::vector<std::size_t> shown = shown_below(taken, style, lists);
  Document heights;
  for (const int bands : {6, 4}) {
    const Document bar = say_heights(report, told, bands, style);
    const std::size_t with_bar = taken + lines_of(bar, style);
    const std::vector<std::size_t> beside = shown_below(with_bar, style, lists);
    if (!has_room(with_bar, style, lists, beside)) continue;
    heights = bar;
    shown = beside;
    break;
  }
  add(said, heights);
  for (const bool below_times : {false, true}) {
    if (below_times) add(said, times);
    for (std::size_t i = 0; i < lists.size(); ++i)
      if (lists[i].below_times == below_times) add(said, say_list(lists[i], shown[i]));
  }
  add(said, measures);
  return said;
}

Document say_sweep(const Report& report) {
  const bool first = report.suggestion && report.suggestion->exception;  // before another time
  Document said = {Item{"job", job_text(report)}, Item{"do", first ? first_step(report, levers(report)) : ""},
                   Item{"time", time_text(report)},
                   Item{"record", report.record ? joined(report.record->doubts, " ") : "", Tone::doubtful}};
  add(said, say_times(report, false));
  said.push_back(Heading{});
  if (report.record) said.push_back(Item{"record", record_text(*report.record)});
  return said;
}

}  // namespace hairline
