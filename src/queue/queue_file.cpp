// Queue files to values (formats/print-queue.md).
#include "queue_file.hpp"

#include <fmt/format.h>

#include <set>

#include "../base/fields.hpp"
#include "../base/numbers.hpp"
#include "hairline/files.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

constexpr JsonKind queue_kind{
    .format = "print-queue", .other = "Give a queue file, or the archives themselves.", .correct = "Correct {}."};
constexpr Range time_s{0, 3600, true, "s"}, resin_ml{0, 100'000, false, "ml"}, vat_ml{0, 100'000, true, "ml"},
    plate_mm{0, 10'000, true, "mm"}, changeover_min{0, 1440, false, "min"}, copies{1, most_copies};
constexpr std::uint64_t most_queue_bytes = 64u << 20;

std::string zone_of(const QueueTimes& times) {
  return times.zone.empty() ? local_zone() : times.zone;
}

std::string path_in(const fs::path& folder, const Fields& entry, const char* key) {
  return (folder / entry.text(key)).string();
}

QueuePrinter read_printer(const Fields& entry, const fs::path& folder) {
  QueuePrinter printer;
  printer.label = entry.text("label");
  if (printer.label.empty()) entry.wrong("label", "a text that is not empty");
  if (!entry.optional_text("record").empty()) printer.record = path_in(folder, entry, "record");
  printer.resin_ml = entry.optional_number("resin_ml", resin_ml);
  printer.vat_ml = entry.optional_number("vat_ml", vat_ml);
  if (entry.has("plate_mm")) {
    const auto sides = entry.numbers("plate_mm", plate_mm);
    if (sides.size() == 2)
      printer.plate_mm = {sides[0], sides[1]};
    else
      entry.wrong("plate_mm", fmt::format("holds {} numbers", sides.size()), "two numbers, x and y");
  }
  printer.changeover_min = entry.optional_number("changeover_min", changeover_min).value_or(0);
  return printer;
}

QueueJob read_job(const Fields& entry, const fs::path& folder) {
  QueueJob job;
  if (entry.text("file").empty()) entry.wrong("file", "a path");
  job.file = path_in(folder, entry, "file");
  job.printer = entry.optional_text("printer");
  job.exposure_s = entry.optional_number("exposure_s", time_s);
  job.copies = entry.optional_whole("copies", copies, ErrorKind::limit).value_or(1);
  return job;
}

std::optional<LocalTime> read_time(const Fields& top, const char* key) {
  if (!top.has(key)) return std::nullopt;
  const auto time = parse_local_time(top.text(key));
  if (time) return *time;
  top.wrong(key, time.error().expected);
  return std::nullopt;
}

QueueTimes read_times(const Fields& top) {
  QueueTimes times{.start = read_time(top, "start"), .ready_by = read_time(top, "ready_by"), .zone = ""};
  times.zone = top.optional_text("zone");
  if (!times.zone.empty() && !instant_of({}, times.zone))
    top.wrong("zone", "a name of the IANA time zone database, such as Europe/Berlin");
  if (!top.error() && !queue::in_order(times)) top.wrong("ready_by", "a time after start");
  return times;
}

void read_printers(const Fields& top, const fs::path& folder, Queue& queue) {
  std::set<std::string> labels;
  for (const Fields& entry : top.optional_list("printers")) {
    queue.printers.push_back(read_printer(entry, folder));
    if (!labels.insert(queue.printers.back().label).second) entry.wrong("label", "a label that no other printer has");
  }
}

void read_jobs(const Fields& top, const fs::path& folder, Queue& queue) {
  std::vector<std::string> labels;
  for (const QueuePrinter& printer : queue.printers) labels.push_back(printer.label);
  const std::set<std::string> known(labels.begin(), labels.end());
  for (const Fields& entry : top.optional_list("jobs")) {
    const QueueJob job = read_job(entry, folder);
    if (!job.printer.empty() && known.count(job.printer) == 0 && !top.error()) {
      const std::string near = nearest_name(job.printer, labels);
      entry.wrong("printer", "the label of a printer in this file" +
                                 (near.empty() ? std::string() : fmt::format(", perhaps \"{}\"", near)));
    }
    queue.jobs.push_back(job);
  }
}

Result<Queue> as_it_stands(std::string text, const fs::path& path) {
  const auto top = read_json(without_byte_order_mark(std::move(text)), path.string(), queue_kind);
  if (!top) return tl::unexpected(top.error());
  Queue queue;
  queue.times = read_times(*top);
  read_printers(*top, path.parent_path(), queue);
  read_jobs(*top, path.parent_path(), queue);
  if (top->error()) return tl::unexpected(*top->error());
  if (auto fits = queue::check_bounds(queue, path.string()); !fits) return tl::unexpected(fits.error());
  return queue;
}

}  // namespace

namespace queue {

bool in_order(const QueueTimes& times) {
  if (!times.start || !times.ready_by) return true;
  const std::string zone = zone_of(times);
  const auto start = instant_of(*times.start, zone), ready_by = instant_of(*times.ready_by, zone);
  return start && ready_by && *start < *ready_by;
}

Result<void> check_bounds(const Queue& queue, const std::string& file) {
  const auto beyond = [&](const std::string& found, std::uint32_t most) {
    return tl::unexpected(
        Error{ErrorKind::limit, file, found, fmt::format("at most {}", most), "Make several queues of it."});
  };
  std::uint64_t prints = 0;
  for (const QueueJob& job : queue.jobs) prints += job.copies;
  if (queue.printers.size() > most_printers)
    return beyond(fmt::format("it names {} printers", queue.printers.size()), most_printers);
  if (prints > most_prints) return beyond(fmt::format("it asks for {} prints", prints), most_prints);
  return {};
}

Queue completed(Queue queue) {
  if (queue.printers.empty()) queue.printers.emplace_back();
  queue.times.zone = zone_of(queue.times);
  return queue;
}

Result<Queue> read_file(const fs::path& path) {
  auto text = read_text(path, most_queue_bytes);
  if (!text) return tl::unexpected(text.error());
  return as_it_stands(std::move(*text), path);
}

}  // namespace queue

Result<Queue> read_queue(const fs::path& path) {
  auto read = queue::read_file(path);
  return read ? queue::completed(std::move(*read)) : read;
}

Result<Queue> parse_queue(const std::string& text, const fs::path& path) {
  auto read = as_it_stands(text, path);
  return read ? queue::completed(std::move(*read)) : read;
}

}  // namespace hairline
