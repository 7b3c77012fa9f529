/// A night's queue as values: what is asked (jobs, printers, times), what the check of each job said, and the plan of
/// the night. Reading and checking it is in hairline/night.hpp; here is also what is made of it (document, JSON, CSV,
/// page), which sees nothing but these values.
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hairline/document.hpp"
#include "hairline/local_time.hpp"
#include "hairline/report.hpp"

namespace hairline {

/// Bounds of what is read: printers and prints of a queue, copies of a job, shares.
inline constexpr std::uint32_t most_printers = 1000, most_prints = 100'000, most_copies = 1000, most_shards = 100'000;

struct QueuePrinter {
  std::string label;   ///< empty: the one printer of a queue that names none
  std::string record;  ///< a record's file, or a folder in which each job's own is looked up; empty: as for all jobs
  std::optional<double> resin_ml = {};                 ///< in vat and bottle together; unset: not known, so it reaches
  std::optional<double> vat_ml = {};                   ///< what the vat holds
  std::optional<std::array<double, 2>> plate_mm = {};  ///< x, y
  double changeover_min = 0;                           ///< from the end of one print to the start of the next
  bool operator==(const QueuePrinter&) const = default;
};

struct QueueJob {
  std::string file;
  std::string printer = {};               ///< a label; empty: any that fits
  std::optional<double> exposure_s = {};  ///< unset: the job's own
  std::uint32_t copies = 1;               ///< printed one after the other
  bool operator==(const QueueJob&) const = default;
};

/// Local times in `zone` (an IANA name).
struct QueueTimes {
  std::optional<LocalTime> start, ready_by;  ///< ready_by is after start where both are set
  std::string zone = "UTC";
  bool operator==(const QueueTimes&) const = default;
};

/// What is asked for. `printers` is never empty: a queue that names none has one without label and limits.
struct Queue {
  QueueTimes times;
  std::vector<QueuePrinter> printers;
  std::vector<QueueJob> jobs;
  bool operator==(const Queue&) const = default;
};

/// One job as checked for one printer, or for several with the same record; or why it was not.
struct QueueRow {
  std::vector<std::uint32_t> printers;  ///< indices into Queue::printers, rising
  std::optional<Error> error;           ///< set: not checked, and the fields below mean nothing
  std::string title;
  Verdict verdict = Verdict::clear;
  std::string first_reason;  ///< the gravest; empty: none
  double duration_s = 0, resin_ml = 0, resin_g = 0;
  std::optional<double> resin_cost;          ///< unset: no price known
  double exposure_s = 0;                     ///< judged
  std::optional<double> suggested_s;         ///< set only where another time is to be set, and nothing before it
  std::optional<Verdict> suggested_verdict;  ///< of a check at that time; set where `verdict` is hold
  std::array<double, 2> size_mm{0, 0};       ///< of the masks, x and y
  Pitch pitch;
  double layer_height_mm = 0;
  std::uint32_t layers = 0;
  struct Record {
    std::string file, resin, printer;
    std::optional<int> age_days;
    std::vector<std::string> doubts;  ///< weak, stale, out of its range
    std::optional<double> pitch_mm;   ///< of the printer it was made on
    double layer_height_mm = 0;       ///< of the coupons
  } record;
  std::string report, page;  ///< names of the files beside queue.json that hold all of it; empty: none was written
};

/// A job and its checks: one row, or one for each record it could be held against. Never empty.
struct QueueEntry {
  std::uint32_t place = 1;  ///< in the whole queue, from 1
  QueueJob job;
  std::vector<QueueRow> rows = {};
};

/// One print of the night. Times count in seconds from the start of the night.
struct PlannedPrint {
  std::uint32_t job = 0, copy = 1;  ///< index into the entries, from 0; 1 .. copies
  std::uint32_t row = 0;            ///< of that entry
  std::uint32_t printer = 0;
  double start_s = 0, end_s = 0;
  bool late = false;                         ///< ends after the time at which all should be ready
  std::optional<double> resin_left_ml = {};  ///< on that printer after it; unset: not known
  bool over_vat = false;                     ///< needs more than the vat holds: it has to be filled up meanwhile
  bool resin_change = false;                 ///< another resin than the print before it on that printer
};

/// Why prints are not in the plan. The order is that in which it is looked for.
enum class LeftOut : std::uint8_t { not_checked, no_such_printer, other_pixels, too_large, hold, no_resin };
struct NotPlanned {
  std::uint32_t job = 0, row = 0;
  std::uint32_t copies = 1;
  LeftOut why = LeftOut::hold;
  std::optional<std::uint32_t> printer = {};  ///< where it was nearest to being printed
  double needed = 0, available = 0;           ///< ml (no_resin), mm of the side that does not fit, pixel pitch in mm
};

struct NightPlan {
  std::vector<PlannedPrint> prints;       ///< by printer, then in order
  std::vector<NotPlanned> not_planned;    ///< in the order of the jobs
  double duration_s = 0;                  ///< until the last print ends
  std::optional<double> allowed_s;        ///< from start to ready_by, real time; needs both
  std::optional<LocalTime> latest_start;  ///< with which nothing would be late; needs ready_by
};

/// Sums over the prints of the plan, and counts over the jobs (by the row that is planned, else that for which it is
/// left out, else the first).
struct QueueTotals {
  std::uint32_t checked = 0, not_checked = 0, clear = 0, caution = 0, hold = 0;
  double resin_ml = 0, resin_g = 0;
  std::optional<double> resin_cost;  ///< of the prints whose price is known; unset: of none
  std::uint32_t without_price = 0;   ///< planned prints whose price is not known
};

/// A share of a queue for one of several machines: 1 <= part <= of. Which job falls into which share depends on what it
/// holds alone.
struct Shard {
  std::uint32_t part = 1, of = 1;
};

/// A queue that was checked and planned, or a share of one: that is checked only, and has no plan.
struct CheckedQueue {
  QueueTimes times;
  std::vector<QueuePrinter> printers;
  std::vector<QueueEntry> entries = {};  ///< by place
  std::uint32_t jobs_in_all = 0;         ///< of the whole queue
  std::optional<Shard> shard = {};       ///< unset: it is whole
  NightPlan plan = {};
};
QueueTotals add_up(const CheckedQueue& night);

/// What a queue needs of a report, with the digits of the report's file: the same for a report and for what is read of
/// its file. Which printers it is for, the verdict at another time, the record's pitch and the names of files are not
/// in it.
QueueRow queue_row(const Report& report);

/// One table for a person, and what follows for the night.
Document say_queue(const CheckedQueue& night);

/// What is said of one job: its verdict, when and where it prints, what there is to know of it.
struct SaidJob {
  std::uint32_t row = 0;  ///< of its entry: the one that is planned, else that for which it is left out
  Document said;
  std::optional<double> set_s;  ///< another time with which it may start, or loses less
  std::string set_text;         ///< "2.30 s"; empty without such a time
};
/// The same in parts, for who has the jobs in the order of the queue.
struct SaidNight {
  Document first;                  ///< what to know first
  std::vector<SaidJob> jobs = {};  ///< one for each entry
  Document records;                ///< those used: age, doubts
};
/// Of a whole queue, not of a share.
SaidNight say_by_job(const CheckedQueue& night);
/// JSON as formats/queue-report.md; same value, same bytes.
std::string to_json(const CheckedQueue& night);
/// What such a text holds. Written again it gives the same bytes. Fails as parse_report does.
Result<CheckedQueue> parse_checked_queue(const std::string& text, const std::string& file);
/// CSV (RFC 4180): a header line, one row per job (formats/queue-report.md, CSV).
std::string to_csv(const CheckedQueue& night);
/// One page for the night, that links each job's own (docs/page.md).
std::string show_html(const CheckedQueue& night);
/// A part of that page, HTML without style: what each printer prints along the clock, with a legend.
std::string show_timelines(const CheckedQueue& night);

}  // namespace hairline
