// A checked queue as JSON, and read from it; the fields are those of queue_fields.hpp.
#include "field_reader.hpp"
#include "field_writer.hpp"
#include "queue_fields.hpp"

namespace hairline {
namespace {

constexpr const char* a_queue = "Give what `hairline queue PATH --json DIR` writes as queue.json.";
constexpr JsonKind queue_kind{.format = "queue-report",
                              .damaged = "Check the queue again; that writes a new one.",
                              .other = a_queue,
                              .convert = a_queue};

// What is named by its number in a list has to be there.
bool rows_lead_somewhere(const CheckedQueue& night) {
  for (const QueueEntry& entry : night.entries) {
    if (entry.rows.empty() || entry.place > night.jobs_in_all) return false;
    for (const QueueRow& row : entry.rows)
      for (const std::uint32_t printer : row.printers)
        if (printer >= night.printers.size()) return false;
  }
  return true;
}

bool plan_leads_somewhere(const CheckedQueue& night) {
  const auto row_is_there = [&night](const auto& one) {
    return one.job < night.entries.size() && one.row < night.entries[one.job].rows.size();
  };
  const auto printed = [&](const PlannedPrint& one) {
    return row_is_there(one) && one.printer < night.printers.size() && !night.entries[one.job].rows[one.row].error &&
           one.start_s <= one.end_s;
  };
  const auto left = [&](const NotPlanned& one) {
    return row_is_there(one) && one.printer.value_or(0) < night.printers.size();
  };
  return std::all_of(night.plan.prints.begin(), night.plan.prints.end(), printed) &&
         std::all_of(night.plan.not_planned.begin(), night.plan.not_planned.end(), left);
}

// A queue as it is written, with its sums.
struct Summed {
  const CheckedQueue& night;
};
void each_field(auto& f, const Summed& queue) {
  each_field(f, queue.night);
  f("totals", add_up(queue.night));
}

void check(const Fields& top, const CheckedQueue& night) {
  if (!instant_of({}, night.times.zone)) top.wrong("zone", "a name of the IANA time zone database");
  if (night.printers.empty()) top.wrong("printers", "holds none", "one printer at least");
  if (night.shard && night.shard->part > night.shard->of)
    top.wrong("shard", "is beyond the last share", "part up to of");
  if (!rows_lead_somewhere(night))
    top.wrong("jobs", "have a row without a printer of the list, no row, or a place beyond jobs_in_all",
              "rows that lead to printers");
  else if (!plan_leads_somewhere(night))
    top.wrong("plan", "names a job, a row or a printer that is not there", "numbers of entries of this file, from 0");
}

}  // namespace

// Times of a long queue and resin of many jobs need more than the six digits of a measure.
std::string to_json(const CheckedQueue& night) {
  return written(queue_kind, Summed{night}, twelve_digits);
}

Result<CheckedQueue> parse_checked_queue(const std::string& text, const std::string& file) {
  return read_fields<CheckedQueue>(text, file, queue_kind, check);
}

}  // namespace hairline
