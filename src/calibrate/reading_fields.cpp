#include "reading_fields.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;
using Name = const char* FieldRule::*;  // how an error calls a field: by its key or its option

bool is_number(const FieldRule& rule) {
  return rule.holds == Holds::number || rule.holds == Holds::whole;
}

bool fits(const FieldRule& rule, double number) {
  return rule.range.holds(number) && (rule.holds == Holds::number || number == std::floor(number));
}

bool fits(const FieldRule& rule, const std::string& text) {
  if (rule.holds == Holds::date) return day_number(text).has_value();
  return rule.holds == Holds::text || std::find(rule.words.begin(), rule.words.end(), text) != rule.words.end();
}

// std::get would throw on the wrong kind; a rule and its member never disagree.
double number_in(const FieldValue& value) {
  const double* number = value ? std::get_if<double>(&*value) : nullptr;
  return number ? *number : 0;
}
std::string text_in(const FieldValue& value) {
  const std::string* text = value ? std::get_if<std::string>(&*value) : nullptr;
  return text ? *text : "";
}

template <std::size_t N>
std::optional<std::size_t> place_in(const char* const (&words)[N], std::string_view text) {
  const auto at = std::find(std::begin(words), std::end(words), text);
  return at == std::end(words) ? std::nullopt : std::optional<std::size_t>(at - std::begin(words));
}

FieldValue read_value(const Fields& from, const FieldRule& rule) {
  const bool textual = !is_number(rule);
  if (!rule.required && (textual ? from.optional_text(rule.key).empty() : !from.has(rule.key))) return std::nullopt;
  switch (rule.holds) {
    case Holds::number:
      return from.number(rule.key, rule.range);
    case Holds::whole:
      return value_of(from.whole(rule.key, rule.range));
    case Holds::word:
      return rule.words[from.word(rule.key, rule.words)];
    default:
      break;
  }
  const std::string text = from.text(rule.key);
  if (!fits(rule, text)) from.wrong(rule.key, expected(rule));
  return text;
}

// A value that is not known becomes null, unless the empty text already says so.
void put(Json& object, const std::string& key, const FieldRule& rule, const FieldValue& value) {
  if (const auto stop = key.find('.'); stop != std::string::npos) {
    Json& inner = object[key.substr(0, stop)];
    if (!inner.is_object() && !value) return;
    if (!inner.is_object()) inner = Json::object();
    return put(inner, key.substr(stop + 1), rule, value);
  }
  if (!value) {
    if (object.contains(key) && object[key] != "") object[key] = nullptr;
  } else if (rule.holds == Holds::whole) {
    object[key] = static_cast<std::int64_t>(number_in(value));
  } else if (is_number(rule)) {
    object[key] = number_in(value);
  } else {
    object[key] = text_in(value);
  }
}

Error invalid(std::string found, std::string expected, std::string advice) {
  return {ErrorKind::invalid, "", std::nullopt, std::move(found), std::move(expected), std::move(advice)};
}

constexpr const char* read_again = "Read it again, or leave it out.";

const std::string* given(const Cells& cells, const FieldRule& rule) {
  const auto cell = cells.find(rule.key);
  return cell == cells.end() || cell->second.empty() ? nullptr : &cell->second;
}

template <class Reading>
Result<AnyReading> made(const Cells& cells, Name name) {
  Reading reading;
  for (const auto& field : fields_of(reading)) {
    const std::string* cell = given(cells, field);
    if (!cell && !field.required) continue;
    if (!cell) return tl::unexpected(invalid(fmt::format("no {}", field.*name), expected(field), read_again));
    const FieldValue value = value_from(field, *cell);
    if (!value) {
      const auto number = parse_number(*cell);
      const std::string is = number ? fmt::format("{}", *number) : fmt::format("\"{}\"", *cell);
      return tl::unexpected(invalid(fmt::format("{} is {}", field.*name, is), expected(field), read_again));
    }
    field.set(reading, value);
  }
  if (auto problem = problem_of(reading)) return tl::unexpected(*problem);
  return reading;
}

// Whether cells say more of this kind of reading than the exposure that a coupon and a cure depth share.
template <class Reading>
bool spoken_of(const Cells& cells) {
  const auto fields = fields_of(Reading{});
  return std::any_of(fields.begin(), fields.end(), [&](const FieldRule& rule) {
    return given(cells, rule) && std::string_view(rule.key) != coupon_exposure.key;
  });
}

}  // namespace

std::string expected(const FieldRule& rule) {
  switch (rule.holds) {
    case Holds::number:
      return rule.range.words();
    case Holds::whole:
      return rule.range.whole_words();
    case Holds::word:
      return any_of(rule.words);
    case Holds::date:
      return "a date as YYYY-MM-DD";
    case Holds::text:
      break;
  }
  return "a text";
}

FieldValue value_from(const FieldRule& rule, const std::string& text) {
  if (!is_number(rule)) return fits(rule, text) ? FieldValue(text) : std::nullopt;
  const auto number = parse_number(text);
  return number && fits(rule, *number) ? FieldValue(*number) : std::nullopt;
}

