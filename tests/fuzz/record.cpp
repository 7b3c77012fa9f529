// A record that is read is written and read again as the same record.
#include "hairline/record.hpp"

#include "hairline/fit.hpp"
#include "target.hpp"

void hairline::fuzz::run(std::string_view input) {
  const auto record = parse_record(std::string(input), "record.json");
  if (!record) return expect_told(record.error());
  const std::string written = write_record(*record);
  const auto again = parse_record(written, "again.json");
  expect(again && write_record(*again) == written, "written and read again it is the same");
  if (const auto model = fitted_model(*record); !model) expect_told(model.error());
  if (const auto fault = find_contradiction(*record)) expect_told(*fault);
}
