#include "choose_record.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "hairline/files.hpp"

namespace hairline::cli {
namespace {

namespace fs = std::filesystem;

bool exists(const std::string& path) {
  std::error_code error;
  return fs::exists(path, error);
}

bool is_folder(const std::string& path) {
  std::error_code error;
  return fs::is_directory(path, error);
}

std::vector<std::string> json_files(const std::string& folder) {
  std::vector<std::string> files;
  std::error_code error;
  for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error))
    if (entry->path().extension() == ".json") files.push_back(entry->path().string());
  std::sort(files.begin(), files.end(), natural_less);
  return files;
}

Records read_folder(const std::string& folder) {
  Records found;
  found.folder = folder;
  for (const std::string& file : json_files(folder)) {
    auto record = read_record(file);
    if (record)
      found.records.push_back(std::move(*record));
    else if (record.error().kind != ErrorKind::version)  // another kind of JSON file is none of our business
      found.broken.push_back(to_paragraph(record.error()));
  }
  return found;
}

std::string listed(const Records& records) {
  std::string text;
  for (const ResinRecord& record : records.records)
    text += fmt::format("{}{} (resin \"{}\", printer \"{}\")", text.empty() ? "" : ", ", record.file,
                        record.resin.label, record.printer.label);
  for (const std::string& broken : records.broken) text += fmt::format("{}{}", text.empty() ? "" : ", ", broken);
  return text.empty() ? "none" : text;
}

Error no_choice(const std::string& file, std::string found, std::string expected, std::string advice) {
  return {.kind = ErrorKind::not_found,
          .file = file,
          .layer = {},
          .found = std::move(found),
          .expected = std::move(expected),
          .advice = std::move(advice)};
}

Result<Records> by_label(const RecordChoice& choice) {
  Records all = read_folder(choice.records);
  Records found;
  found.folder = choice.records;
  for (const ResinRecord& record : all.records)
    if (record.resin.label == choice.record) found.records.push_back(record);
  if (!found.records.empty()) return found;
  return tl::unexpected(no_choice(
      choice.record, fmt::format("there is no such file, and no record with this resin label in {}", choice.records),
      "one of: " + listed(all), "Name the file of the record."));
}

}  // namespace

Result<Records> read_records(const RecordChoice& choice) {
  if (choice.record.empty() && choice.records.empty())
    return tl::unexpected(
        Error{.kind = ErrorKind::usage,
              .file = {},
              .layer = {},
              .found = "no resin record was named",
              .expected = "--record FILE, or --records DIR with a folder of them",
              .advice = "Without a record, `hairline measure` still finds islands, base and thin places."});
  const std::string& folder = is_folder(choice.record) ? choice.record : choice.records;
  if (choice.record.empty() || is_folder(choice.record)) {
    if (!is_folder(folder))
      return tl::unexpected(
          no_choice(folder, "there is no such folder", "a folder of resin records", "Check --records."));
    return read_folder(folder);
  }
  if (!exists(choice.record) && !choice.records.empty()) return by_label(choice);
  auto record = read_record(choice.record);
  if (!record) return tl::unexpected(record.error());
  if (auto fit = fitted_model(*record); !fit) return tl::unexpected(fit.error());
  Records one;
  one.records.push_back(std::move(*record));
  return one;
}

Result<const ResinRecord*> choose_record(const Records& records, const JobSettings& job, const std::string& job_file) {
  if (records.folder.empty()) return &records.records.front();
  std::vector<const ResinRecord*> matching;
  for (const ResinRecord& record : records.records) {
    const bool resin = record.resin.label == job.resin_label;
    const bool printer =
        job.printer_label.empty() || record.printer.label.empty() || record.printer.label == job.printer_label;
    if (resin && printer) matching.push_back(&record);
  }
  // Among several of one resin, the one that names this printer.
  if (matching.size() > 1 && !job.printer_label.empty())
    std::erase_if(matching, [&job](const ResinRecord* record) { return record->printer.label != job.printer_label; });
  if (matching.size() == 1) return matching.front();
  return tl::unexpected(no_choice(
      job_file,
      fmt::format("{} in {} for resin \"{}\", printer \"{}\"", matching.empty() ? "no record" : "several records",
                  records.folder, job.resin_label, job.printer_label),
      "exactly one of: " + listed(records), "Name it with --record."));
}

}  // namespace hairline::cli
