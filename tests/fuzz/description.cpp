// A description of archives, and behind a NUL the settings file that all of its keys are looked up in.
#include <cmath>

#include "hairline/foreign.hpp"
#include "target.hpp"

using namespace hairline;

namespace {

void look_up(const SettingSource& source, const std::string& settings_file) {
  const auto found = find_value(settings_file, "settings", source.syntax, source.key);
  if (!found) return fuzz::expect_told(found.error());
  if (!*found) return;
  const auto number = leading_number(**found);
  fuzz::expect(!number || std::isfinite(*number), "a number is finite");
}

}  // namespace

void hairline::fuzz::run(std::string_view input) {
  const std::size_t end = std::min(input.find('\0'), input.size());
  const auto description = parse_description(std::string(input.substr(0, end)), "description.json");
  if (!description) return expect_told(description.error());
  const std::string written = write_description(*description);
  const auto again = parse_description(written, "again.json");
  expect(again && write_description(*again) == written, "written and read again it is the same");
  for (const SettingSource& source : description->settings)
    if (source.from == SettingSource::From::entry)
      look_up(source, std::string(input.substr(std::min(end + 1, input.size()))));
}
