#include "queue_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>

#include "hairline/files.hpp"
#include "words.hpp"

namespace hairline {
namespace {

using namespace std::chrono;

constexpr std::array<const char*, 7> days_of_week = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
constexpr std::array<const char*, 12> months = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};

seconds whole_minutes(double after_s) {
  return minutes(std::llround(std::ceil(std::min(after_s, 1e12) / 60 - 1e-6)));
}

std::string ml_text(double ml) {
  return amount_text(ml) + " ml";
}

// "quay bench"; "the printer" where it has no label.
std::string printer_name(const CheckedQueue& night, std::uint32_t printer) {
  const std::string& label = night.printers[printer].label;
  return label.empty() ? "the printer" : label;
}

std::string why_text(const CheckedQueue& night, const NightRow& row) {
  const NotPlanned& left = *row.left;
  const std::string printer = left.printer ? printer_name(night, *left.printer) : "any printer";
  switch (left.why) {
    case LeftOut::not_checked:
    case LeftOut::hold:
      return {};  // the error or the reason says it
    case LeftOut::no_such_printer:
      return row.entry.job.printer.empty()
                 ? "No printer of this queue fits it."
                 : fmt::format("There is no printer \"{}\" in this queue.", row.entry.job.printer);
    case LeftOut::other_pixels:
      return fmt::format("It is sliced for pixels of {} mm; those of {} are {} mm. Slice it for that printer.",
                         number_text(left.needed), printer, number_text(left.available));
    case LeftOut::too_large:
      return fmt::format("It is too large: a side of {} mm, and the plate of {} has {} mm.", number_text(left.needed),
                         printer, number_text(left.available));
    case LeftOut::no_resin:
      return fmt::format("The resin does not reach: it needs {}, and {} are left at {}; {} are missing.",
                         ml_text(left.needed), ml_text(left.available), printer, ml_text(left.needed - left.available));
  }
  return {};
}

std::string time_note(const NightRow& row) {
  const QueueRow& checked = row.row;
  const bool hold = checked.verdict == Verdict::hold;
  if (!checked.suggested_s) return hold ? "No other exposure time is known to save it; its report says what may." : "";
  const std::string set = fmt::format("Set {} a layer instead of {}", exposure_text(*checked.suggested_s),
                                      exposure_text(checked.exposure_s));
  if (!hold || !checked.suggested_verdict) return set + ".";
  if (*checked.suggested_verdict == Verdict::hold) return set + ": less is lost then, but it stays on hold.";
  return fmt::format("{}, and it may start ({}).", set, to_string(*checked.suggested_verdict));
}

// What is to be done before each print: another resin, a vat that is filled up. It is full at the start.
std::vector<std::string> steps_before(const CheckedQueue& night) {
  std::vector<std::string> steps;
  std::optional<std::uint32_t> printer;
  double in_vat_ml = 0;
  for (const PlannedPrint& print : night.plan.prints) {
    const QueueRow& row = night.entries[print.job].rows[print.row];
    const auto vat_ml = night.printers[print.printer].vat_ml;
    const bool full = printer != print.printer || print.resin_change;
    if (full) in_vat_ml = vat_ml.value_or(0);
    printer = print.printer;
    std::string step;
    if (print.resin_change)
      step = row.record.resin.empty() ? "Change the resin first."
                                      : fmt::format("Change the resin first: {}.", row.record.resin);
    if (vat_ml && !full && row.resin_ml > in_vat_ml + 1e-6) {
      if (!print.over_vat)
        step = fmt::format("Fill up the vat first: {} are left in it.", ml_text(std::max(0.0, in_vat_ml)));
      in_vat_ml = *vat_ml;
    }
    in_vat_ml -= row.resin_ml;
    steps.push_back(std::move(step));
  }
  return steps;
}

}  // namespace

NightClock::NightClock(const QueueTimes& times) : times_(times) {
  if (!times.start) return;
  if (const auto start = instant_of(*times.start, times.zone)) start_ = *start;
}

LocalTime NightClock::at(double after_s) const {
  const seconds after = whole_minutes(after_s);
  if (start_)
    if (const auto local = local_of(*start_ + after, times_.zone)) return *local;
  return times_.start.value_or(LocalTime()) + after;
}

std::string NightClock::text_of(LocalTime time) const {
  const local_days day = floor<days>(time);
  const std::string clock = clock_text(static_cast<ClockMin>(floor<minutes>(time - day).count()));
  const auto apart = times_.start ? (day - floor<days>(*times_.start)).count() : 1;
  if (apart == 0) return clock;
  if (std::abs(apart) < 7) return fmt::format("{} {}", days_of_week[weekday(day).c_encoding()], clock);
  const year_month_day date(day);
  return fmt::format("{} {} {}", static_cast<unsigned>(date.day()), months[static_cast<unsigned>(date.month()) - 1],
                     clock);
}

std::string NightClock::text(double after_s) const {
  return known() ? text_of(at(after_s)) : duration_text(after_s);
}

std::string NightClock::length_text(double duration_s) const {
  return duration_text(known() ? std::ceil(duration_s / 60 - 1e-6) * 60 : duration_s);
}

double NightClock::changed_s(double duration_s) const {
  if (!start_) return 0;
  const auto passed = at(duration_s) - at(0);
  return static_cast<double>((passed - (whole_minutes(duration_s))).count());
}

