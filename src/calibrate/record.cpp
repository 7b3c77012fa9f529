// Reads and writes resin records. The document as read is kept and only known fields are updated in it, so that
// whatever else a person keeps there survives.
#include "hairline/record.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <charconv>
#include <cmath>

#include "calibrate_text.hpp"
#include "fields.hpp"
#include "hairline/files.hpp"
#include "ranges.hpp"
#include "readings.hpp"

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;
constexpr std::uint64_t most_record_bytes = 4u << 20;

void check_date(const Fields& fields, const char* key, const std::string& date, FirstError& first) {
  if (date.empty() || day_number(date)) return;
  first.invalid(fields.name(key), "is " + short_json(Json(date)), "a date as YYYY-MM-DD");
}

void parse_facts(const Fields& top, ResinRecord& record, FirstError& first) {
  const Fields resin(top.object("resin"), "resin", first);
  record.resin.label = resin.text("label");
  record.resin.colour = resin.text("colour");
  record.resin.kind = resin.text("kind");
  record.resin.batch = resin.text("batch");
  record.resin.opened = resin.text("opened");
  check_date(resin, "opened", record.resin.opened, first);
  record.resin.density_g_per_ml = resin.number("density_g_per_ml", ranges::density);
  record.resin.price_per_l = resin.number("price_per_l", ranges::price);

  const Fields printer(top.object("printer"), "printer", first);
  record.printer.label = printer.text("label");
  record.printer.pitch_mm = printer.number("pitch_mm", ranges::pitch_mm);
  record.printer.lamp_power_percent = printer.number("lamp_power_percent", ranges::lamp_power_percent);
  record.printer.lamp_hours = printer.number("lamp_hours", ranges::lamp_hours);
  record.printer.irradiance_mw_per_cm2 = printer.number("irradiance_mw_per_cm2", ranges::irradiance);

  const Fields conditions(top.object("conditions"), "conditions", first);
  record.conditions.date = conditions.text("date");
  check_date(conditions, "date", record.conditions.date, first);
  record.conditions.resin_temp_c = conditions.number("resin_temp_c", ranges::temperature_c);
  record.conditions.humidity_percent = conditions.number("humidity_percent", ranges::humidity_percent);

  const auto height = top.number("layer_height_mm", ranges::layer_height_mm);
  record.layer_height_assumed = !height;
  record.layer_height_mm = height.value_or(0.05);
}

BracketReading parse_bracket_entry(const Fields& fields, FirstError& first) {
  BracketReading reading;
  reading.exposure_s = fields.required("exposure_s", ranges::exposure_s);
  for (const auto& field : size_fields) reading.*field.value = fields.number(field.name, ranges::size_mm);
  reading.reading_error_mm = fields.number("reading_error_mm", ranges::reading_error_mm);
  if (const std::string look = fields.text("look"); !look.empty()) {
    reading.look = look_from(look);
    if (!reading.look) {
      first.invalid(fields.name("look"), "is " + short_json(Json(look)),
                    "one of missing, under, slightly-under, crisp, slightly-over, over");
    }
  }
  if (const std::string ladder = fields.text("ladder"); !ladder.empty()) {
    reading.ladder = ladder == "R10";
    if (!reading.ladder) first.invalid(fields.name("ladder"), "is " + short_json(Json(ladder)), "\"R10\" (ISO 3)");
  }
  return reading;
}

CureDepthReading parse_cure_depth_entry(const Fields& fields, FirstError&) {
  CureDepthReading reading;
  reading.exposure_s = fields.required("exposure_s", ranges::exposure_s);
  reading.depth_mm = fields.required("depth_mm", ranges::depth_mm);
  return reading;
}

BaseReading parse_base_entry(const Fields& fields, FirstError& first) {
  BaseReading reading;
  reading.base_s = fields.required("base_s", ranges::exposure_s);
  const double layers = fields.number("layers", ranges::layers).value_or(0);
  if (layers != std::floor(layers)) first.invalid(fields.name("layers"), "is " + plain(layers), "a whole number");
  reading.layers = static_cast<std::uint32_t>(layers);
  const std::string result = fields.text("result");
  if (const auto known = base_result_from(result)) {
    reading.result = *known;
  } else if (!fields.find("result")) {
    fields.missing("result", "one of lifted, held, welded");
  } else {
    first.invalid(fields.name("result"), "is " + short_json(Json(result)), "one of lifted, held, welded");
  }
  return reading;
}

