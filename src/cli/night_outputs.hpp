// Where a checked queue goes: a report and a page for each job, and the table of all as text, JSON, CSV and page.
#pragma once
#include <string>
#include <vector>

#include "commands.hpp"
#include "hairline/night.hpp"
#include "options.hpp"

namespace hairline::cli {

// Folders for what belongs to jobs and to the night, and a file for its table; empty: none.
struct NightOutputs {
  std::string json_folder, csv, html_folder;
};
void add_night_outputs(CLI::App& app, NightOutputs& outputs);

// The files of a queue's jobs. Their names are those of the jobs, with numbers where two are alike, and never one of
// the night's own; the same for every share of a queue.
class JobFiles {
 public:
  JobFiles(const NightOutputs& outputs, const Queue& queue);
  std::vector<std::string> paths() const;
  bool wanted() const { return !outputs_.json_folder.empty() || !outputs_.html_folder.empty(); }
  Result<void> write(const CheckedRow& row) const;
  // Tells the rows the names of their files.
  void name(std::vector<QueueEntry>& entries) const;

 private:
  std::string name_of(std::size_t job, std::uint32_t row) const;
  const NightOutputs& outputs_;
  std::vector<std::string> names_;        // of each job, without extension
  std::vector<std::uint32_t> most_rows_;  // of each job: one for each record
};

// Makes the folders, and tries the night's own files and `more`. Fails as make_folder and try_outputs do.
Result<void> settle_night(const NightOutputs& outputs, const std::optional<Shard>& shard, std::vector<std::string> more,
                          const std::vector<std::string>& inputs);

// Writes all but the jobs' own files, prints the table, and gives the exit status.
int tell_night(const CheckedQueue& night, const NightOutputs& outputs, const Judging& judging, const Context& context);

}  // namespace hairline::cli
