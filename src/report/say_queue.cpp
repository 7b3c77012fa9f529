// A night's queue: what of it, its sums, and what a person reads in the evening.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "../base/numbers.hpp"
#include "lines.hpp"
#include "queue_words.hpp"
#include "wording.hpp"
#include "words.hpp"

namespace hairline {

// Numbers have the digits of the report's file, so that a report which is read again gives the same row.
QueueRow queue_row(const Report& report) {
  const Report::Job& job = report.job;
  QueueRow row;
  row.title = job.title;
  row.verdict = report.verdict;
  if (!report.reasons.empty()) row.first_reason = report.reasons.front();
  row.duration_s = six_digits(job.duration_s);
  row.resin_ml = six_digits(job.resin_ml);
  row.resin_g = six_digits(job.resin_g);
  if (job.resin_cost) row.resin_cost = six_digits(*job.resin_cost);
  row.exposure_s = six_digits(report.exposure_s);
  // Where an exception of the job is to blame another time alone would not do: the report says what comes first.
  if (report.suggestion && report.suggestion->action == Action::change && !report.suggestion->exception)
    row.suggested_s = six_digits(report.suggestion->exposure_s);
  row.pitch = {six_digits(job.pitch.x_mm), six_digits(job.pitch.y_mm)};
  row.size_mm = {six_digits(job.size.width_px * row.pitch.x_mm), six_digits(job.size.height_px * row.pitch.y_mm)};
  row.layer_height_mm = six_digits(job.layer_height_mm);
  row.layers = job.layers;
  if (!report.record) return row;
  row.record.file = report.record->file;
  row.record.resin = report.record->resin;
  row.record.printer = report.record->printer;
  row.record.age_days = report.record->age_days;
  row.record.doubts = report.record->doubts;
  row.record.layer_height_mm = six_digits(report.record->model.layer_height_mm);
  return row;
}

QueueTotals add_up(const CheckedQueue& night) {
  QueueTotals totals;
  const std::vector<std::uint32_t> rows = chosen_rows(night);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const QueueRow& row = night.entries[i].rows[rows[i]];
    ++(row.error ? totals.not_checked : totals.checked);
    if (row.error) continue;
    ++(row.verdict == Verdict::hold ? totals.hold : row.verdict == Verdict::caution ? totals.caution : totals.clear);
  }
  for (const PlannedPrint& print : night.plan.prints) {
    const QueueRow& row = night.entries[print.job].rows[print.row];
    totals.resin_ml += row.resin_ml;
    totals.resin_g += row.resin_g;
    if (row.resin_cost)
      totals.resin_cost = totals.resin_cost.value_or(0) + *row.resin_cost;
    else
      ++totals.without_price;
  }
  return totals;
}

namespace {

struct RecordSaid {
  struct Doubt {
    std::string text, job;  // the first for which it was raised
    std::size_t rows = 0;   // for which it was
  };
  const QueueRow::Record* record = nullptr;
  std::size_t rows = 0;
  std::vector<Doubt> doubts;

  void add(const std::string& text, const std::string& job) {
    auto known = std::find_if(doubts.begin(), doubts.end(), [&](const Doubt& doubt) { return doubt.text == text; });
    if (known == doubts.end()) known = doubts.insert(known, {text, job});
    ++known->rows;
  }
  // The first few; those that are not raised for every job name theirs.
  std::string text() const {
    constexpr std::size_t most = 3;
    std::string said;
    for (std::size_t i = 0; i < std::min(most, doubts.size()); ++i) {
      const Doubt& one = doubts[i];
      const std::string others = one.rows > 1 ? fmt::format(" and {} more", one.rows - 1) : "";
      said += fmt::format(" {}{}", one.rows < rows ? fmt::format("{}{}: ", one.job, others) : "", one.text);
    }
    return said;
  }
};

}  // namespace

