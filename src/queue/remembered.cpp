#include "remembered.hpp"

#include <nlohmann/json.hpp>

#include "../base/error_words.hpp"
#include "../base/json.hpp"
#include "hairline/files.hpp"

namespace hairline::queue {
namespace {

using Json = nlohmann::ordered_json;

// An error is kept as a list of its parts, which no report begins with.
std::string text_of(const Error& error) {
  return json_text(Json::array({static_cast<int>(error.kind), error.layer ? Json(*error.layer) : Json(), error.found,
                                error.expected, error.advice}));
}

std::optional<Error> error_of(const std::string& text, const std::string& file) {
  const Json parts = json_in(text);
  if (!parts.is_array() || parts.size() != 5 || !parts[0].is_number_unsigned()) return {};
  if (parts[0] >= words_for(ErrorKind{}).size()) return {};
  if (!parts[2].is_string() || !parts[3].is_string() || !parts[4].is_string()) return {};
  Error error;
  error.kind = static_cast<ErrorKind>(parts[0].get<std::size_t>());
  error.file = file;
  if (parts[1].is_number_unsigned()) error.layer = parts[1].get<std::uint32_t>();
  error.found = parts[2].get<std::string>();
  error.expected = parts[3].get<std::string>();
  error.advice = parts[4].get<std::string>();
  return error;
}

// Nothing in it but the job's content is to blame, and where the job lies does not stand in it.
bool lies_in_job(const Error& error, const std::string& file) {
  const bool content =
      error.kind == ErrorKind::broken || error.kind == ErrorKind::invalid || error.kind == ErrorKind::mismatch;
  const std::string said = error.found + error.expected + error.advice + error.command;
  return content && error.file == file && error.command.empty() && said.find(file) == std::string::npos &&
         valid_utf8(said) == said;
}

std::string key_of(Part part, const std::string& key) {
  return part == Part::row ? "row of " + key : key;
}

}  // namespace

Report row_part(const Report& report) {
  Report part;
  part.job = report.job;
  part.exposure_s = report.exposure_s;
  part.verdict = report.verdict;
  part.reasons = report.reasons;
  part.record = report.record;
  if (part.record) part.record->readings.clear();
  if (!report.suggestion) return part;
  Suggestion& suggestion = part.suggestion.emplace();
  suggestion.action = report.suggestion->action;
  suggestion.exposure_s = report.suggestion->exposure_s;
  suggestion.now = report.suggestion->now;
  suggestion.then = report.suggestion->then;
  return part;
}

std::optional<Result<Report>> remembered(ReportCache& cache, Part part, const std::string& key,
                                         const std::string& file) {
  const auto text = cache.find(key_of(part, key));
  if (!text) return {};
  if (text->starts_with('[')) {
    auto error = error_of(*text, file);
    if (!error) return {};
    return tl::unexpected(std::move(*error));
  }
  auto report = parse_report(*text, file);
  if (!report) return {};
  return report;
}

void remember(ReportCache& cache, const std::string& key, const std::string& file, const Result<Report>& result) {
  if (!result && !lies_in_job(result.error(), file)) return;
  for (const Part part : {Part::whole, Part::row})
    cache.keep(key_of(part, key), !result               ? text_of(result.error())
                                  : part == Part::whole ? to_json(*result)
                                                        : to_json(row_part(*result)));
}

}  // namespace hairline::queue
