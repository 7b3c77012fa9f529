// Reads and writes resin records. The document as read is kept and only known fields are updated in it, so that
// whatever else a person keeps there survives.
#include "hairline/record.hpp"

#include <fmt/format.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <nlohmann/json.hpp>

#include "hairline/files.hpp"
#include "parameters.hpp"
#include "reading_fields.hpp"

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;
constexpr std::uint64_t most_record_bytes = 4u << 20;

constexpr const char* a_record = "Give a resin record; `hairline record new` makes one.";
constexpr JsonKind record_kind{
    .format = "resin-record",
    .damaged = "Look for a missing comma, quote or bracket, or restore the file from a copy.",
    .other = a_record,
    .convert = "Convert the record, or update the program."};
constexpr Range time_s{0, 3600, true, "s"};
constexpr const char* blur_words[]{"gaussian", "lorentzian"};

template <class Reading>
void read_readings(const Fields& top, ResinRecord& record) {
  const auto& kind = kind_of<Reading>;
  for (const Fields& entry : top.optional_list(std::string("readings.") + kind.name)) {
    Reading& reading = (record.*kind.list).emplace_back();
    for (const auto& field : kind.fields) field.set(reading, value_in(entry, field));
    reading.source = entry.source();
    if (const char* lacking = lacking_width(reading))
      entry.fail(ErrorKind::invalid, fmt::format("{} is left out", lacking), "both the drawn and the printed width",
                 "Add it, or leave out both.");
  }
}

void read_all_readings(const Fields& top, ResinRecord& record) {
  read_readings<BracketReading>(top, record);
  read_readings<CureDepthReading>(top, record);
  read_readings<BaseReading>(top, record);
  for (const Fields& entry : top.optional_list("readings.superseded"))
    record.superseded.push_back(
        {entry.optional_text("kind"), entry.optional_text("replaced_on"), entry.optional_object("reading").source()});
}

constexpr const char* covariance_rule =
    "a symmetric 4 x 4 or 5 x 5 matrix of numbers without negative directions (rows of ln bond_time, ln fuse_time, ln "
    "blur, ln penetration_depth, ln flat_time)";

// Symmetric and positive semidefinite within the rounding of numbers that people copy with six digits.
bool is_covariance(const LogCovariance& c) {
  Eigen::Matrix<double, 5, 5> matrix;
  for (int i = 0; i < 5; ++i) {
    for (int k = 0; k < 5; ++k) matrix(i, k) = c[static_cast<std::size_t>(i)][static_cast<std::size_t>(k)];
  }
  const double largest = matrix.cwiseAbs().maxCoeff();
  if ((matrix - matrix.transpose()).cwiseAbs().maxCoeff() > 1e-5 * largest) return false;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix<double, 5, 5>> solver(matrix, Eigen::EigenvaluesOnly);
  return solver.info() == Eigen::Success && solver.eigenvalues().minCoeff() >= -1e-5 * largest;
}

std::optional<LogCovariance> read_covariance(const Fields& fit, bool flat_time) {
  const Json* value = fit.find("log_covariance");
  if (!value) return std::nullopt;
  const auto refuse = [&](const std::string& is) {
    fit.wrong("log_covariance", is, covariance_rule);
    return std::nullopt;
  };
  const std::size_t n = value->size();
  if (!value->is_array() || (n != 4 && n != 5)) return refuse("is not a list of 4 or 5 rows");
  LogCovariance covariance{};
  for (std::size_t i = 0; i < n; ++i) {
    const Json& row = (*value)[i];
    if (!row.is_array() || row.size() != n) return refuse(fmt::format("has a row {} that is not {} numbers", i + 1, n));
    for (std::size_t k = 0; k < n; ++k) {
      if (!row[k].is_number()) return refuse(fmt::format("has {} in row {}", shown(row[k], record_kind), i + 1));
      covariance[i][k] = row[k].get<double>();
      // 100 is a factor of e^10 either way: a slip, not a spread.
      if (!(std::abs(covariance[i][k]) <= 100)) return refuse("has " + shown(row[k], record_kind) + ", beyond 100");
    }
  }
  if (!is_covariance(covariance)) return refuse("is not symmetric and positive semidefinite");
  for (std::size_t i = 0; i < n; ++i) {  // exactly symmetric from here on
    for (std::size_t k = 0; k < i; ++k) {
      covariance[i][k] = covariance[k][i] = (covariance[i][k] + covariance[k][i]) / 2;
    }
  }
  if (n == 4 && flat_time) spread_like_fuse_time(covariance);
  return covariance;
}