Document records_of(const CheckedQueue& night) {
  std::map<std::string, RecordSaid> records;
  std::uint64_t measured = 0;
  for (const QueueEntry& entry : night.entries)
    for (const QueueRow& row : entry.rows) {
      measured += &row == entry.rows.data() && !row.error && row.record.file.empty();
      if (row.error || row.record.file.empty()) continue;
      RecordSaid& one = records[row.record.file];
      one.record = &row.record;
      ++one.rows;
      for (const std::string& doubt : row.record.doubts) one.add(doubt, file_name(entry.job.file));
    }
  Document said;
  if (!records.empty() || measured > 0) said.push_back(Heading{records.size() > 1 ? "Resin records" : "Resin record"});
  for (const auto& [file, one] : records) {
    const auto age = one.record->age_days;
    said.push_back(Item{.lead = "record",
                        .text = fmt::format("{}{}, {}.{}", file,
                                            one.record->resin.empty() ? "" : fmt::format(" ({})", one.record->resin),
                                            age ? age_text(*age) : "of unknown age", one.text()),
                        .tone = one.doubts.empty() ? Tone::plain : Tone::doubtful});
  }
  if (measured > 0)
    said.push_back(Item{.lead = "none",
                        .text = fmt::format("{} only measured, without a record: what the resin loses is not known.",
                                            count_text(measured, "job was", "jobs were")),
                        .tone = Tone::doubtful});
  return said;
}