FieldValue value_of(double number) {
  return number;
}
FieldValue value_of(std::uint32_t number) {
  return static_cast<double>(number);
}
FieldValue value_of(const std::optional<double>& number) {
  return number ? FieldValue(*number) : std::nullopt;
}
FieldValue value_of(const std::string& text) {
  return text.empty() ? std::nullopt : FieldValue(text);
}
FieldValue value_of(const std::optional<Look>& look) {
  return look ? FieldValue(to_string(*look)) : std::nullopt;
}
FieldValue value_of(BaseResult result) {
  return to_string(result);
}
FieldValue value_of(bool ladder) {
  return ladder ? FieldValue(ladder_words[0]) : std::nullopt;
}

void take(double& number, const FieldValue& value) {
  number = number_in(value);
}
void take(std::uint32_t& number, const FieldValue& value) {
  number = static_cast<std::uint32_t>(number_in(value));
}
void take(std::optional<double>& number, const FieldValue& value) {
  number = value ? std::optional(number_in(value)) : std::nullopt;
}
void take(std::string& text, const FieldValue& value) {
  text = text_in(value);
}
void take(std::optional<Look>& look, const FieldValue& value) {
  look = look_from(text_in(value));
}
void take(BaseResult& result, const FieldValue& value) {
  result = base_result_from(text_in(value)).value_or(result);
}
void take(bool& ladder, const FieldValue& value) {
  ladder = value.has_value();
}

std::string to_string(Look look) {
  return look_words[static_cast<std::size_t>(look)];
}
std::string to_string(BaseResult result) {
  return base_words[static_cast<std::size_t>(result)];
}
std::optional<Look> look_from(std::string_view text) {
  const auto place = place_in(look_words, text);
  return place ? std::optional(static_cast<Look>(*place)) : std::nullopt;
}
std::optional<BaseResult> base_result_from(std::string_view text) {
  const auto place = place_in(base_words, text);
  return place ? std::optional(static_cast<BaseResult>(*place)) : std::nullopt;
}

const std::vector<FieldRule>& reading_rules() {
  static const std::vector<FieldRule> rules = [] {
    std::vector<FieldRule> all(bracket_fields.begin(), bracket_fields.end());
    all.insert(all.end(), cure_depth_fields.begin(), cure_depth_fields.end());
    all.insert(all.end(), base_fields.begin(), base_fields.end());
    std::vector<FieldRule> once;
    for (const FieldRule& rule : all) {
      const auto same = [&](const FieldRule& other) { return std::string_view(other.key) == rule.key; };
      if (std::none_of(once.begin(), once.end(), same)) once.push_back(rule);
    }
    return once;
  }();
  return rules;
}

template <class Owner>
void read_fields(const Fields& from, Owner& into) {
  for (const auto& field : fields_of(into)) field.set(into, read_value(from, field));
}
template void read_fields(const Fields&, BracketReading&);
template void read_fields(const Fields&, CureDepthReading&);
template void read_fields(const Fields&, BaseReading&);
template void read_fields(const Fields&, ResinRecord&);

template <class Reading>
std::string entry_text(const Reading& reading) {
  Json entry = object_in(reading.source);
  for (const auto& field : fields_of(reading)) put(entry, field.key, field, field.get(reading));
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
  if (given(cells, base_fields[0])) return made<BaseReading>(cells, &FieldRule::key);
  if (given(cells, cure_depth_fields[1])) return made<CureDepthReading>(cells, &FieldRule::key);
  return made<BracketReading>(cells, &FieldRule::key);
}

Result<std::vector<AnyReading>> readings_from_options(const Cells& cells) {
  std::vector<Result<AnyReading>> all;
  const bool depth = spoken_of<CureDepthReading>(cells), exposure = given(cells, coupon_exposure);
  if (spoken_of<BracketReading>(cells) || (exposure && !depth))
    all.push_back(made<BracketReading>(cells, &FieldRule::option));
  if (depth) all.push_back(made<CureDepthReading>(cells, &FieldRule::option));
  if (spoken_of<BaseReading>(cells)) all.push_back(made<BaseReading>(cells, &FieldRule::option));
  std::vector<AnyReading> readings;
  for (auto& reading : all) {
    if (!reading) return tl::unexpected(reading.error());
    readings.push_back(std::move(*reading));
  }
  return readings;
}

template <class Reading>
std::optional<Error> problem_of(const Reading& reading) {
  bool says = false;
  for (const auto& field : fields_of(reading)) {
    const FieldValue value = field.get(reading);
    if (!value) continue;
    says = says || field.role == Role::size || field.role == Role::seen;
    if (std::visit([&](const auto& held) { return fits(field, held); }, *value)) continue;
    const std::string text = is_number(field) ? fmt::format("{}", number_in(value)) : '"' + text_in(value) + '"';
    return invalid(fmt::format("{} is {}", field.key, text), expected(field), read_again);
  }
  if (says) return std::nullopt;
  return invalid("the reading at " + plain(number_in(fields_of(reading)[0].get(reading))) + " s says nothing",
                 "at least one size or a look", "Add a size in mm, or a look such as crisp.");
}
template std::optional<Error> problem_of(const BracketReading&);
template std::optional<Error> problem_of(const CureDepthReading&);
template std::optional<Error> problem_of(const BaseReading&);

bool has_sizes(const BracketReading& reading) {
  return std::any_of(size_fields.begin(), size_fields.end(),
                     [&](const auto& field) { return field.get(reading).has_value(); });
}

std::optional<double> size_mm(const Field<BracketReading>& field, const BracketReading& reading) {
  std::optional<double> number;
  take(number, field.get(reading));
  return number;
}

}  // namespace hairline
