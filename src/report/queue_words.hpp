// What is said of a night, and what its rows are: shared by its document, its page and its CSV. Internal to src/report.
#pragma once
#include <string>
#include <vector>

#include "hairline/queue.hpp"

namespace hairline {

// Times of the night as the clock on the wall shows them; durations where the start is not known. The day is named
// where it is not the start's.
class NightClock {
 public:
  explicit NightClock(const QueueTimes& times);
  bool known() const { return times_.start.has_value(); }
  LocalTime at(double after_s) const;                // to the full minute that is not before it; needs a start
  std::string text(double after_s) const;            // "22:00", "Fri 07:30", "4 Dec 07:30"; "3 h 12 min"
  std::string text_of(LocalTime time) const;         // the same of a time; without a start the day is always named
  std::string length_text(double duration_s) const;  // as long as the clock says, that is to the full minute
  double changed_s(double duration_s) const;         // by how much clocks are put forward (back: negative) meanwhile

 private:
  const QueueTimes& times_;
  std::optional<Instant> start_;
};

// A print, or a job that is not printed: of a whole queue first those of the plan in its order, then what is left out.
struct NightRow {
  const QueueEntry& entry;
  const QueueRow& row;
  const PlannedPrint* print = nullptr;
  const NotPlanned* left = nullptr;
  std::string first = {};  // what is to be done before it
};
std::vector<NightRow> night_rows(const CheckedQueue& night);

// For each entry, the row that is planned, else that for which it is left out, else the first.
std::vector<std::uint32_t> chosen_rows(const CheckedQueue& night);

std::string day_text(LocalTime time);            // "Thu 26 Nov 2026"
std::string file_name(const std::string& path);  // the last part of a path, in short
std::string verdict_word(const QueueRow& row);   // "clear", "BROKEN"
bool sound_but_left(const NightRow& row);        // it may start as it is, but is left out
std::string job_name(const NightRow& row);       // "night/gallery.zip (2 of 3)"
// What there is to know of it: what to do before, lateness, resin, reason, time to set, why it is left out.
std::vector<std::string> notes_of(const CheckedQueue& night, const NightRow& row, const NightClock& clock);
// "quay bench: 3 prints, 22:00 to Fri 05:12"
std::string printer_heading(const CheckedQueue& night, std::uint32_t printer, const NightClock& clock);
// "180 ml of 200 ml are used, 20.0 ml are left."; empty where it prints nothing.
std::string resin_of(const CheckedQueue& night, std::uint32_t printer);
// A heading, and an item for each record that was used: its resin, its age, what is doubtful about it.
Document records_of(const CheckedQueue& night);

}  // namespace hairline