std::vector<std::uint32_t> chosen_rows(const CheckedQueue& night) {
  std::vector<std::uint32_t> rows(night.entries.size(), 0);
  for (const NotPlanned& left : night.plan.not_planned) rows[left.job] = left.row;
  for (auto print = night.plan.prints.rbegin(); print != night.plan.prints.rend(); ++print)
    rows[print->job] = print->row;
  return rows;
}

std::vector<NightRow> night_rows(const CheckedQueue& night) {
  std::vector<NightRow> rows;
  if (night.shard)
    for (const QueueEntry& entry : night.entries)
      for (const QueueRow& row : entry.rows) rows.push_back({entry, row});
  auto steps = steps_before(night);
  for (std::size_t i = 0; i < night.plan.prints.size(); ++i) {
    const PlannedPrint& print = night.plan.prints[i];
    const QueueEntry& entry = night.entries[print.job];
    rows.push_back({entry, entry.rows[print.row], &print, nullptr, std::move(steps[i])});
  }
  for (const NotPlanned& left : night.plan.not_planned) {
    const QueueEntry& entry = night.entries[left.job];
    rows.push_back({entry, entry.rows[left.row], nullptr, &left});
  }
  return rows;
}

std::string day_text(LocalTime time) {
  const local_days day = floor<days>(time);
  const year_month_day date(day);
  return fmt::format("{} {} {} {}", days_of_week[weekday(day).c_encoding()], static_cast<unsigned>(date.day()),
                     months[static_cast<unsigned>(date.month()) - 1], static_cast<int>(date.year()));
}

std::string file_name(const std::string& path) {
  return in_short(std::filesystem::path(path).filename().string(), 60);
}

std::string verdict_word(const QueueRow& row) {
  return row.error ? "BROKEN" : to_string(row.verdict);
}

bool sound_but_left(const NightRow& row) {
  return row.left && !row.row.error && row.row.verdict != Verdict::hold;
}

std::string job_name(const NightRow& row) {
  const QueueJob& job = row.entry.job;
  if (job.copies == 1) return job.file;
  if (row.print) return fmt::format("{} ({} of {})", job.file, row.print->copy, job.copies);
  if (row.left && row.left->copies < job.copies)
    return fmt::format("{} ({} of {} copies)", job.file, row.left->copies, job.copies);
  return fmt::format("{} ({} copies)", job.file, job.copies);
}

std::vector<std::string> notes_of(const CheckedQueue& night, const NightRow& row, const NightClock& clock) {
  if (row.row.error) return {to_paragraph(*row.row.error)};
  std::vector<std::string> notes = {row.first};
  if (row.print && row.print->late && night.plan.allowed_s && night.times.ready_by)
    notes.push_back(fmt::format("Late: it ends {} after {}.", clock.length_text(row.print->end_s - *night.plan.allowed_s),
                                clock.text_of(*night.times.ready_by)));
  if (row.print && row.print->over_vat)
    notes.push_back(fmt::format("It needs {}, and the vat holds {}: fill it up while it prints.",
                                ml_text(row.row.resin_ml),
                                ml_text(night.printers[row.print->printer].vat_ml.value_or(0))));
  if (row.left) notes.push_back(why_text(night, row));
  notes.push_back(row.row.first_reason);
  notes.push_back(time_note(row));
  std::erase(notes, std::string());
  return notes;
}

std::string printer_heading(const CheckedQueue& night, std::uint32_t printer, const NightClock& clock) {
  const std::string& label = night.printers[printer].label;
  const std::string name = label.empty() ? "In this order" : label;
  const auto mine = [printer](const PlannedPrint& print) { return print.printer == printer; };
  const auto begin = std::find_if(night.plan.prints.begin(), night.plan.prints.end(), mine);
  const auto end = std::find_if_not(begin, night.plan.prints.end(), mine);
  if (begin == end) return fmt::format("{}: nothing to print", name);
  const std::string when = clock.known()
                               ? fmt::format("{} to {}", clock.text(begin->start_s), clock.text((end - 1)->end_s))
                               : duration_text((end - 1)->end_s);
  return fmt::format("{}: {}, {}", name, count_text(static_cast<std::uint64_t>(end - begin), "print", "prints"), when);
}

std::string resin_of(const CheckedQueue& night, std::uint32_t printer) {
  double used_ml = 0, wanted_ml = 0;
  bool prints = false;
  for (const PlannedPrint& print : night.plan.prints)
    if (print.printer == printer) prints = true, used_ml += night.entries[print.job].rows[print.row].resin_ml;
  for (const NotPlanned& left : night.plan.not_planned)
    if (left.why == LeftOut::no_resin && left.printer == printer)
      wanted_ml += left.copies * night.entries[left.job].rows[left.row].resin_ml;
  if (!prints && wanted_ml == 0) return {};
  const QueuePrinter& stated = night.printers[printer];
  if (!stated.resin_ml) return fmt::format("{} are used.", ml_text(used_ml));
  const double left_ml = std::max(0.0, *stated.resin_ml - used_ml);
  std::string text =
      fmt::format("{} of {} are used, {} are left", ml_text(used_ml), ml_text(*stated.resin_ml), ml_text(left_ml));
  if (wanted_ml > left_ml) text += fmt::format("; {} are missing for what is left out", ml_text(wanted_ml - left_ml));
  if (stated.vat_ml && used_ml > *stated.vat_ml)
    text += fmt::format(". The vat holds {}: begin with a full one", ml_text(*stated.vat_ml));
  return text + ".";
}

}  // namespace hairline
