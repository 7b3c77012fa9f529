#include "reading_fields.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numeric>

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;
using Name = const char* FieldRule::*;  // how an error calls a field: by its key or its option

bool is_number(const FieldRule& rule) {
  return rule.holds == Holds::number || rule.holds == Holds::whole;
}

bool fits(const FieldRule& rule, double number) {
  if (rule.holds == Holds::word) return number < static_cast<double>(rule.words.size());
  return rule.range.holds(number) && (rule.holds == Holds::number || number == std::floor(number));
}
bool fits(const FieldRule& rule, const std::string& text) {
  return rule.holds == Holds::text || day_number(text).has_value();
}

template <class Enum>
std::optional<Enum> enum_of(std::span<const char* const> words, std::string_view text) {
  const auto at = std::find(words.begin(), words.end(), text);
  return at == words.end() ? std::nullopt : std::optional(static_cast<Enum>(at - words.begin()));
}

// As a file and an error write it.
Json json_of(const FieldRule& rule, const FieldValue& value) {
  if (!value) return nullptr;
  const double* number = std::get_if<double>(&*value);
  if (!number) return *std::get_if<std::string>(&*value);
  if (rule.holds == Holds::word) return rule.words[static_cast<std::size_t>(*number)];
  return rule.holds == Holds::whole ? Json(static_cast<std::int64_t>(*number)) : Json(*number);
}

// A value that is not known becomes null, unless the empty text already says so.
void put(Json& object, const std::string& key, const FieldRule& rule, const FieldValue& value) {
  if (const auto stop = key.find('.'); stop != std::string::npos) {
    const std::string part = key.substr(0, stop);
    if (!value && !(object.contains(part) && object[part].is_object())) return;
    return put(object[part], key.substr(stop + 1), rule, value);
  }
  if (value || (object.contains(key) && object[key] != "")) object[key] = json_of(rule, value);
}

Error invalid(std::string found, std::string expected, std::string advice) {
  return {ErrorKind::invalid, "", std::move(found), std::move(expected), std::move(advice)};
}

constexpr const char* read_again = "Read it again, or leave it out.";

const std::string* given(const Cells& cells, const FieldRule& rule) {
  const auto cell = cells.find(rule.key);
  return cell == cells.end() || cell->second.empty() ? nullptr : &cell->second;
}

double mean_of(const std::vector<double>& numbers) {
  return std::accumulate(numbers.begin(), numbers.end(), 0.0) / static_cast<double>(numbers.size());
}

// A size read in several directions is as sure as they agree: the spread of all of them is the reading error.
void take_spread(auto&, const Cells&) {}
void take_spread(BracketReading& reading, const Cells& cells) {
  if (reading.reading_error_mm || reading.ladder) return;
  constexpr double least_mm = 0.005;  // a tenth of a tick on the coupon: nobody reads closer
  double squares = 0, free = 0;
  for (const FieldRule& rule : bracket_fields) {
    const std::string* cell = rule.several ? given(cells, rule) : nullptr;
    const auto numbers = cell ? typed_numbers(*cell, rule.range) : std::vector<double>();
    if (numbers.size() < 2 || typed_number(*cell, rule.range).value) continue;
    for (const double number : numbers) squares += std::pow(number - mean_of(numbers), 2);
    free += static_cast<double>(numbers.size() - 1);
  }
  if (free > 0) reading.reading_error_mm = std::max(least_mm, six_digits(std::sqrt(squares / free)));
}

// Who gives only the printed width means the block and the slot of our own coupon.
void assume_drawn(auto&) {}
void assume_drawn(BracketReading& reading) {
  if (reading.block_mm.printed && !reading.block_mm.drawn) reading.block_mm.drawn = coupon_block_mm;
  if (reading.slot_mm.printed && !reading.slot_mm.drawn) reading.slot_mm.drawn = coupon_slot_mm;
}

// No light makes a block or a slot a millimetre wider or narrower: a line was mistaken, or the decimal point.
std::string far_off(const char* key, double printed_mm, double drawn_mm) {
  if (std::abs(printed_mm - drawn_mm) <= 1 + 1e-9) return {};
  return fmt::format("the {} printed {} mm wide where {} mm were drawn",
                     std::string_view(key).starts_with("block") ? "block" : "wide slot", printed_mm, drawn_mm);
}
constexpr const char* near_drawn = "a width within 1 mm of the drawn one";