template <class Reading, class ParseEntry>
std::vector<Reading> parse_entries(const Fields& readings, const char* kind, FirstError& first,
                                   ParseEntry parse_entry) {
  std::vector<Reading> list;
  const Json& entries = readings.array(kind);
  for (std::size_t i = 0; i < entries.size() && !first.error; ++i) {
    const std::string where = fmt::format("readings.{}, entry {},", kind, i + 1);
    if (!entries[i].is_object()) {
      first.set(ErrorKind::invalid, where + " is " + short_json(entries[i]), "a JSON object", "Correct the entry.");
      break;
    }
    const Fields fields(entries[i], fmt::format("readings.{}[{}]", kind, i + 1), first);
    Reading reading = parse_entry(fields, first);
    reading.date = fields.text("date");
    check_date(fields, "date", reading.date, first);
    reading.source = json_text(entries[i]);
    list.push_back(std::move(reading));
  }
  return list;
}

void parse_superseded(const Fields& readings, ResinRecord& record, FirstError& first) {
  for (const Json& entry : readings.array("superseded")) {
    if (!entry.is_object()) {
      first.invalid("readings.superseded", "holds " + short_json(entry), "JSON objects");
      return;
    }
    const Fields fields(entry, "readings.superseded", first);
    record.superseded.push_back({fields.text("kind"), fields.text("replaced_on"), json_text(fields.object("reading"))});
  }
}

void parse_readings(const Fields& top, ResinRecord& record, FirstError& first) {
  const Fields readings(top.object("readings"), "readings", first);
  record.bracket = parse_entries<BracketReading>(readings, "bracket", first, parse_bracket_entry);
  record.cure_depth = parse_entries<CureDepthReading>(readings, "cure_depth", first, parse_cure_depth_entry);
  record.base = parse_entries<BaseReading>(readings, "base", first, parse_base_entry);
  parse_superseded(readings, record, first);
}

constexpr const char* covariance_rule =
    "a symmetric 4 x 4 matrix of numbers without negative directions (rows of ln bond_time, ln fuse_time, ln blur, ln "
    "penetration_depth)";

// Symmetric and positive semidefinite within the rounding of numbers that people copy with six digits.
bool is_covariance(const LogCovariance& c) {
  Eigen::Matrix4d matrix;
  for (int i = 0; i < 4; ++i) {
    for (int k = 0; k < 4; ++k) matrix(i, k) = c[static_cast<std::size_t>(i)][static_cast<std::size_t>(k)];
  }
  const double largest = matrix.cwiseAbs().maxCoeff();
  if ((matrix - matrix.transpose()).cwiseAbs().maxCoeff() > 1e-5 * largest) return false;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix4d> solver(matrix, Eigen::EigenvaluesOnly);
  return solver.info() == Eigen::Success && solver.eigenvalues().minCoeff() >= -1e-5 * largest;
}

std::optional<LogCovariance> parse_covariance(const Fields& fit, FirstError& first) {
  const Json* value = fit.find("log_covariance");
  if (!value) return std::nullopt;
  const auto refuse = [&](const std::string& is) {
    first.invalid(fit.name("log_covariance"), is, covariance_rule);
    return std::nullopt;
  };
  if (!value->is_array() || value->size() != 4) return refuse("is not a list of 4 rows");
  LogCovariance covariance{};
  for (std::size_t i = 0; i < 4; ++i) {
    const Json& row = (*value)[i];
    if (!row.is_array() || row.size() != 4) return refuse(fmt::format("has a row {} that is not 4 numbers", i + 1));
    for (std::size_t k = 0; k < 4; ++k) {
      if (!row[k].is_number()) return refuse(fmt::format("has {} in row {}", short_json(row[k]), i + 1));
      covariance[i][k] = row[k].get<double>();
      // 100 is a factor of e^10 either way: a slip, not a spread.
      if (!(std::abs(covariance[i][k]) <= 100)) return refuse("has " + short_json(row[k]) + ", beyond 100");
    }
  }
  if (!is_covariance(covariance)) return refuse("is not symmetric and positive semidefinite");
  for (std::size_t i = 0; i < 4; ++i) {  // exactly symmetric from here on
    for (std::size_t k = 0; k < i; ++k) {
      covariance[i][k] = covariance[k][i] = (covariance[i][k] + covariance[k][i]) / 2;
    }
  }
  return covariance;
}

