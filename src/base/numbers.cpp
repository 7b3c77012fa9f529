#include "numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <string_view>

#include "ascii.hpp"

namespace hairline {

bool Range::holds(double value) const {
  return std::isfinite(value) && value <= high && (above_low ? value > low : value >= low);
}

std::string Range::words(const char* above, const char* from) const {
  return fmt::format(fmt::runtime(above_low ? above : from), low, high, *unit ? fmt::format(" {}", unit) : "");
}

std::string Range::whole_words() const {
  return words("a whole number over {} and up to {}{}", "a whole number from {} to {}{}");
}

std::optional<double> parse_number(const std::string& text) {
  double value = 0;
  const char* end = text.data() + text.size();
  const auto [stop, problem] = std::from_chars(text.data(), end, value);
  if (problem != std::errc() || stop != end || !std::isfinite(value)) return std::nullopt;
  return value;
}

namespace {

// What people call a unit of ours, in small letters, and how much of ours it is.
struct UnitName {
  std::string_view unit, name;
  double factor = 1;
};
constexpr UnitName unit_names[] = {
    {"mm", "mm"},
    {"mm", "um", 1e-3},
    {"mm", "\xC2\xB5m", 1e-3},  // U+00B5
    {"mm", "\xCE\xBCm", 1e-3},  // U+03BC
    {"mm", "micron", 1e-3},
    {"mm", "microns", 1e-3},
    {"mm", "cm", 10},
    {"s", "s"},
    {"s", "sec"},
    {"s", "second"},
    {"s", "seconds"},
    {"s", "ms", 1e-3},
    {"s", "min", 60},
    {"h", "h"},
    {"h", "hour"},
    {"h", "hours"},
    {"percent", "%"},
    {"percent", "percent"},
    {"", "%", 1e-2},
    {"degrees C", "degrees c"},
    {"degrees C", "c"},
    {"degrees C", "\xC2\xB0\x63"},  // degree sign, c
    {"g/ml", "g/ml"},
    {"g/ml", "g/cm3"},
    {"g/ml", "kg/l"},
    {"mW/cm2", "mw/cm2"},
    {"mW/cm2", "mw/cm\xC2\xB2"},  // square
    {"per litre", "per litre"},
    {"per litre", "/l"},
    {"mm/min", "mm/min"},
    {"mm/min", "mm/s", 60},
    {"layers", "layer"},
    {"layers", "layers"},
    {"layers", "step"},
    {"layers", "steps"},
};

// How much of `unit` one of `name` is; 0 where it is none of it.
double factor_of(const std::string& name, std::string_view unit) {
  if (name.empty()) return 1;
  for (const UnitName& one : unit_names)
    if (one.unit == unit && one.name == small_letters(name)) return one.factor;
  return 0;
}

std::string unit_problem(const std::string& name, std::string_view unit) {
  const std::string small = small_letters(name);
  const bool known =
      std::any_of(std::begin(unit_names), std::end(unit_names), [&](const UnitName& one) { return one.name == small; });
  if (known && !unit.empty()) return fmt::format("in {}, not {}", name, unit);
  return fmt::format("what is \"{}\"?", name);
}

// "1,500": up to three digits, and three behind the comma.
bool like_thousands(std::string_view number, std::size_t comma) {
  return comma >= 1 && comma <= 3 && number.size() == comma + 4 && number[0] != '0' &&
         std::all_of(number.begin(), number.end(), [](char c) { return is_digit(c) || c == ',' || c == '.'; });
}

// The numbers of a text with the units that stand behind them, as texts.
std::vector<std::string> apart(std::string text) {
  const auto lies_between = [](char c) { return c == ' ' || c == '\t' || c == ';'; };
  for (std::size_t at; (at = text.find(", ")) != std::string::npos;) text[at] = ' ';
  std::vector<std::string> parts;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t to = static_cast<std::size_t>(
        std::find_if(text.begin() + static_cast<std::ptrdiff_t>(from), text.end(), lies_between) - text.begin());
    const std::string part = text.substr(from, to - from);
    from = to + 1;
    if (part.empty()) continue;
    const bool number = is_digit(part[0]) || part[0] == '.' || part[0] == '-';
    if (number || parts.empty())
      parts.push_back(part);
    else
      parts.back() += " " + part;
  }
  return parts;
}

double digits_of(double value, int behind_point) {
  if (!std::isfinite(value)) return value;
  double rounded = 0;
  const std::string text = fmt::format("{:.{}e}", value, behind_point);
  std::from_chars(text.data(), text.data() + text.size(), rounded);
  return rounded == 0 ? 0 : rounded;
}

}  // namespace

double six_digits(double value) {
  return digits_of(value, 5);
}
double twelve_digits(double value) {
  return digits_of(value, 11);
}

TypedNumber typed_number(const std::string& given, const Range& range) {
  std::string text(trimmed(given, " \t\r\n"));
  const auto comma = text.find(',');
  const bool decimal_comma = comma != std::string::npos && text.find('.') == std::string::npos &&
                             comma + 1 < text.size() && is_digit(text[comma + 1]);
  if (decimal_comma) text[comma] = '.';
  double number = 0;
  const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc() || !std::isfinite(number)) return {};
  const std::string unit(trimmed({stop, static_cast<std::size_t>(text.data() + text.size() - stop)}, " \t\r\n"));
  const double factor = factor_of(unit, range.unit);
  if (factor == 0) return {{}, unit_problem(unit, range.unit)};
  const double value = factor == 1 ? number : twelve_digits(number * factor);
  const std::string_view digits(text.data(), static_cast<std::size_t>(stop - text.data()));
  if (decimal_comma && like_thousands(digits, comma) && range.holds(value) && range.holds(value * 1000))
    return {{}, fmt::format("{} or {}? Write it without the comma", number, number * 1000)};
  return {value, ""};
}

std::vector<double> typed_numbers(const std::string& text, const Range& range) {
  std::vector<std::string> parts = apart(text);
  if (parts.size() < 2 || text.find('.') != std::string::npos) {
    std::vector<std::string> cut;
    for (const std::string& part : parts)
      for (std::string& piece : cut_at(part, ',')) cut.push_back(std::move(piece));
    parts = std::move(cut);
  }
  const auto unit_at = parts.empty() ? std::string::npos : parts.back().find_last_of("0123456789.");
  const std::string unit = unit_at == std::string::npos ? "" : parts.back().substr(unit_at + 1);
  std::vector<double> numbers;
  for (const std::string& part : parts) {
    const bool bare = !part.empty() && (is_digit(part.back()) || part.back() == '.');
    const auto number = typed_number(bare ? part + unit : part, range).value;
    if (!number || !range.holds(*number)) return {};
    numbers.push_back(*number);
  }
  return numbers;
}

std::string quoted(const std::string& text, const Range& range) {
  const std::string problem = typed_number(text, range).problem;
  return fmt::format("\"{}\"{}", text, problem.empty() ? "" : " (" + problem + ")");
}

double even_step(double least) {
  if (!(least > 0)) return 1;
  const double power = std::pow(10.0, std::floor(std::log10(least)));
  for (const double times : {1.0, 2.0, 5.0})
    if (least <= times * power) return times * power;
  return 10 * power;
}

std::string number_text(double value) {
  return fmt::format("{:.4g}", value);
}

}  // namespace hairline