std::string far_off(const BracketReading& reading) {
  for (const auto& [key, width] :
       {std::pair{"block_mm.printed", reading.block_mm}, std::pair{"slot_mm.printed", reading.slot_mm}})
    if (width.printed && width.drawn)
      if (std::string off = far_off(key, *width.printed, *width.drawn); !off.empty()) return off;
  return {};
}
std::string far_off(const auto&) {
  return {};
}

template <class Reading>
Result<AnyReading> made(const Cells& cells, Name name, double layer_height_mm) {
  Reading reading;
  for (const auto& field : kind_of<Reading>.fields) {
    const std::string* cell = given(cells, field);
    if (!cell && !field.required) continue;
    if (!cell) return tl::unexpected(invalid(fmt::format("no {}", field.*name), expected(field), read_again));
    const FieldValue value = value_from(field, *cell, layer_height_mm);
    if (!value) {
      const auto number = parse_number(*cell);
      const std::string is = number ? fmt::format("{}", *number) : quoted(field, *cell);
      return tl::unexpected(invalid(fmt::format("{} is {}", field.*name, is), expected(field), read_again));
    }
    field.set(reading, value);
  }
  take_spread(reading, cells);
  assume_drawn(reading);
  if (auto problem = problem_of(reading)) return tl::unexpected(*problem);
  return reading;
}

// Whether cells say more of this kind of reading than the exposure that a coupon and a cure depth share.
template <class Reading>
bool spoken_of(const Cells& cells) {
  const auto fields = kind_of<Reading>.fields;
  return std::any_of(fields.begin(), fields.end(), [&](const FieldRule& rule) {
    return given(cells, rule) && std::string_view(rule.key) != table::coupon_exposure.key;
  });
}

}  // namespace

bool same_number(double a, double b) {
  return std::abs(a - b) <= 1e-6 * std::max(std::abs(a), std::abs(b));
}

std::string expected(const FieldRule& rule) {
  if (rule.holds == Holds::number) return rule.range.words() + (rule.in_layers ? ", or full layers" : "");
  if (rule.holds == Holds::whole) return rule.range.whole_words();
  if (rule.holds == Holds::word) return any_of(rule.words);
  if (rule.holds == Holds::date) return "a date as YYYY-MM-DD";
  return "a text";
}

namespace {

std::optional<double> number_from(const FieldRule& rule, const std::string& text, double layer_height_mm) {
  if (rule.in_layers && layer_height_mm > 0) {
    const auto layers = typed_number(text, {0, 1000, true, "layers"}).value;
    if (layers && *layers == std::floor(*layers)) return twelve_digits(*layers * layer_height_mm);
    if (layers && *layers > 1) return std::nullopt;  // "3.5" is neither layers nor a slot that the stair has
  }
  if (const auto number = typed_number(text, rule.range).value) return number;
  const auto numbers = rule.several ? typed_numbers(text, rule.range) : std::vector<double>();
  return numbers.empty() ? std::nullopt : std::optional(six_digits(mean_of(numbers)));
}

}  // namespace

FieldValue value_from(const FieldRule& rule, const std::string& text, double layer_height_mm) {
  if (rule.holds == Holds::word) return table::value_of(enum_of<std::size_t>(rule.words, text));
  if (!is_number(rule)) return fits(rule, text) ? FieldValue(text) : std::nullopt;
  const auto number = number_from(rule, text, layer_height_mm);
  return number && fits(rule, *number) ? FieldValue(*number) : std::nullopt;
}

std::string text_of(const FieldRule& rule, const FieldValue& value) {
  if (!value) return "";
  if (rule.holds == Holds::word) return rule.words[static_cast<std::size_t>(std::get<double>(*value))];
  return std::visit([](const auto& held) { return fmt::format("{}", held); }, *value);
}

std::string quoted(const FieldRule& rule, const std::string& text) {
  return is_number(rule) ? quoted(text, rule.range) : fmt::format("\"{}\"", text);
}

std::string misfit(const FieldRule& rule, const std::string& text, const ResinRecord& record) {
  if (value_from(rule, text, record.layer_height_mm)) return {};
  return fmt::format("{} does not fit; expected {}", quoted(rule, text), expected(rule));
}

