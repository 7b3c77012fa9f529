// A folder of records: what is in it, and which one a job means.
#include <fmt/format.h>

#include <algorithm>

#include "../base/ascii.hpp"
#include "../base/json_files.hpp"
#include "hairline/files.hpp"
#include "hairline/record_edit.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

std::string folded(const std::string& label) {
  return small_letters(trimmed(label));
}

std::string list_of(const std::vector<FoundRecord>& found) {
  std::string text;
  for (const auto& record : found) {
    if (!text.empty()) text += "; ";
    const std::string name = fs::path(record.file).filename().string();
    text += record.problem ? fmt::format("{} (cannot be used: {})", name, record.problem->found)
                           : fmt::format("{} (resin \"{}\", printer \"{}\"{})", name, record.record.resin.label,
                                         record.record.printer.label, record.record.fit ? "" : ", without a fit");
  }
  return text;
}

Error unmatched(ErrorKind kind, const fs::path& folder, std::string found, const std::vector<FoundRecord>& records,
                std::string advice) {
  return {kind, folder.string(), std::move(found), "one record out of: " + list_of(records), std::move(advice)};
}

Error nothing_in(const fs::path& folder) {
  return {ErrorKind::not_found, folder.string(), "the folder holds no resin record",
          "at least one .json file of the format \"resin-record\"",
          "Make one with `hairline record new`, or give the path of one with --record."};
}

std::string advice_on(const std::string& asked, const std::vector<FoundRecord>& found) {
  std::vector<std::string> names;
  for (const auto& record : found) {
    names.push_back(record.record.resin.label);
    names.push_back(fs::path(record.file).stem().string());
  }
  const std::string nearest = nearest_name(asked, names);
  return nearest.empty() ? "Check the name." : "Did you mean \"" + nearest + "\"?";
}

// 2: the same name; 1: one side leaves its name out; 0: another name.
int match(const std::string& asked, const std::string& label) {
  if (folded(asked).empty() || folded(label).empty()) return 1;
  return folded(asked) == folded(label) ? 2 : 0;
}

bool of_one_resin_and_printer(const ResinRecord& a, const ResinRecord& b) {
  return match(a.resin.label, b.resin.label) == 2 && folded(a.printer.label) == folded(b.printer.label);
}

// "grey-1.json (2026-09-01), grey-2.json (no date) and 4 more"
std::string dated_list(const std::vector<const FoundRecord*>& records) {
  constexpr std::size_t most = 3;
  std::string text;
  for (std::size_t i = 0; i < std::min(records.size(), most); ++i) {
    const std::string date = made_on(records[i]->record);
    text += fmt::format("{}{} ({})", i == 0 ? "" : ", ", fs::path(records[i]->file).filename().string(),
                        date.empty() ? "no date" : date);
  }
  return records.size() > most ? fmt::format("{} and {} more", text, records.size() - most) : text;
}

// Of at least two records the newest with a fit, with its remarks; none where they are not of one resin and printer, or
// two are equally new.
std::optional<ResinRecord> newest(std::vector<const FoundRecord*> records) {
  const ResinRecord& first = records.front()->record;
  for (const auto* one : records)
    if (!of_one_resin_and_printer(first, one->record)) return {};
  const auto newness = [](const FoundRecord* one) {
    return std::pair(one->record.fit.has_value(), made_on(one->record));
  };
  std::stable_sort(records.begin(), records.end(),
                   [&](const auto* a, const auto* b) { return newness(a) > newness(b); });
  if (newness(records[0]) == newness(records[1])) return {};
  ResinRecord taken = records.front()->record;
  std::vector<const FoundRecord*> older, without_fit;
  for (std::size_t i = 1; i < records.size(); ++i)
    (made_on(records[i]->record) >= made_on(taken) ? without_fit : older).push_back(records[i]);
  if (!older.empty())
    taken.remarks.push_back(
        fmt::format("Of the {} records of this resin and printer this is the newest ({}); older: {}.", older.size() + 1,
                    made_on(taken), dated_list(older)));
  if (!without_fit.empty())
    taken.remarks.push_back(fmt::format("Left aside, because without a fit: {}.", dated_list(without_fit)));
  return taken;
}

Result<ResinRecord> the_best(const std::vector<FoundRecord>& found, const fs::path& folder, const std::string& resin,
                             const std::string& printer, const std::string& what) {
  std::vector<const FoundRecord*> best;
  int best_rank = 0;
  for (const auto& record : found) {
    const int by_resin = match(resin, record.record.resin.label),
              by_printer = match(printer, record.record.printer.label);
    if (record.problem || by_resin == 0 || by_printer == 0) continue;
    const int rank = 3 * by_resin + by_printer;
    if (rank > best_rank) best.clear();
    best_rank = std::max(best_rank, rank);
    if (rank == best_rank) best.push_back(&record);
  }
  if (best.empty()) {
    return tl::unexpected(unmatched(ErrorKind::not_found, folder, "no record for " + what, found,
                                    "Name one with --record, or make one with `hairline record new`."));
  }
  if (best.size() == 1) return best.front()->record;
  auto taken = newest(best);
  if (!taken) {
    return tl::unexpected(unmatched(ErrorKind::mismatch, folder, fmt::format("{} records for {}", best.size(), what),
                                    found, "Name the file with --record."));
  }
  return *std::move(taken);
}

}  // namespace

Result<std::vector<FoundRecord>> find_records(const fs::path& folder) {
  const auto paths = json_files_in(folder, "a folder of resin records");
  if (!paths) return tl::unexpected(paths.error());
  std::vector<FoundRecord> found;
  for (const auto& path : *paths) {
    auto record = read_record(path);
    FoundRecord one;
    one.file = path.string();
    if (record) {
      one.record = *std::move(record);
    } else {
      const auto text = read_text(path);
      // A manifest or a report in the same folder is no broken record.
      if (text && text->find("resin-record") == std::string::npos) continue;
      one.problem = record.error();
    }
    found.push_back(std::move(one));
  }
  return found;
}

Result<ResinRecord> pick_record(const std::string& asked, const fs::path& folder, const std::vector<FoundRecord>& found,
                                const std::string& resin_label, const std::string& printer_label) {
  if (found.empty()) return tl::unexpected(nothing_in(folder));
  if (asked.empty()) {
    return the_best(found, folder, resin_label, printer_label,
                    fmt::format("resin \"{}\" on printer \"{}\"", resin_label, printer_label));
  }
  std::vector<FoundRecord> named;
  for (const auto& record : found) {
    const bool by_name = folded(fs::path(record.file).stem().string()) == folded(asked);
    if (by_name || (!record.problem && folded(record.record.resin.label) == folded(asked))) named.push_back(record);
  }
  if (named.size() == 1 && !named.front().problem) return named.front().record;
  if (named.size() == 1) return tl::unexpected(*named.front().problem);
  if (named.empty()) {
    return tl::unexpected(unmatched(ErrorKind::not_found, folder, "no file and no record called \"" + asked + "\"",
                                    found, advice_on(asked, found)));
  }
  return the_best(named, folder, "", printer_label, "\"" + asked + "\"");
}

}  // namespace hairline
