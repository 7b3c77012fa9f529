// Which keys sound like which setting, and what its values usually are.
#pragma once
#include "hairline/describe.hpp"
#include "key_words.hpp"
#include "text_values.hpp"

namespace hairline::archive {

/// A value of a text, its key understood.
struct ReadValue {
  TextValue at;
  KeyWords words;
  std::optional<double> number;
};
ReadValue understand(TextValue value);

/// The unit of a value, and between what it usually lies, in ours.
struct Usual {
  Meanings dimension;  ///< `name`: a text, `mirror`: a flag, `countish` and `subpixel`: a whole number
  double from, to;
};

/// One way in which a key may name a setting.
struct SettingRule {
  const char* path;             ///< or "plate_x", "plate_y": the size of the plate, mm, from which a pitch follows
  std::vector<Meanings> needs;  ///< of each set at least one meaning; at least one need is met by the inner words
  Meanings not_all;             ///< none of these anywhere
  Meanings not_own;             ///< none of these in the inner words
  Usual usual;
  Sureness at_best;
};
const std::vector<SettingRule>& setting_rules();

/// "motion.rest_s" of a rule as the setting it is: before the light, or after it.
std::string rest_path(const ReadValue& value);

/// A value that may be a setting.
struct Candidate {
  std::string path;
  std::size_t value = 0;  ///< index into the values
  double score = 0;
  double factor = 1;
  std::string unit;
  std::string why;
  Sureness sureness = Sureness::sure;
  std::optional<double> number;  ///< in our unit; unset: a text or a flag
};
/// Nothing where the rule does not fit.
std::optional<Candidate> fit(const SettingRule& rule, const ReadValue& value);

}  // namespace hairline::archive