std::string answer_misfit(const FieldRule& rule, const std::string& text, const ResinRecord& record) {
  std::string wrong = text.empty() ? "" : misfit(rule, text, record);
  for (const auto& [key, drawn_mm] :
       {std::pair{"block_mm.printed", coupon_block_mm}, std::pair{"slot_mm.printed", coupon_slot_mm}})
    if (wrong.empty() && !text.empty() && std::string_view(rule.key) == key)
      if (const std::string off = far_off(key, std::get<double>(*value_from(rule, text)), drawn_mm); !off.empty())
        wrong = fmt::format("{}; expected {}", off, near_drawn);
  if (wrong.empty() || rule.words.data() != look_words) return wrong;
  for (std::size_t i = 0; i < std::size(look_words); ++i)
    wrong += fmt::format("\n{:<14} {}", look_words[i], look_meanings[i]);
  return wrong;
}

bool is_asked_first(const FieldRule& fact) {
  const std::string_view key = fact.key;
  return key == "resin.label" || key == "printer.label" || key == "printer.pitch_mm" || key == "layer_height_mm";
}

FieldRule as_coupon_takes(FieldRule fact) {
  const std::string_view key = fact.key;
  if (key == "printer.pitch_mm" || key == "layer_height_mm") fact.range = coupon_grid_mm;
  return fact;
}

FieldValue value_in(const Fields& from, const FieldRule& rule) {
  const bool empty = is_number(rule) ? !from.has(rule.key) : from.optional_text(rule.key).empty();
  if (empty && !rule.required) return std::nullopt;
  if (rule.holds == Holds::number) return from.number(rule.key, rule.range);
  if (rule.holds == Holds::whole) return table::value_of(from.whole(rule.key, rule.range));
  if (rule.holds == Holds::word) return table::value_of(from.word(rule.key, rule.words));
  const std::string text = from.text(rule.key);
  if (!fits(rule, text)) from.wrong(rule.key, expected(rule));
  return text;
}

std::string to_string(Look look) {
  return look_words[static_cast<std::size_t>(look)];
}
std::string to_string(BaseResult result) {
  return base_words[static_cast<std::size_t>(result)];
}

const std::vector<FieldRule>& reading_rules() {
  static const std::vector<FieldRule> rules = [] {
    std::vector<FieldRule> once;
    const auto add = [&](const FieldRule& rule) {
      const auto same = [&](const FieldRule& other) { return std::string_view(other.key) == rule.key; };
      if (std::none_of(once.begin(), once.end(), same)) once.push_back(rule);
    };
    std::for_each(bracket_fields.begin(), bracket_fields.end(), add);
    std::for_each(cure_depth_fields.begin(), cure_depth_fields.end(), add);
    std::for_each(base_fields.begin(), base_fields.end(), add);
    return once;
  }();
  return rules;
}

std::vector<FieldRule> asked_rules() {
  std::vector<FieldRule> asked;
  std::copy_if(reading_rules().begin(), reading_rules().end(), std::back_inserter(asked),
               [](const FieldRule& rule) { return *rule.letter != '\0'; });
  std::stable_partition(asked.begin(), asked.end(), [](const FieldRule& rule) { return rule.holds != Holds::word; });
  return asked;
}

template <class Reading>
std::string entry_text(const Reading& reading) {
  Json entry = object_in(reading.source);
  for (const auto& field : kind_of<Reading>.fields) put(entry, field.key, field, field.get(reading));
  return json_text(entry);
}
template std::string entry_text(const BracketReading&);
template std::string entry_text(const CureDepthReading&);
template std::string entry_text(const BaseReading&);

void put_facts(Json& document, const ResinRecord& record) {
  for (const char* part : {"resin", "printer", "conditions"})
    if (Json& object = document[part]; !object.is_object()) object = Json::object();
  for (const auto& field : fact_fields) put(document, field.key, field, field.get(record));
}

Result<AnyReading> reading_from(const Cells& cells) {
  if (given(cells, base_fields[0])) return made<BaseReading>(cells, &FieldRule::key, 0);
  if (given(cells, cure_depth_fields[1])) return made<CureDepthReading>(cells, &FieldRule::key, 0);
  return made<BracketReading>(cells, &FieldRule::key, 0);
}

