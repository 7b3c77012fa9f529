// What came out of a print: made from a report, answered by a person, kept in a file.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "../base/ascii.hpp"
#include "../base/file_lock.hpp"
#include "../base/json_files.hpp"
#include "field_reader.hpp"
#include "field_writer.hpp"
#include "hairline/files.hpp"
#include "outcome_fields.hpp"
#include "wording.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

constexpr JsonKind outcome_kind{.format = "print-outcome",
                                .other = "Give what was kept of a print (formats/print-outcome.md).",
                                .correct = "Correct {}."};
constexpr std::uint64_t most_outcome_bytes = 64u << 20;

Prediction prediction_of(const Detail& detail) {
  Prediction one;
  one.id = detail.id;
  one.fate = detail.fate;
  one.state = detail.state;
  one.chance = detail.probability;
  one.critical_exposure_s = detail.critical_exposure_s;
  if (detail.critical_exposure_s && detail.log_sd > 0) one.log_sd = detail.log_sd;
  one.width_mm = detail.width_mm;
  one.from_layer = detail.from_layer;
  one.to_layer = detail.to_layer;
  one.box = detail.box;
  one.name = loss_name(detail);
  return one;
}

// Letters, digits and a few signs of the job's name, so that the file's name is one on any system.
std::string plain_stem(const std::string& job) {
  std::string stem;
  for (const char c : fs::path(job).stem().string().substr(0, 60)) {
    const bool kept = is_letter(c) || is_digit(c) || c == '_';
    if (kept || (!stem.empty() && stem.back() != '-')) stem += kept ? c : '-';
  }
  while (!stem.empty() && stem.back() == '-') stem.pop_back();
  return stem.empty() ? "job" : stem;
}

fs::path free_path(const Outcome& outcome, const fs::path& folder) {
  std::string time = to_string(outcome.printed_on);
  std::erase(time, ':');
  const std::string name = fmt::format("{}-{}", time, plain_stem(outcome.job.file));
  fs::path path = folder / (name + ".json");
  std::error_code error;
  for (int number = 2; fs::exists(path, error); ++number) path = folder / fmt::format("{}-{}.json", name, number);
  return path;
}

}  // namespace

Outcome outcome_of(const Report& report, const std::string& content, LocalTime printed_on) {
  Outcome outcome;
  outcome.job = {report.job.file, report.job.title, content};
  outcome.printed_on = printed_on;
  outcome.exposure_s = report.exposure_s;
  if (report.record)
    outcome.record = {report.record->file, report.record->resin, report.record->printer, report.record->model.blur_mm};
  outcome.verdict = report.verdict;
  for (const Detail& detail : report.details)
    if (detail.lost) outcome.predictions.push_back(prediction_of(detail));
  return outcome;
}

void answer(Outcome& outcome, const std::vector<std::uint32_t>& lost, bool others_looked_at) {
  const std::set<std::uint32_t> ids(lost.begin(), lost.end());
  outcome.came_off = false;
  outcome.fine = outcome.others.empty();
  for (Prediction& one : outcome.predictions) {
    const bool seen = ids.count(one.id) > 0;
    one.seen = seen || others_looked_at ? std::optional(seen) : std::nullopt;
    if (seen) outcome.fine = false;
  }
}

void answer_came_off(Outcome& outcome) {
  outcome.came_off = true;
  outcome.fine = false;
  for (Prediction& one : outcome.predictions) one.seen.reset();
}

std::string to_json(const Outcome& outcome) {
  return written(outcome_kind, outcome);
}

Result<Outcome> parse_outcome(const std::string& text, const std::string& file) {
  return read_fields<Outcome>(text, file, outcome_kind, [](const Fields& top, const Outcome& outcome) {
    const bool lost = std::any_of(outcome.predictions.begin(), outcome.predictions.end(),
                                  [](const Prediction& one) { return one.seen.value_or(false); });
    if (outcome.fine && (lost || outcome.came_off || !outcome.others.empty()))
      top.wrong("fine", "false where something was lost or the print came off");
  });
}

Result<std::vector<FoundOutcome>> find_outcomes(const fs::path& folder) {
  const auto files = json_files_in(folder, "a folder of outcomes");
  if (!files && files.error().kind != ErrorKind::not_found) return tl::unexpected(files.error());
  std::vector<FoundOutcome> found;
  for (const fs::path& file : files.value_or(std::vector<fs::path>())) {
    FoundOutcome& one = found.emplace_back();
    one.file = file.string();
    const auto text = read_text(one.file, most_outcome_bytes);
    auto read = text ? parse_outcome(*text, one.file) : tl::unexpected(text.error());
    read ? void(one.outcome = std::move(*read)) : void(one.problem = read.error());
  }
  return found;
}

Result<fs::path> add_outcome(const Outcome& outcome, const fs::path& folder) {
  if (auto made = make_folder(folder); !made) return tl::unexpected(made.error());
  FileLock lock;
  if (auto taken = lock.take(folder / "outcomes"); !taken) return tl::unexpected(taken.error());
  const fs::path path = free_path(outcome, folder);
  if (auto written = write_text(path, to_json(outcome)); !written) return tl::unexpected(written.error());
  return path;
}

}  // namespace hairline
