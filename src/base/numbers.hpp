/// Numbers as people write them, and what a number may be. One Range for files, CSV cells, options and answers.
#pragma once
#include <optional>
#include <string>

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

/// A number as people write it: 4 significant digits, no trailing zeros.
std::string plain(double value);

/// Six significant digits, as reports are written: below what any measure here is good for, and free of the last bits'
/// noise. The same again changes nothing; no negative zero.
double six_digits(double value);
/// Twelve, as settings are taken: so 2300 ms are 2.3 s and not a hair more.
double twelve_digits(double value);

}  // namespace hairline