void parse_fit(const Fields& top, ResinRecord& record, FirstError& first) {
  if (!top.find("fit")) return;
  const Fields fit(top.object("fit"), "fit", first);
  CureModel model;
  model.bond_time_s = fit.required("bond_time_s", ranges::exposure_s);
  model.fuse_time_s = fit.required("fuse_time_s", ranges::exposure_s);
  model.blur_mm = fit.required("blur_mm", ranges::blur_mm);
  model.penetration_depth_mm = fit.required("penetration_depth_mm", ranges::penetration_mm);
  const std::string shape = fit.text("blur_shape");
  if (shape == "lorentzian") model.blur_shape = BlurShape::lorentzian;
  if (!shape.empty() && shape != "lorentzian" && shape != "gaussian") {
    first.invalid("fit.blur_shape", "is " + short_json(Json(shape)), "gaussian or lorentzian");
  }
  model.log_covariance = parse_covariance(fit, first);
  const auto from = fit.number("valid_from_s", ranges::exposure_s), to = fit.number("valid_to_s", ranges::exposure_s);
  record.valid_range_assumed = !from || !to;
  model.valid_from_s = from.value_or(assumed_valid_range.from * model.bond_time_s);
  model.valid_to_s = to.value_or(std::max(assumed_valid_range.to * model.bond_time_s, 1.5 * model.valid_from_s));
  if (!from && to) model.valid_from_s = std::min(model.valid_from_s, *to / 1.5);
  if (!(model.valid_from_s < model.valid_to_s)) {
    first.set(ErrorKind::invalid,
              fmt::format("fit.valid_from_s is {} and fit.valid_to_s is {}", model.valid_from_s, model.valid_to_s),
              "valid_from_s smaller than valid_to_s", "Correct them, or leave both out.");
  }
  model.layer_height_mm = record.layer_height_mm;
  record.fit = model;
  record.fitted_at = fit.text("fitted_at");
  record.method = fit.text("method");
}

bool check_format(const Fields& top, FirstError& first) {
  const std::string format = top.text("format");
  if (!first.error && format != "resin-record") {
    first.set(ErrorKind::version,
              format.empty() ? "the file has no \"format\"" : "\"format\" is " + short_json(Json(format)),
              "\"format\": \"resin-record\"", "Give a resin record; `hairline record new` makes one.");
  }
  const Json* version = top.find("version");
  if (!version || !version->is_number() || version->get<double>() != 1) {
    first.set(ErrorKind::version, version ? "\"version\" is " + short_json(*version) : "the file has no \"version\"",
              "\"version\": 1", "Convert the record, or update the program.");
  }
  return !first.error;
}

// --- writing

void put(Json& object, const char* key, const std::string& text) {
  if (!text.empty() || object.contains(key)) object[key] = text;
}

void put(Json& object, const char* key, const std::optional<double>& value) {
  if (value) {
    object[key] = *value;
  } else if (object.contains(key)) {
    object[key] = nullptr;
  }
}

Json& member(Json& object, const char* key, Json::value_t kind) {
  Json& value = object[key];
  if (value.type() != kind) value = Json(kind);
  return value;
}

template <class Reading>
void put_entries(Json& readings, const char* kind, const std::vector<Reading>& list) {
  if (list.empty() && !readings.contains(kind)) return;
  Json entries = Json::array();
  for (const auto& reading : list) entries.push_back(to_json(reading));
  readings[kind] = std::move(entries);
}

void put_readings(Json& document, const ResinRecord& record) {
  const bool any = !record.bracket.empty() || !record.cure_depth.empty() || !record.base.empty();
  if (!any && record.superseded.empty() && !document.contains("readings")) return;
  Json& readings = member(document, "readings", Json::value_t::object);
  put_entries(readings, "bracket", record.bracket);
  put_entries(readings, "cure_depth", record.cure_depth);
  put_entries(readings, "base", record.base);
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
  fit["blur_shape"] = model.blur_shape == BlurShape::lorentzian ? "lorentzian" : "gaussian";
  if (model.log_covariance) {
    fit["log_covariance"] = *model.log_covariance;
  } else if (fit.contains("log_covariance")) {
    fit["log_covariance"] = nullptr;
  }
  if (!record.valid_range_assumed) {
    fit["valid_from_s"] = model.valid_from_s;
    fit["valid_to_s"] = model.valid_to_s;
  }
  put(fit, "fitted_at", record.fitted_at);
  put(fit, "method", record.method);
}

