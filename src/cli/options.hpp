// What a person asked for, as plain values; the one place that knows the option names.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "../calibrate/reading_fields.hpp"
#include "hairline/queue.hpp"
#include "hairline/report.hpp"
#include "hairline/stale.hpp"

namespace hairline::cli {

// From which verdict on the exit status is 1.
enum class FailOn : std::uint8_t { clear, caution, hold, never };

struct Outputs {
  std::string json, csv;  // a path, "-" for stdout, or empty
  std::uint32_t details = 10;
};

// Which record: a file, or the label of one in the folder `records`, or the one there that matches the job.
struct RecordChoice {
  std::string record, records;
};

struct Judging {
  std::optional<double> exposure_s;
  double dose_spread = 0.05, visible_mm = 0.1;
  std::uint32_t threads = 0;
  std::string today;
  JobContext tonight;  ///< lamp and temperature as given
  FailOn fail_on = FailOn::hold;
};

enum class CheckKind : std::uint8_t { check, measure, sweep };
struct CheckOptions {
  CheckKind kind = CheckKind::check;
  std::vector<std::string> jobs;
  RecordChoice record;
  Judging judging;
  SweepSettings sweep;
  Outputs outputs;
};

struct QueueOptions {
  std::vector<std::string> paths;
  RecordChoice record;
  Judging judging;
  QueueTimes times;
  std::string json_folder;
};

struct DemoOptions {
  std::string folder;
  bool small_only = false;
};

struct CouponOptions {
  std::string folder;
  double pitch_mm = 0.05, height_mm = 0.05;
  std::optional<double> pitch_y_mm;  // unset: as in x
  std::vector<double> exposures_s;
  std::optional<double> base_s;
  std::optional<std::uint32_t> base_layers, width_px, height_px;
  std::string label, resin, printer;
  RecordChoice record;  // none named: drawn for a usual blur
};

struct RecordNewOptions {
  std::string file;
  ResinRecord facts;
  bool replace = false;
};
struct RecordReadOptions {
  std::string file, csv, today;
  Cells cells;  // what was read, as given
  bool replace = false;
};
struct RecordFitOptions {
  std::string file, today;
};
struct RecordShowOptions {
  std::string file, today;
};
struct RecordPlanOptions {
  std::string file;
  std::uint32_t times = 3;
};

// Help or version was asked for: print it and be done.
struct Answer {
  std::string text;
};

struct Options {
  std::optional<std::uint32_t> columns;
  std::variant<Answer, CheckOptions, QueueOptions, DemoOptions, CouponOptions, RecordNewOptions, RecordReadOptions,
               RecordFitOptions, RecordShowOptions, RecordPlanOptions>
      command;
};

// Fails with usage, naming the option and what it takes.
Result<Options> read_options(int argc, const char* const* argv);

}  // namespace hairline::cli
