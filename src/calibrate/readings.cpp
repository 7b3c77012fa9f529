#include "readings.hpp"

#include "calibrate_text.hpp"
#include "ranges.hpp"

namespace hairline {
namespace {

constexpr std::array<const char*, 6> look_words{"missing", "under", "slightly-under", "crisp", "slightly-over", "over"};
constexpr std::array<const char*, 3> base_words{"lifted", "held", "welded"};

std::optional<Error> out_of_range(const std::string& name, double value, const ranges::Range& range) {
  if (range.holds(value)) return std::nullopt;
  return Error{ErrorKind::invalid, "",
               std::nullopt,       fmt::format("{} is {}", name, value),
               range.words(),      "Read it again, or leave it out."};
}

std::optional<Error> bad_date(const std::string& date) {
  if (date.empty() || day_number(date)) return std::nullopt;
  return Error{ErrorKind::invalid, "", std::nullopt, "date is \"" + date + "\"", "a date as YYYY-MM-DD", "Correct it."};
}

void put(nlohmann::ordered_json& entry, const char* key, const std::optional<double>& value) {
  if (value) {
    entry[key] = *value;
  } else if (entry.contains(key)) {
    entry[key] = nullptr;
  }
}

void put(nlohmann::ordered_json& entry, const char* key, const std::string& text) {
  if (!text.empty()) {
    entry[key] = text;
  } else if (entry.contains(key)) {
    entry.erase(key);
  }
}

}  // namespace

std::string to_string(Look look) {
  return look_words[static_cast<std::size_t>(look)];
}
std::string to_string(BaseResult result) {
  return base_words[static_cast<std::size_t>(result)];
}

std::optional<Look> look_from(std::string_view text) {
  for (std::size_t i = 0; i < look_words.size(); ++i) {
    if (text == look_words[i]) return static_cast<Look>(i);
  }
  return std::nullopt;
}

std::optional<BaseResult> base_result_from(std::string_view text) {
  for (std::size_t i = 0; i < base_words.size(); ++i) {
    if (text == base_words[i]) return static_cast<BaseResult>(i);
  }
  return std::nullopt;
}

bool has_sizes(const BracketReading& reading) {
  for (const auto& field : size_fields) {
    if (reading.*field.value) return true;
  }
  return false;
}

std::optional<Error> problem_of(const BracketReading& reading) {
  if (auto problem = out_of_range("exposure_s", reading.exposure_s, ranges::exposure_s)) return problem;
  for (const auto& field : size_fields) {
    const auto& value = reading.*field.value;
    if (!value) continue;
    if (auto problem = out_of_range(field.name, *value, ranges::size_mm)) return problem;
  }
  if (reading.reading_error_mm) {
    if (auto problem = out_of_range("reading_error_mm", *reading.reading_error_mm, ranges::reading_error_mm)) {
      return problem;
    }
  }
  if (!has_sizes(reading) && !reading.look) {
    return Error{ErrorKind::invalid,
                 "",
                 std::nullopt,
                 "the reading at " + plain(reading.exposure_s) + " s says nothing",
                 "at least one size or a look",
                 "Add a size in mm, or a look such as crisp."};
  }
  return bad_date(reading.date);
}

std::optional<Error> problem_of(const CureDepthReading& reading) {
  if (auto problem = out_of_range("exposure_s", reading.exposure_s, ranges::exposure_s)) return problem;
  if (auto problem = out_of_range("depth_mm", reading.depth_mm, ranges::depth_mm)) return problem;
  return bad_date(reading.date);
}

std::optional<Error> problem_of(const BaseReading& reading) {
  if (auto problem = out_of_range("base_s", reading.base_s, ranges::exposure_s)) return problem;
  if (auto problem = out_of_range("layers", reading.layers, ranges::layers)) return problem;
  return bad_date(reading.date);
}

nlohmann::ordered_json to_json(const BracketReading& reading) {
  auto entry = object_in(reading.source);
  entry["exposure_s"] = reading.exposure_s;
  for (const auto& field : size_fields) put(entry, field.name, reading.*field.value);
  put(entry, "look", reading.look ? to_string(*reading.look) : "");
  put(entry, "reading_error_mm", reading.reading_error_mm);
  put(entry, "ladder", reading.ladder ? std::string("R10") : "");
  put(entry, "date", reading.date);
  return entry;
}

nlohmann::ordered_json to_json(const CureDepthReading& reading) {
  auto entry = object_in(reading.source);
  entry["exposure_s"] = reading.exposure_s;
  entry["depth_mm"] = reading.depth_mm;
  put(entry, "date", reading.date);
  return entry;
}

nlohmann::ordered_json to_json(const BaseReading& reading) {
  auto entry = object_in(reading.source);
  entry["base_s"] = reading.base_s;
  entry["layers"] = reading.layers;
  entry["result"] = to_string(reading.result);
  put(entry, "date", reading.date);
  return entry;
}

}  // namespace hairline