namespace {

struct LeftWords {
  const char *one, *many;
};
// In the order of LeftOut.
constexpr std::array<LeftWords, 6> left_words = {{{"could not be checked", "could not be checked"},
                                                  {"fits no printer", "fit no printer"},
                                                  {"was sliced for other pixels", "were sliced for other pixels"},
                                                  {"is too large for the plate", "are too large for the plate"},
                                                  {"is on hold", "are on hold"},
                                                  {"lacks resin", "lack resin"}}};

Tone tone_of(const NightRow& row) {
  if (row.row.error || row.row.verdict == Verdict::hold) return Tone::bad;
  return row.left || row.row.verdict == Verdict::caution ? Tone::doubtful : Tone::good;
}

// ---- what to know first ----

// "2 are on hold, 1 could not be checked", and copies of jobs of which others are printed.
std::string left_out_text(const NightPlan& plan, const std::vector<char>& starts) {
  std::array<std::uint32_t, left_words.size()> counts{};
  std::uint64_t copies = 0;
  for (const NotPlanned& left : plan.not_planned)
    starts[left.job] ? copies += left.copies : ++counts[static_cast<std::size_t>(left.why)];
  std::vector<std::string> parts;
  for (const LeftOut why : {LeftOut::hold, LeftOut::not_checked, LeftOut::no_resin, LeftOut::too_large,
                            LeftOut::other_pixels, LeftOut::no_such_printer}) {
    const auto i = static_cast<std::size_t>(why);
    if (counts[i] > 0)
      parts.push_back(fmt::format("{} {}", counts[i], counts[i] == 1 ? left_words[i].one : left_words[i].many));
  }
  if (copies > 0) parts.push_back(count_text(copies, "copy is", "copies are") + " left out");
  return joined(parts, ", ");
}

// "5 of 11 jobs may start"
std::string started_text(std::uint64_t started, std::size_t all) {
  if (all == 0) return "There are no jobs";
  if (all == 1) return started == 0 ? "The job must not start" : "The job may start";
  if (started == 0) return fmt::format("None of the {} jobs may start", all);
  if (started < all) return fmt::format("{} of {} jobs may start", started, all);
  return all == 2 ? "Both jobs may start" : fmt::format("All {} jobs may start", all);
}

Paragraph may_start(const CheckedQueue& night) {
  std::vector<char> starts(night.entries.size(), 0);
  for (const PlannedPrint& print : night.plan.prints) starts[print.job] = 1;
  const auto started = static_cast<std::uint64_t>(std::count(starts.begin(), starts.end(), 1));
  const std::vector<std::uint32_t> rows = chosen_rows(night);
  std::uint64_t caution = 0;
  for (std::size_t i = 0; i < rows.size(); ++i)
    caution += starts[i] && night.entries[i].rows[rows[i]].verdict == Verdict::caution;
  const std::size_t all = night.entries.size();
  std::string text = started_text(started, all);
  if (caution > 0) text += all == 1 ? ", with caution" : fmt::format(", {} of them with caution", caution);
  const std::string left = left_out_text(night.plan, starts);
  if (!left.empty()) text += all == 1 && started == 0 ? ": it" + left.substr(left.find(' ')) : "; " + left;
  return {text + ".", !left.empty() ? Tone::bad : caution > 0 ? Tone::doubtful : Tone::good};
}

// "gallery.zip, cutter.zip, beacon.zip and 4 more"
std::string first_names(const std::vector<std::string>& names) {
  constexpr std::size_t most = 3;
  const std::size_t shown = names.size() > most + 1 ? most : names.size();
  const std::string text = joined({names.begin(), names.begin() + static_cast<std::ptrdiff_t>(shown)}, ", ");
  return shown == names.size() ? text : text + fmt::format(" and {} more", names.size() - shown);
}

// "Another exposure time lets 2 jobs on hold start: gallery.zip at 2.65 s, cutter.zip at 2.40 s."
std::string other_times(const CheckedQueue& night) {
  std::vector<std::string> names;
  for (const NotPlanned& left : night.plan.not_planned) {
    const QueueEntry& entry = night.entries[left.job];
    const QueueRow& row = entry.rows[left.row];
    if (left.why == LeftOut::hold && row.suggested_s && row.suggested_verdict.value_or(Verdict::hold) != Verdict::hold)
      names.push_back(fmt::format("{} at {}", file_name(entry.job.file), exposure_text(*row.suggested_s)));
  }
  if (names.empty()) return {};
  return fmt::format("Another exposure time lets {} on hold start: {}.", count_text(names.size(), "job", "jobs"),
                     first_names(names));
}

// Does a print follow another one at once on its printer?
bool follows_at_once(const CheckedQueue& night) {
  std::vector<bool> busy(night.printers.size(), false);
  for (const PlannedPrint& print : night.plan.prints) {
    if (busy[print.printer] && night.printers[print.printer].changeover_min == 0) return true;
    busy[print.printer] = true;
  }
  return false;
}

void say_ready(Document& said, const CheckedQueue& night, const NightClock& clock) {
  const NightPlan& plan = night.plan;
  if (plan.prints.empty()) return;
  std::vector<std::string> late;
  for (const PlannedPrint& print : plan.prints)
    if (print.late) late.push_back(file_name(night.entries[print.job].job.file));
  const std::string after = clock.length_text(plan.duration_s) + " after the start.";
  const bool one = plan.prints.size() == 1;
  const std::string which = one ? "It" : "The last";
  const std::string last = clock.known() ? fmt::format("{} ends at {}, {}", which, clock.text(plan.duration_s), after)
                                         : fmt::format("{} ends {}", which, after);
  const std::string by = night.times.ready_by ? clock.text_of(*night.times.ready_by) : std::string();
  std::string text = last;
  if (plan.allowed_s)
    text = late.empty() ? fmt::format("{} ready by {}. {}", one ? "It is" : "All prints are", by, last)
                        : fmt::format("Not ready by {}: {} of {} ({}). {}", by, late.size(),
                                      count_text(plan.prints.size(), "print", "prints"), first_names(late), last);
  said.push_back(Paragraph{text, !plan.allowed_s ? Tone::plain : late.empty() ? Tone::good : Tone::bad});
  if (plan.latest_start)
    said.push_back(
        Paragraph{fmt::format("Latest start to be ready by {}: {}.", by, clock.text_of(*plan.latest_start))});
  if (follows_at_once(night))
    said.push_back(
        Paragraph{"Somebody has to clear the plate between two prints: no time is counted for that "
                  "(`changeover_min` of a queue file is)."});
  if (const double changed_s = clock.changed_s(plan.duration_s); changed_s != 0)
    said.push_back(Paragraph{fmt::format("Clocks are put {} by {} meanwhile; times are as they show them.",
                                         changed_s > 0 ? "forward" : "back", duration_text(std::abs(changed_s)))});
}

// "cost 12.40, without 2 prints whose price is not known"
std::string cost_of(const QueueTotals& totals) {
  if (!totals.resin_cost) return {};
  std::string text = ", cost " + cost_text(*totals.resin_cost);
  if (totals.without_price > 0)
    text += fmt::format(", without {} whose price is not known", count_text(totals.without_price, "print", "prints"));
  return text;
}

void say_sums(Document& said, const CheckedQueue& night, const QueueTotals& totals) {
  said.push_back(Paragraph{
      fmt::format("{}: {} clear, {} caution, {} hold{}.", count_text(totals.checked, "job checked", "jobs checked"),
                  totals.clear, totals.caution, totals.hold,
                  totals.not_checked == 0 ? "" : fmt::format("; {} not checked", totals.not_checked))});
  if (!night.plan.prints.empty())
    said.push_back(Paragraph{fmt::format(
        "{} {} ml ({} g) of resin{}.",
        night.plan.prints.size() == 1 ? "The print takes" : fmt::format("The {} prints take", night.plan.prints.size()),
        amount_text(totals.resin_ml), amount_text(totals.resin_g), cost_of(totals))});
}

// ---- tables ----

struct TableKind {
  bool printed, times, cost;  // planned prints; the start is known; prices are
};

Table empty_table(const TableKind& kind) {
  Table table{{{"verdict", TableColumn::Kind::text, 8}}};
  if (kind.printed && kind.times) table.columns.push_back({"start", TableColumn::Kind::number, 9, 1});
  if (!kind.printed || !kind.times) table.columns.push_back({"time", TableColumn::Kind::number, 11, 1});
  if (kind.printed) table.columns.push_back({kind.times ? "end" : "done after", TableColumn::Kind::number, 10, 1});
  table.columns.push_back({"resin", TableColumn::Kind::number, 8, 2});
  if (kind.cost) table.columns.push_back({"cost", TableColumn::Kind::number, 6, 2});
  table.columns.push_back({"job", TableColumn::Kind::prose, 0, 2});
  return table;
}

TableRow row_of(const CheckedQueue& night, const NightRow& row, const TableKind& kind, const NightClock& clock) {
  const QueueRow& checked = row.row;
  TableRow said{{verdict_word(checked)}, tone_of(row)};
  const auto add = [&](const std::string& text) { said.cells.push_back(checked.error ? "-" : text); };
  if (kind.printed && kind.times) add(clock.text(row.print->start_s));
  if (!kind.printed || !kind.times) add(duration_text(checked.duration_s));
  if (kind.printed) add(clock.text(row.print->end_s));
  add(amount_text(checked.resin_ml) + " ml");
  if (kind.cost) add(checked.resin_cost ? cost_text(*checked.resin_cost) : "-");
  said.cells.push_back(job_name(row));
  for (const std::string& note : notes_of(night, row, clock)) said.notes.push_back({note, Tone::plain, 4});
  return said;
}

// Columns as wide as their widest cell.
void fit(Table& table) {
  for (std::size_t i = 0; i + 1 < table.columns.size(); ++i)
    for (const TableRow& row : table.rows)
      table.columns[i].columns = std::max(table.columns[i].columns, static_cast<std::uint16_t>(width_of(row.cells[i])));
}

class Tables {
 public:
  Tables(const CheckedQueue& night, const NightClock& clock) : night_(night), clock_(clock), rows_(night_rows(night)) {
    cost_ = std::any_of(rows_.begin(), rows_.end(),
                        [](const NightRow& row) { return !row.row.error && row.row.resin_cost; });
  }
  Table of(bool printed, auto belongs) const {
    const TableKind kind{printed, clock_.known(), cost_};
    Table table = empty_table(kind);
    for (const NightRow& row : rows_)
      if ((row.print != nullptr) == printed && belongs(row)) table.rows.push_back(row_of(night_, row, kind, clock_));
    fit(table);
    return table;
  }

