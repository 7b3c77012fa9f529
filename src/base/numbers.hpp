/// Numbers as people write them, and what a number may be. One Range for files, CSV cells, options and answers.
#pragma once
#include <optional>
#include <string>
#include <vector>

namespace hairline {

/// From `low` to `high`, both allowed (`low` only where `above_low` is not set). Never holds NaN or an infinity.
struct Range {
  double low = 0, high = 0;
  bool above_low = false;  ///< low itself is not allowed
  const char* unit = "";

  bool holds(double value) const;
  /// "a number over 0 and up to 5 mm", "a number from 0 to 1 mm". The patterns are fmt's: low, high, unit with a space
  /// before it.
  std::string words(const char* above = "a number over {} and up to {}{}",
                    const char* from = "a number from {} to {}{}") const;
  /// "a whole number from 0 to 1000 layers"
  std::string whole_words() const;
};

/// The whole text as one finite decimal number ("2.5", "1e-3"; no sign +, no spaces); none for anything else.
std::optional<double> parse_number(const std::string& text);

/// What a person typed for a number, in the unit of its range; `problem` says of a number that is none of these why.
struct TypedNumber {
  std::optional<double> value;
  std::string problem;
};
/// "0.05", "0,05", "0.05mm", "50 um", "2500 ms". Without a unit it is in that of the range. A comma is a decimal comma;
/// where "1,500" may be 1.5 and 1500 by the range, it is neither. Values beyond the range are given as they are.
TypedNumber typed_number(const std::string& text, const Range& range);
/// Several of them: "2.0,2.4", "2,0 2,4", "0.08 0.09 0.085 mm". Spaces and semicolons lie between numbers; so do
/// commas, unless the numbers are set apart already and have no decimal point. A unit at the end is that of all. Empty
/// where one of them is none or lies beyond the range.
std::vector<double> typed_numbers(const std::string& text, const Range& range);
/// A text as a message quotes it, with its problem: "2 s" (in s, not mm).
std::string quoted(const std::string& text, const Range& range);

/// A number as people write it: 4 significant digits, no trailing zeros: "30", "0.05".
std::string number_text(double value);

/// The least of 1, 2, 5, 10, 20 ... and 0.5, 0.2, 0.1 ... that is `least` or more, for the marks of a scale; 1 for
/// nothing.
double even_step(double least);

/// Six significant digits, as reports are written: below what any measure here is good for, and free of the last bits'
/// noise. The same again changes nothing; no negative zero.
double six_digits(double value);
/// Twelve, as settings are taken: so 2300 ms are 2.3 s and not a hair more.
double twelve_digits(double value);

}  // namespace hairline