void put_facts(Json& document, const ResinRecord& record) {
  Json& resin = member(document, "resin", Json::value_t::object);
  put(resin, "label", record.resin.label);
  put(resin, "colour", record.resin.colour);
  put(resin, "kind", record.resin.kind);
  put(resin, "batch", record.resin.batch);
  put(resin, "opened", record.resin.opened);
  put(resin, "density_g_per_ml", record.resin.density_g_per_ml);
  put(resin, "price_per_l", record.resin.price_per_l);
  Json& printer = member(document, "printer", Json::value_t::object);
  put(printer, "label", record.printer.label);
  put(printer, "pitch_mm", record.printer.pitch_mm);
  put(printer, "lamp_power_percent", record.printer.lamp_power_percent);
  put(printer, "lamp_hours", record.printer.lamp_hours);
  put(printer, "irradiance_mw_per_cm2", record.printer.irradiance_mw_per_cm2);
  Json& conditions = member(document, "conditions", Json::value_t::object);
  put(conditions, "date", record.conditions.date);
  put(conditions, "resin_temp_c", record.conditions.resin_temp_c);
  put(conditions, "humidity_percent", record.conditions.humidity_percent);
  if (!record.layer_height_assumed) document["layer_height_mm"] = record.layer_height_mm;
}

}  // namespace

Result<ResinRecord> parse_record(const std::string& text, const std::string& file) {
  FirstError first{file, std::nullopt};
  ResinRecord record;
  record.file = file;
  if (const auto levels = nesting_depth(text);
      levels > most_nesting) {  // copies of the document call themselves per level
    first.set(ErrorKind::limit, fmt::format("the file nests brackets {} levels deep", levels),
              fmt::format("at most {} levels", most_nesting), "Give a resin record; `hairline record new` makes one.");
    return tl::unexpected(*first.error);
  }
  const Json document = Json::parse(text, nullptr, false);
  if (document.is_discarded()) {
    first.set(ErrorKind::broken, "the file is not JSON", "a resin record in JSON",
              "Look for a missing comma, quote or bracket, or restore the file from a copy.");
    return tl::unexpected(*first.error);
  }
  if (!document.is_object()) {
    first.set(ErrorKind::invalid, "the file holds " + short_json(document), "a resin record (a JSON object)",
              "Give a resin record; `hairline record new` makes one.");
    return tl::unexpected(*first.error);
  }
  record.source = json_text(document);
  const Fields top(document, "", first);
  if (check_format(top, first)) {
    parse_facts(top, record, first);
    parse_readings(top, record, first);
    parse_fit(top, record, first);
  }
  if (first.error) return tl::unexpected(*first.error);
  return record;
}

Result<ResinRecord> read_record(const std::filesystem::path& path) {
  const auto text = read_text(path, most_record_bytes);
  if (!text) return tl::unexpected(text.error());
  return parse_record(*text, path.string());
}

std::string write_record(const ResinRecord& record) {
  Json document = object_in(record.source);
  document["format"] = "resin-record";
  document["version"] = 1;
  put_facts(document, record);
  put_readings(document, record);
  put_fit(document, record);
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Result<void> save_record(const ResinRecord& record, const std::filesystem::path& path) {
  return write_text(path, write_record(record));
}

Result<CureModel> fitted_model(const ResinRecord& record) {
  if (record.fit) return *record.fit;
  const bool has_readings = !record.bracket.empty();
  return tl::unexpected(Error{ErrorKind::invalid, record.file, std::nullopt, "the resin record has no fit",
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
  const int year = part(0, 4), month = part(5, 2), day = part(8, 2);
  if (year < 1900 || month < 1 || month > 12 || day < 1) return std::nullopt;
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  constexpr int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  if (day > days[month - 1] + (month == 2 && leap ? 1 : 0)) return std::nullopt;
  // Days of the years before, then of the months before (Gregorian calendar).
  int number = 365 * (year - 1) + (year - 1) / 4 - (year - 1) / 100 + (year - 1) / 400 + day;
  for (int m = 1; m < month; ++m) number += days[m - 1] + (m == 2 && leap ? 1 : 0);
  return number;
}

std::optional<double> shortest_stood_s(const ResinRecord& record) {
  std::optional<double> shortest;
  for (const BracketReading& one : record.bracket) {
    const bool read = one.thinnest_wall_mm || one.narrowest_slot_mm || one.thinnest_pin_mm || one.smallest_hole_mm ||
                      one.narrowest_flat_slot_mm;
    if (!read && (!one.look || *one.look == Look::missing)) continue;
    shortest = std::min(shortest.value_or(one.exposure_s), one.exposure_s);
  }
  return shortest;
}

std::optional<int> age_days(const ResinRecord& record, const std::string& today) {
  auto made = day_number(record.conditions.date);
  if (!made) made = day_number(record.fitted_at);
  const auto now = day_number(today);
  if (!made || !now) return std::nullopt;
  return *now - *made;
}

}  // namespace hairline