std::optional<TimeToUse> read_use(const Fields& fit) {
  if (!fit.has("use")) return std::nullopt;
  const Fields object = fit.object("use");
  const TimeToUse use{object.number("exposure_s", time_s), object.number("from_s", time_s),
                      object.number("to_s", time_s)};
  if (!(use.from_s <= use.exposure_s && use.exposure_s <= use.to_s))
    fit.fail(ErrorKind::invalid,
             fmt::format("fit.use holds {} s, from {} to {} s", use.exposure_s, use.from_s, use.to_s),
             "an exposure_s from from_s to to_s", "Correct them, or leave `use` out.");
  return use;
}

void read_fit(const Fields& top, ResinRecord& record) {
  if (!top.has("fit")) return;
  const Fields fit = top.object("fit");
  CureModel model;
  model.bond_time_s = fit.number("bond_time_s", time_s);
  model.fuse_time_s = fit.number("fuse_time_s", time_s);
  model.blur_mm = fit.number("blur_mm", {0, 1, true, "mm"});
  model.penetration_depth_mm = fit.number("penetration_depth_mm", {0, 10, true, "mm"});
  if (!fit.optional_text("blur_shape").empty())
    model.blur_shape = fit.word("blur_shape", blur_words) == 1 ? BlurShape::lorentzian : BlurShape::gaussian;
  model.flat_time_s = fit.optional_number("flat_time_s", time_s);
  model.log_covariance = read_covariance(fit, model.flat_time_s.has_value());
  const auto from = fit.optional_number("valid_from_s", time_s), to = fit.optional_number("valid_to_s", time_s);
  record.valid_range_assumed = !from || !to;
  model.valid_from_s = from.value_or(assumed_valid_range.from * model.bond_time_s);
  model.valid_to_s = to.value_or(std::max(assumed_valid_range.to * model.bond_time_s, 1.5 * model.valid_from_s));
  if (!from && to) model.valid_from_s = std::min(model.valid_from_s, *to / 1.5);
  if (!(model.valid_from_s < model.valid_to_s)) {
    fit.fail(ErrorKind::invalid,
             fmt::format("fit.valid_from_s is {} and fit.valid_to_s is {}", model.valid_from_s, model.valid_to_s),
             "valid_from_s smaller than valid_to_s", "Correct them, or leave both out.");
  }
  model.layer_height_mm = record.layer_height_mm;
  record.fit = model;
  record.use = read_use(fit);
  record.fitted_at = fit.optional_text("fitted_at");
  record.method = fit.optional_text("method");
}

// --- writing

void put(Json& object, const char* key, const std::string& text) {
  if (!text.empty() || object.contains(key)) object[key] = text;
}

template <class Value>
void put(Json& object, const char* key, const std::optional<Value>& value) {
  if (value) object[key] = *value;
  if (!value && object.contains(key)) object[key] = nullptr;
}

// As many rows as the model has parameters.
std::optional<Json> covariance_rows(const CureModel& model) {
  if (!model.log_covariance) return std::nullopt;
  const std::size_t n = parameter_count(model);
  Json rows = Json::array();
  for (std::size_t i = 0; i < n; ++i) {
    const auto& row = (*model.log_covariance)[i];
    rows.push_back(std::vector<double>(row.begin(), row.begin() + static_cast<std::ptrdiff_t>(n)));
  }
  return rows;
}

Json& member(Json& object, const char* key, Json::value_t kind) {
  Json& value = object[key];
  if (value.type() != kind) value = Json(kind);
  return value;
}

template <class Reading>
void put_entries(Json& readings, const ResinRecord& record) {
  const auto& [name, list, fields] = kind_of<Reading>;
  if ((record.*list).empty() && !readings.contains(name)) return;
  Json& entries = readings[name] = Json::array();
  for (const auto& reading : record.*list) entries.push_back(object_in(entry_text(reading)));
}

void put_readings(Json& document, const ResinRecord& record) {
  const bool any = !record.bracket.empty() || !record.cure_depth.empty() || !record.base.empty();
  if (!any && record.superseded.empty() && !document.contains("readings")) return;
  Json& readings = member(document, "readings", Json::value_t::object);
  put_entries<BracketReading>(readings, record);
  put_entries<CureDepthReading>(readings, record);
  put_entries<BaseReading>(readings, record);
  if (record.superseded.empty()) return;
  Json& superseded = member(readings, "superseded", Json::value_t::array);
  for (std::size_t i = superseded.size(); i < record.superseded.size(); ++i) {  // entries are only ever added
    const auto& old = record.superseded[i];
    superseded.push_back({{"kind", old.kind}, {"replaced_on", old.replaced_on}, {"reading", object_in(old.reading)}});
  }
}

