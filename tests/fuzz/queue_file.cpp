// A queue file: what is read keeps to its own bounds, and one file twice is the same printers and twice the jobs.
#include <set>

#include "hairline/night.hpp"
#include "target.hpp"

using namespace hairline;

void hairline::fuzz::run(std::string_view input) {
  const std::filesystem::path file = folder() / "tonight.json";
  write_file(file, input);
  const auto queue = read_queue(file);
  if (!queue) return expect_told(queue.error());
  std::set<std::string> labels;
  for (const QueuePrinter& printer : queue->printers) labels.insert(printer.label);
  expect(!labels.empty() && labels.size() == queue->printers.size(), "at least one printer, each of its own label");
  for (const QueueJob& job : queue->jobs) {
    expect(job.copies >= 1 && job.copies <= 1000, "1 to 1000 copies");
    expect(job.printer.empty() || labels.count(job.printer) == 1, "a printer of the list");
    expect(std::filesystem::path(job.file).is_absolute(), "a job is found from the file's folder");
  }
  expect(instant_of({}, queue->times.zone).has_value(), "a zone that is known");
  const auto twice = find_queue({file.string(), file.string()});
  if (!twice) return expect(queue->jobs.empty(), "two files that say the same agree");
  expect(twice->printers == queue->printers && twice->jobs.size() == 2 * queue->jobs.size(), "its jobs twice");
}
