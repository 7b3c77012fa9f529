// A table of readings that a record takes leaves a record that is read again.
#include "hairline/record_edit.hpp"
#include "target.hpp"

void hairline::fuzz::run(std::string_view input) {
  const auto readings = parse_readings_csv(std::string(input), "evening.csv");
  if (!readings) return expect_told(readings.error());
  ResinRecord record = new_record({}, "2026-11-01").value();
  const std::string before = write_record(record);
  const auto added = add_readings(record, *readings, "2026-11-02");
  const std::string after = write_record(record);
  if (!added) {
    expect_told(added.error());
    return expect(after == before, "readings that are refused change nothing");
  }
  const auto again = parse_record(after, "again.json");
  expect(again && write_record(*again) == after, "written and read again it is the same");
}
