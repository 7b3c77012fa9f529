// A manifest that is read is written and read again as the same settings.
#include "hairline/archive.hpp"
#include "target.hpp"

void hairline::fuzz::run(std::string_view input) {
  const auto settings = parse_manifest(std::string(input), "manifest.json");
  if (!settings) return expect_told(settings.error());
  const auto again = parse_manifest(write_manifest(*settings), "again.json");
  expect(again.has_value(), "what was written is read");
  expect(write_manifest(*again) == write_manifest(*settings), "written and read again it is the same");
}
