// Random values for every field that a file has.
#pragma once
#include <algorithm>
#include <cmath>
#include <limits>

#include "hairline/local_time.hpp"
#include "report/report_blocks.hpp"
#include "support/random.hpp"

namespace hairline::test {

// Puts random values into every field there is.
struct Fill {
  static constexpr bool reads = false;
  Random& random;
  bool bad_bytes;  // texts may not be UTF-8

  double number(const Range& range) {
    const double high = std::min(range.high, std::pow(10, random.between_real(-4, 6)));
    const double value = random.chance(0.1) ? range.low : random.between_real(range.low, high);
    return six_digits(range.holds(value) ? value : high);
  }
  std::string text() {
    const char* parts[] = {"pier",     " ", "\xC3\xA4", "\xE7\x81\xAF", "\"",      "\\", "\n",
                           "\x1b[31m", "/", "",         "\xFF",         "\xE2\x82"};
    std::string text;
    for (std::uint32_t i = random.below(6); i > 0; --i) text += parts[random.below(bad_bytes ? 12 : 10)];
    return text;
  }

  void operator()(const char*, double& value, const Range& range = amount) { value = number(range); }
  void operator()(const char*, std::uint32_t& value, const Range& range = amount) {
    value = random.between(1, static_cast<std::uint32_t>(std::min(range.high, 3000.0)));
  }
  void operator()(const char*, int& value) { value = static_cast<int>(random.below(500)) - 20; }
  void operator()(const char*, bool& value) { value = random.chance(0.5); }
  void operator()(const char*, std::string& value) { value = text(); }
  template <class Enum>
  requires std::is_enum_v<Enum>
  void operator()(const char*, Enum& value) { value = static_cast<Enum>(random.below(2)); }
  void operator()(const char*, LocalTime& time) {
    time = LocalTime(std::chrono::minutes(random.between(1, 50'000'000)));
  }
  void operator()(const char*, PlaceMm& at) { at = {number(amount), six_digits(-number(amount)), number(amount)}; }
  void operator()(const char* name, BoxMm& box) { (*this)(name, box.from), (*this)(name, box.to); }
  void operator()(const char*, std::array<double, 2>& range) { range = {number(positive), number(positive)}; }
  template <class T>
  void operator()(const char* name, std::optional<T>& value, const Range& range = amount) {
    value.reset();
    if (random.chance(0.3)) return;
    if constexpr (std::same_as<T, double>)
      (*this)(name, value.emplace(), range);
    else
      (*this)(name, value.emplace());
  }
  template <class T>
  void operator()(const char* name, std::vector<T>& values, const Range& = amount) {
    values.resize(random.below(5));
    if constexpr (std::same_as<T, LayerRow>)
      each_field(*this, values);
    else
      for (T& value : values) (*this)(name, value);
  }
  template <class T>
  requires std::is_class_v<T>
  void operator()(const char*, T& value) { each_field(*this, value); }
  void or_null(const char*, double& value) {
    value = random.chance(0.2) ? std::numeric_limits<double>::quiet_NaN() : number(amount);
  }
  void later(const char* name, auto& value) { (*this)(name, value); }
  void with(const char* name, std::optional<Bulk>& value, const char*, double& also) {
    (*this)(name, value);
    also = value ? number(amount) : 0;
  }
  template <class T>
  void column(const char* name, std::vector<LayerRow>& rows, T LayerRow::*member) {
    for (LayerRow& row : rows) (*this)(name, row.*member);
  }
  void later_column(const char* name, std::vector<LayerRow>& rows, auto member, auto...) { column(name, rows, member); }
};

}  // namespace hairline::test