Result<std::vector<AnyReading>> readings_from_options(const Cells& cells, double layer_height_mm) {
  std::vector<Result<AnyReading>> all;
  const bool depth = spoken_of<CureDepthReading>(cells), exposure = given(cells, table::coupon_exposure);
  if (spoken_of<BracketReading>(cells) || (exposure && !depth))
    all.push_back(made<BracketReading>(cells, &FieldRule::option, layer_height_mm));
  if (depth) all.push_back(made<CureDepthReading>(cells, &FieldRule::option, layer_height_mm));
  if (spoken_of<BaseReading>(cells)) all.push_back(made<BaseReading>(cells, &FieldRule::option, layer_height_mm));
  std::vector<AnyReading> readings;
  for (auto& reading : all) {
    if (!reading) return tl::unexpected(reading.error());
    readings.push_back(std::move(*reading));
  }
  return readings;
}

Cells cells_at(const ResinRecord& record, double exposure_s) {
  Cells cells;
  const auto add = [&](const auto& entries, const auto& fields) {
    for (const auto& entry : entries)
      if (same_number(entry.exposure_s, exposure_s))
        for (const auto& field : fields)
          if (const FieldValue value = field.get(entry)) cells[field.key] = text_of(field, value);
  };
  add(record.bracket, bracket_fields);
  add(record.cure_depth, cure_depth_fields);
  cells[table::coupon_exposure.key] = fmt::format("{}", exposure_s);
  return cells;
}

Cells answers_beyond(const Cells& known, Cells answers) {
  const std::string_view exposure = table::coupon_exposure.key;
  std::erase_if(answers, [&](const auto& cell) { return cell.first != exposure && known.count(cell.first) > 0; });
  return answers.size() > 1 ? answers : Cells();
}

template <class Reading>
std::optional<Error> problem_of(const Reading& reading) {
  bool says = false;
  for (const auto& field : kind_of<Reading>.fields) {
    const FieldValue value = field.get(reading);
    if (!value) continue;
    says = says || field.role == Role::size || field.role == Role::seen;
    if (std::visit([&](const auto& held) { return fits(field, held); }, *value)) continue;
    const auto is = [](const auto& held) { return fmt::format("{}", held); };
    const char* quote = is_number(field) ? "" : "\"";
    return invalid(fmt::format("{} is {}{}{}", field.key, quote, std::visit(is, *value), quote), expected(field),
                   read_again);
  }
  if (const char* lacking = lacking_width(reading))
    return invalid(fmt::format("{} is left out", lacking), "both the drawn and the printed width", read_again);
  if (const std::string off = far_off(reading); !off.empty())
    return invalid(off, near_drawn, "Look where the decimal point is, and whether the line is the right one.");
  if (says) return std::nullopt;
  const auto at = json_of(kind_of<Reading>.fields[0], kind_of<Reading>.fields[0].get(reading)).template get<double>();
  return invalid("the reading at " + number_text(at) + " s says nothing", "at least one size or a look",
                 "Add a size in mm, or a look such as crisp.");
}
template std::optional<Error> problem_of(const BracketReading&);
template std::optional<Error> problem_of(const CureDepthReading&);
template std::optional<Error> problem_of(const BaseReading&);

std::optional<Error> too_many_readings(const ResinRecord& record) {
  const std::size_t count = record.bracket.size() + record.cure_depth.size() + record.base.size();
  if (count <= most_readings) return std::nullopt;
  return Error{ErrorKind::limit, record.file, fmt::format("{} readings in one record", count),
               fmt::format("at most {}", most_readings),
               "Keep those of the last evenings, and put the others into a record of their own."};
}

bool has_sizes(const BracketReading& reading) {
  return std::any_of(size_fields.begin(), size_fields.end(),
                     [&](const auto& field) { return field.get(reading).has_value(); });
}

bool has_widths(const BracketReading& reading) {
  return reading.block_mm.printed || reading.slot_mm.printed;
}

const char* lacking_width(const BracketReading& reading) {
  for (const auto& [width, drawn, printed] : {std::tuple{reading.block_mm, "block_mm.drawn", "block_mm.printed"},
                                              std::tuple{reading.slot_mm, "slot_mm.drawn", "slot_mm.printed"}}) {
    if (width.drawn.has_value() != width.printed.has_value()) return width.drawn ? printed : drawn;
  }
  return nullptr;
}

std::optional<double> size_mm(const Field<BracketReading>& field, const BracketReading& reading) {
  std::optional<double> number;
  table::take(number, field.get(reading));
  return number;
}

}  // namespace hairline
