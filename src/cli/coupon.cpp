// coupon: the test piece, drawn for a resin that is not known yet or for the blur of a record.
#include "hairline/coupon.hpp"

#include <fmt/format.h>

#include "commands.hpp"
#include "hairline/document.hpp"
#include "options.hpp"
#include "outputs.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {

int tell_coupon(const std::string& folder, const CouponSettings& settings, const Context& context) {
  const auto written = with_bar(context, "coupon", [&] { return write_coupon(folder, settings, &context.progress); });
  if (!written) return fail(written.error());
  if (const int status = tell_written(written->files); status != status_fine) return status;
  const auto steps = coupon_steps(settings, written->prints);
  Document said;
  for (std::size_t i = 0; i < steps.size(); ++i)
    if (!steps[i].empty())
      said.push_back(Item{.lead = std::array{"print", "", "or", "then", ""}[i], .text = steps[i], .lead_columns = 6});
  return tell("\n" + show_terminal(said, style_of(context.console)));
}

namespace {

struct Options {
  std::string folder;
  CouponSettings settings;
  std::optional<double> pitch_y_mm;  // unset: as in x
  std::uint32_t width_px = 0, height_px = 0;
  RecordChoice record;  // none named: drawn for a usual blur
};

// The record of the choice, of a blur that wedges can be drawn for.
Result<ResinRecord> fitted_record(const Options& options) {
  const auto records = read_records(options.record);
  if (!records) return tl::unexpected(records.error());
  JobSettings labels;
  labels.resin_label = options.settings.resin_label;
  labels.printer_label = options.settings.printer_label;
  auto record = record_for(*records, labels);
  if (!record) return tl::unexpected(record.error());
  if (record->fit->blur_shape != BlurShape::gaussian) {
    return tl::unexpected(Error{ErrorKind::usage, record->file, "its blur is lorentzian",
                                "a record with gaussian blur, which wedges can be drawn for",
                                "Leave out --record: the coupon is then drawn as for a resin that is not known yet."});
  }
  return record;
}

// A record may lie where the coupon goes, but not in the place of one of its files.
Result<void> keep_record(const Options& options) {
  const std::filesystem::path folder = options.folder;
  std::vector<std::filesystem::path> outputs = {folder / "coupon.stl", folder / "coupon-sheet.html"};
  for (const double exposure_s : options.settings.exposures_s) outputs.push_back(folder / coupon_file_name(exposure_s));
  return keep_from(outputs, files_read({}, {}, &options.record));
}

int run(const Options& options, const Context& context) {
  CouponSettings settings = options.settings;
  settings.pitch.y_mm = options.pitch_y_mm.value_or(settings.pitch.x_mm);
  if (options.width_px > 0) settings.image = Size{options.width_px, options.height_px};
  if (!options.record.record.empty()) {
    const auto record = fitted_record(options);
    if (!record) return fail(record.error());
    settings.blurs = BlurRange{record->fit->blur_mm, record->fit->blur_mm};
    settings.record = *record;
    settings.record_file = record->file;
    if (auto kept = keep_record(options); !kept) return fail(kept.error());
  }
  return tell_coupon(options.folder, settings, context);
}

void add_exposures(CLI::App& app, std::vector<double>& exposures_s) {
  const auto read = [&exposures_s](const std::vector<std::string>& texts) {
    const std::string list = fmt::format("{}", fmt::join(texts, " "));
    exposures_s = typed_numbers(list, seconds.range);
    if (exposures_s.empty())
      throw CLI::ValidationError(
          "--exposures", fmt::format("\"{}\" does not fit; expected times in s such as 2.0,2.4 or 2,0 2,4", list));
  };
  app.add_option_function<std::vector<std::string>>(
         "--exposures", read, "Normal exposures to print, s; with decimal commas set spaces between: 2,0 2,4")
      ->required()
      ->type_name("S,S,...");
}

}  // namespace

void add_coupon(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "coupon", "Write the test piece: one layer archive per exposure, an STL, a reading sheet",
                  "  hairline coupon --pitch 0.05 --exposures 2.0,2.4,2.8 coupon\n"
                  "  hairline coupon --pitch 0.05 --exposures 2.4,2.8 --record harbour-grey.json coupon");
  Options& options = options_of(command, context, run);
  CouponSettings& coupon = options.settings;
  add_output(command, "folder", options.folder, "Where to; made if missing", "DIR")->required();
  add_number(command, "--pitch", coupon.pitch.x_mm, "Pixel pitch of the printer, mm", millimetres)->required();
  add_number(command, "--pitch-y", options.pitch_y_mm, "Pitch along y, where it differs, mm", millimetres);
  add_number(command, "--height", coupon.layer_height_mm, "Layer height, mm (default 0.05)", millimetres);
  add_exposures(command, coupon.exposures_s);
  add_number(command, "--base", coupon.base_s, "Base exposure, s (default 30)", seconds);
  add_count(command, "--base-layers", coupon.base_layers, "How many base layers (default 5)", 0, 40);
  CLI::Option* width = add_count(command, "--width-px", options.width_px,
                                 "Columns of the printer's image; the coupon is centred on it", 1, 65535);
  CLI::Option* height = add_count(command, "--height-px", options.height_px, "Rows of the printer's image", 1, 65535);
  width->needs(height);
  height->needs(width);
  command.add_option("--label", coupon.label, "Raised on the pad: capitals, digits, space, hyphen, full stop");
  command.add_option("--resin", coupon.resin_label, "Label of the resin, for the manifest");
  command.add_option("--printer", coupon.printer_label, "Label of the printer, for the manifest");
  add_record_choice(command, options.record);
  command.get_option("--record")
      ->description(
          "A record the resin already has (a file, or a resin label in the folder of --records): the wedges are drawn "
          "for its fitted blur, so that they read closer than those for a usual one");
  command.get_option("--records")->description("A folder of records (default: the current one)");
}

}  // namespace hairline::cli
