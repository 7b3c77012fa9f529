// Fields written as JSON by the functions `each_field` (report_blocks.hpp, queue_fields.hpp), straight into text, part
// by part: a night's job may have a hundred thousand details. Internal to src/report.
#pragma once
#include <fmt/format.h>

#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "../base/fields.hpp"
#include "hairline/local_time.hpp"
#include "report_blocks.hpp"
#include "words.hpp"

namespace hairline {

// Text on its way to a sink.
struct Outgoing {
  const TextSink& sink;
  std::string text = {};
  bool wanted = true;
  double (*digits)(double) = six_digits;
  void send() {
    wanted = wanted && sink(text);
    text.clear();
  }
  void send_if_long() {
    if (text.size() >= std::size_t{1} << 16) send();
  }
};

struct Visitor {
  static constexpr bool reads = false;
};
template <class T>
concept HasFields = requires(Visitor& f, const T& value) {
  each_field(f, value);
};

// Objects and lists of objects with an indent of two spaces; lists of numbers and of texts on one line, for a night's
// job has thousands of layers. Names are our own: nothing to escape.
class FieldWriter {
 public:
  static constexpr bool reads = false;
  explicit FieldWriter(Outgoing& out, std::size_t depth = 0) : out_(out), depth_(depth) { out_.text += '{'; }

  template <class T>
  void operator()(const char* name, const T& value, const Range& = amount) {
    begin_field(name);
    write(value);
    out_.send_if_long();
  }
  void or_null(const char* name, double value) { (*this)(name, value); }
  void later(const char* name, const auto& value) { (*this)(name, value); }
  // An object with one more field than its struct.
  void with(const char* name, const std::optional<Bulk>& value, const char* also, double also_value) {
    if (!value) return (*this)(name, value);
    begin_field(name);
    FieldWriter inner(out_, depth_ + 1);
    each_field(inner, *value);
    inner(also, also_value);
    inner.end();
  }
  template <class T>
  void column(const char* name, const std::vector<LayerRow>& rows, T LayerRow::*member) {
    begin_field(name);
    write_line(rows, [&](const LayerRow& row) { write(row.*member); });
  }
  void later_column(const char* name, const std::vector<LayerRow>& rows, LayerKind LayerRow::*member) {
    column(name, rows, member);
  }
  void later_column(const char* name, const std::vector<LayerRow>& rows, PlaceMm LayerRow::*member,
                    std::optional<double> LayerRow::*where_set) {
    begin_field(name);
    write_line(rows, [&](const LayerRow& row) { row.*where_set ? write(row.*member) : write_null(); });
  }
  void end() { new_line(depth_), out_.text += '}'; }

 private:
  void begin_field(const char* name) {
    if (!first_) out_.text += ',';
    first_ = false;
    new_line(depth_ + 1);
    out_.text += fmt::format("\"{}\": ", name);
  }
  void new_line(std::size_t depth) { out_.text += '\n' + std::string(2 * depth, ' '); }

  void write_null() { out_.text += "null"; }
  void write(bool value) { out_.text += value ? "true" : "false"; }
  void write(std::integral auto value) { out_.text += fmt::format("{}", value); }
  void write(double value) {
    std::isfinite(value) ? void(out_.text += fmt::format("{}", out_.digits(value))) : write_null();
  }
  void write(const std::string& value) { out_.text += json_text(value); }
  void write(const char* value) { write(std::string(value)); }
  template <class Enum>
  requires std::is_enum_v<Enum>
  void write(Enum value) { write(word_of(value)); }
  void write(LocalTime time) { write(to_string(time)); }
  void write(const PlaceMm& at) { write(std::array{at.x, at.y, at.z}); }
  void write(const BoxMm& box) { write(std::array{box.from, box.to}); }
  template <class T>
  void write(const std::optional<T>& value) {
    value ? write(*value) : write_null();
  }
  template <class T, std::size_t n>
  void write(const std::array<T, n>& values) {
    write_line(values, [&](const T& value) { write(value); });
  }
  template <HasFields T>
  void write(const T& value) {
    FieldWriter inner(out_, depth_ + 1);
    each_field(inner, value);
    inner.end();
  }
  template <class T>
  requires(!HasFields<std::vector<T>>) void write(const std::vector<T>& values) {
    if (!HasFields<T> || values.empty()) return write_line(values, [&](const T& value) { write(value); });
    out_.text += '[';
    ++depth_;
    for (const T& value : values) {
      if (&value != values.data()) out_.text += ',';
      new_line(depth_ + 1);
      write(value);
      out_.send_if_long();
    }
    --depth_;
    new_line(depth_ + 1);
    out_.text += ']';
  }
  void write_line(const auto& values, auto write_one) {
    out_.text += '[';
    for (const auto& value : values) {
      if (&value != &*values.begin()) out_.text += ", ";
      write_one(value);
    }
    out_.text += ']';
  }

  Outgoing& out_;
  std::size_t depth_;
  bool first_ = true;
};

// A whole file of this kind, part by part.
template <class T>
void write_fields(const JsonKind& kind, const T& value, const TextSink& sink, double (*digits)(double) = six_digits) {
  Outgoing out{.sink = sink, .digits = digits};
  FieldWriter json(out);
  json("format", kind.format);
  json("version", std::stoi(kind.version));
  each_field(json, value);
  json.end();
  out.text += '\n';
  out.send();
}

// The same as one text.
template <class T>
std::string written(const JsonKind& kind, const T& value, double (*digits)(double) = six_digits) {
  std::string text;
  const auto take = [&text](std::string_view part) {
    text += part;
    return true;
  };
  write_fields(kind, value, take, digits);
  return text;
}

}  // namespace hairline
