// Paths to one queue.
#include <fmt/format.h>

#include <algorithm>

#include "../base/ascii.hpp"
#include "queue_file.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

Error otherwise(const std::string& file, const std::string& what) {
  return {ErrorKind::mismatch, file, fmt::format("it states {} otherwise than a file before it", what),
          "queue files that agree", "Make them agree, or check them one after the other."};
}

// Sets what is not set yet; false: it is set to something else.
template <class Value>
bool agrees(Value& value, const Value& other, const Value& not_set) {
  if (value == not_set) value = other;
  return other == not_set || value == other;
}

Result<void> add_times(QueueTimes& times, const QueueTimes& other, const std::string& file) {
  if (!agrees(times.start, other.start, {})) return tl::unexpected(otherwise(file, "the start"));
  if (!agrees(times.ready_by, other.ready_by, {})) return tl::unexpected(otherwise(file, "\"ready_by\""));
  if (!agrees(times.zone, other.zone, {})) return tl::unexpected(otherwise(file, "the time zone"));
  if (!queue::in_order(times))
    return tl::unexpected(Error{ErrorKind::mismatch, file,
                                "with the files before it, \"ready_by\" is not after the start",
                                "queue files of one night", "Make them agree, or check them one after the other."});
  return {};
}

Result<void> add_file(Queue& queue, const std::string& file) {
  auto other = queue::read_file(file);
  if (!other) return tl::unexpected(other.error());
  if (auto added = add_times(queue.times, other->times, file); !added) return added;
  for (QueuePrinter& printer : other->printers) {
    const auto same = std::find_if(queue.printers.begin(), queue.printers.end(),
                                   [&](const QueuePrinter& known) { return known.label == printer.label; });
    if (same == queue.printers.end())
      queue.printers.push_back(std::move(printer));
    else if (*same != printer)
      return tl::unexpected(otherwise(file, fmt::format("the printer \"{}\"", printer.label)));
  }
  std::move(other->jobs.begin(), other->jobs.end(), std::back_inserter(queue.jobs));
  return {};
}

// A path without a job in it is one only if there is none in the others either.
Result<void> add_path(Queue& queue, const std::string& path) {
  std::error_code error;
  if (small_letters(fs::path(path).extension().string()) == ".json" && !fs::is_directory(path, error))
    return add_file(queue, path);
  auto files = find_jobs({path});
  if (!files && files.error().kind != ErrorKind::invalid) return tl::unexpected(files.error());
  if (files)
    for (std::string& file : *files) queue.jobs.push_back({.file = std::move(file)});
  return {};
}

}  // namespace

Result<Queue> find_queue(const std::vector<std::string>& paths) {
  Queue queue;
  queue.times.zone.clear();
  for (const std::string& path : paths)
    if (auto added = add_path(queue, path); !added) return tl::unexpected(added.error());
  if (auto fits = queue::check_bounds(queue, paths.size() == 1 ? paths.front() : std::string()); !fits)
    return tl::unexpected(fits.error());
  if (!queue.jobs.empty()) return queue::completed(std::move(queue));
  return tl::unexpected(Error{
      ErrorKind::invalid, paths.empty() ? std::string() : paths.front(), "there is no job in it",
      "archives (.zip, .3mf, or folders of masks), a list of them, or a queue file with jobs", "Check the path."});
}

}  // namespace hairline
