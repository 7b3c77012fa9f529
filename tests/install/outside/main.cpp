// outside FOLDER: writes the demo there, checks its name plate, prints the report as JSON.
#include <cstdio>
#include <hairline/analyse.hpp>
#include <hairline/demo.hpp>
#include <hairline/version.hpp>

int main(int, char** argv) {
  const auto written = hairline::write_demo(argv[1], {.night_long = false});
  if (!written) return 1;
  const std::filesystem::path folder = argv[1];
  const auto job = hairline::Archive::open(folder / "nameplate.zip");
  const auto record = hairline::read_record(folder / "harbour-grey.json");
  if (!job || !record) return 2;
  hairline::AnalyseSettings settings;
  settings.tonight.today = "2026-11-07";
  hairline::Progress progress;
  const auto report = hairline::analyse(*job, &*record, settings, progress);
  if (!report) return 3;
  std::fputs(hairline::to_json(*report).c_str(), stdout);
  static_assert(HAIRLINE_VERSION_MAJOR >= 0 && sizeof(HAIRLINE_VERSION) > 5);
}