void put_fit(Json& document, const ResinRecord& record) {
  if (!record.fit) {
    if (document.contains("fit")) document["fit"] = nullptr;
    return;
  }
  const CureModel& model = *record.fit;
  Json& fit = member(document, "fit", Json::value_t::object);
  fit["bond_time_s"] = model.bond_time_s;
  fit["fuse_time_s"] = model.fuse_time_s;
  fit["blur_mm"] = model.blur_mm;
  fit["penetration_depth_mm"] = model.penetration_depth_mm;
  put(fit, "flat_time_s", model.flat_time_s);
  fit["blur_shape"] = blur_words[model.blur_shape == BlurShape::lorentzian ? 1 : 0];
  put(fit, "log_covariance", covariance_rows(model));
  if (!record.valid_range_assumed) {
    fit["valid_from_s"] = model.valid_from_s;
    fit["valid_to_s"] = model.valid_to_s;
  }
  std::optional<Json> use;
  if (record.use)
    use = {{"exposure_s", record.use->exposure_s}, {"from_s", record.use->from_s}, {"to_s", record.use->to_s}};
  put(fit, "use", use);
  put(fit, "fitted_at", record.fitted_at);
  put(fit, "method", record.method);
}

}  // namespace

Result<ResinRecord> parse_record(const std::string& text, const std::string& file) {
  const auto top = read_json(text, file, record_kind);
  if (!top) return tl::unexpected(top.error());
  ResinRecord record;
  record.file = file;
  record.source = top->source();
  for (const auto& fact : fact_fields) fact.set(record, value_in(*top, fact));
  read_all_readings(*top, record);
  if (const auto many = too_many_readings(record)) top->fail(many->kind, many->found, many->expected, many->advice);
  read_fit(*top, record);
  if (top->error()) return tl::unexpected(*top->error());
  return record;
}

Result<ResinRecord> read_record(const std::filesystem::path& path) {
  const auto text = read_text(path, most_record_bytes);
  if (!text) {
    Error error = text.error();
    if (error.kind == ErrorKind::not_found) error.advice = "Check the path. `hairline record new` makes a record.";
    return tl::unexpected(std::move(error));
  }
  return parse_record(*text, path.string());
}

std::string write_record(const ResinRecord& record) {
  Json document = object_in(record.source);
  document["format"] = "resin-record";
  document["version"] = 1;
  put_facts(document, record);
  put_readings(document, record);
  put_fit(document, record);
  return json_text(document, 2) + "\n";
}

Result<void> save_record(const ResinRecord& record, const std::filesystem::path& path) {
  return write_text(path, write_record(record));
}

Result<CureModel> fitted_model(const ResinRecord& record) {
  if (record.fit) return *record.fit;
  const bool has_readings = !record.bracket.empty();
  return tl::unexpected(Error{ErrorKind::invalid, record.file, "the resin record has no fit",
                              "a fit: bond time, fuse time, blur and penetration depth",
                              has_readings
                                  ? "Run `hairline record fit` on it first."
                                  : "Add readings with `hairline record read`, then run `hairline record fit`."});
}

std::optional<int> day_number(std::string_view date) {
  if (date.size() < 10 || date[4] != '-' || date[7] != '-') return std::nullopt;
  if (date.size() > 10 && date[10] != 'T' && date[10] != ' ') return std::nullopt;
  const auto part = [&](std::size_t at, std::size_t length) -> int {
    int value = -1;
    const char* end = date.data() + at + length;
    const auto [stop, problem] = std::from_chars(date.data() + at, end, value);
    return problem == std::errc() && stop == end && date[at] != '-' ? value : -1;
  };
  const std::chrono::year_month_day day(std::chrono::year(part(0, 4)),
                                        std::chrono::month(static_cast<unsigned>(part(5, 2))),
                                        std::chrono::day(static_cast<unsigned>(part(8, 2))));
  if (day.year() < std::chrono::year(1900) || !day.ok()) return std::nullopt;
  return static_cast<int>(std::chrono::sys_days(day).time_since_epoch().count());
}

std::optional<double> shortest_stood_s(const ResinRecord& record) {
  std::optional<double> shortest;
  for (const BracketReading& one : record.bracket) {
    if (!has_sizes(one) && !has_widths(one) && (!one.look || *one.look == Look::missing)) continue;
    shortest = std::min(shortest.value_or(one.exposure_s), one.exposure_s);
  }
  return shortest;
}

std::string made_on(const ResinRecord& record) {
  for (const std::string* date : {&record.conditions.date, &record.fitted_at})
    if (day_number(*date)) return date->substr(0, 10);
  return {};
}

std::optional<int> age_days(const ResinRecord& record, const std::string& today) {
  const auto made = day_number(made_on(record));
  const auto now = day_number(today);
  if (!made || !now) return std::nullopt;
  return *now - *made;
}

}  // namespace hairline