 private:
  const CheckedQueue& night_;
  const NightClock& clock_;
  std::vector<NightRow> rows_;
  bool cost_ = false;
};

// ---- printers ----

void say_printers(Document& said, const CheckedQueue& night, const NightClock& clock, const Tables& tables) {
  const bool one_unnamed = night.printers.size() == 1 && night.printers[0].label.empty();
  for (std::uint32_t i = 0; i < night.printers.size(); ++i) {
    Table table = tables.of(true, [i](const NightRow& row) { return row.print->printer == i; });
    if (table.rows.empty() && one_unnamed) continue;
    said.push_back(Heading{printer_heading(night, i, clock)});
    if (!one_unnamed || night.printers[i].resin_ml) said.push_back(Item{.lead = "resin", .text = resin_of(night, i)});
    if (!table.rows.empty()) said.push_back(std::move(table));
  }
}

Document with_records(Document said, const CheckedQueue& night) {
  for (DocumentBlock& block : records_of(night)) said.push_back(std::move(block));
  return said;
}

Document say_share(const CheckedQueue& night, const Tables& tables) {
  Document said = {
      Paragraph{fmt::format("Share {} of {}: {} of {} jobs, checked but not planned; `hairline queue merge` "
                            "makes one night of all shares.",
                            night.shard->part, night.shard->of, night.entries.size(), night.jobs_in_all),
                Tone::strong}};
  say_sums(said, night, add_up(night));
  said.push_back(Heading{});
  if (!night.entries.empty()) said.push_back(tables.of(false, [](const NightRow&) { return true; }));
  return with_records(std::move(said), night);
}

Document say_first(const CheckedQueue& night, const NightClock& clock) {
  Document said = {may_start(night)};
  say_ready(said, night, clock);
  if (const std::string times = other_times(night); !times.empty()) said.push_back(Paragraph{times, Tone::strong});
  say_sums(said, night, add_up(night));
  return said;
}

// ---- job by job ----

// "22:00 to 23:10, 1 of 2, late"
std::string print_text(const NightRow& row, const NightClock& clock) {
  const PlannedPrint& print = *row.print;
  std::string text = fmt::format("{} to {}", clock.text(print.start_s), clock.text(print.end_s));
  if (!clock.known())
    text = fmt::format("{}, done {} after the start", duration_text(row.row.duration_s), clock.text(print.end_s));
  if (row.entry.job.copies > 1) text += fmt::format(", {} of {}", print.copy, row.entry.job.copies);
  return text + (print.late ? ", late" : "");
}

// Where some copies are printed and others are not.
std::string left_text(const NightRow& row) {
  const std::uint32_t all = row.entry.job.copies;
  return row.left->copies == all ? "" : fmt::format("{} of {}", row.left->copies, count_text(all, "copy", "copies"));
}

void say_row(SaidJob& job, const CheckedQueue& night, const NightRow& row, const NightClock& clock) {
  if (job.said.empty())
    job.said.push_back(Paragraph{verdict_word(row.row) + (sound_but_left(row) ? ", left out" : ""), tone_of(row)});
  if (row.left) {
    job.said.push_back(Item{.lead = "left out", .text = left_text(row)});
  } else {
    const std::string& printer = night.printers[row.print->printer].label;
    job.said.push_back(Item{.lead = printer.empty() ? "prints" : printer, .text = print_text(row, clock)});
  }
  for (std::string& note : notes_of(night, row, clock)) {
    const auto same = [&note](const DocumentBlock& block) {
      const auto* paragraph = std::get_if<Paragraph>(&block);
      return paragraph != nullptr && paragraph->text == note;
    };
    if (std::none_of(job.said.begin(), job.said.end(), same)) job.said.push_back(Paragraph{std::move(note)});
  }
}

}  // namespace

SaidNight say_by_job(const CheckedQueue& night) {
  const NightClock clock(night.times);
  SaidNight said{.first = say_first(night, clock), .records = records_of(night)};
  for (const std::uint32_t row : chosen_rows(night)) {
    const QueueRow& checked = night.entries[said.jobs.size()].rows[row];
    SaidJob& job = said.jobs.emplace_back();
    job.row = row;
    if (checked.suggested_verdict != Verdict::hold) job.set_s = checked.suggested_s;
    if (job.set_s) job.set_text = exposure_text(*job.set_s);
  }
  for (const NightRow& row : night_rows(night))
    say_row(said.jobs[static_cast<std::size_t>(&row.entry - night.entries.data())], night, row, clock);
  return said;
}

Document say_queue(const CheckedQueue& night) {
  const NightClock clock(night.times);
  const Tables tables(night, clock);
  if (night.shard) return say_share(night, tables);
  Document said = say_first(night, clock);
  say_printers(said, night, clock, tables);
  Table left = tables.of(false, [](const NightRow&) { return true; });
  if (!left.rows.empty()) {
    said.push_back(Heading{"Not to be started"});
    said.push_back(std::move(left));
  }
  return with_records(std::move(said), night);
}

}  // namespace hairline
