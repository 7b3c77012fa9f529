// record evening: from a bottle to the time to use. What was done is seen by the files of the folder, so that it goes
// on where it stopped.
#include <fmt/format.h>

#include "hairline/files.hpp"
#include "hairline/record_edit.hpp"
#include "options.hpp"
#include "outputs.hpp"
#include "questions.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::string folder, today;
};

// A step's outcome: whether the evening goes on after it; else the person left, or the input ended.
using GoesOn = Result<bool>;

Error other_folder(const std::string& folder, std::size_t records) {
  return {ErrorKind::usage, folder, fmt::format("it holds {} records", records),
          "a folder for one resin on one printer", "Name a folder of its own."};
}

// After a question that was left.
void complain_below(const std::string& text) {
  print_aside("\n");
  complain(text);
}

// Asks the facts; of a record that is there, with what it says in brackets.
GoesOn ask_facts(ResinRecord& record, const Context& context) {
  for (const auto& fact : fact_fields) {
    if (!is_asked_first(fact)) continue;
    const std::string known = record.file.empty() ? "" : text_of(fact, fact.get(record));
    const bool needed = std::string_view(fact.key) == "printer.pitch_mm" && known.empty();
    const auto wrong = [&](const std::string& text) {
      return text.empty() && !needed ? std::string() : misfit(as_coupon_takes(fact), text, record);
    };
    const std::string brackets = known.empty() ? "" : fmt::format(" [{}]", known);
    const auto answer = ask(fact.question + visible(brackets), wrong, context.progress);
    if (!answer) return tl::unexpected(answer.error());
    if (!*answer) return false;
    if (!(*answer)->empty()) fact.set(record, value_from(fact, **answer));
  }
  return true;
}

Result<ResinRecord> keep_facts(const Options& options, const Context& context, const ResinRecord& record) {
  const std::filesystem::path file = std::filesystem::path(options.folder) / record_file_name(record.resin.label);
  if (record.file.empty()) return make_record(file.string(), record, date_or_today(options.today), false, context);
  const auto change = [&](ResinRecord& there) -> Result<bool> {
    for (const auto& fact : fact_fields)
      if (is_asked_first(fact)) fact.set(there, fact.get(record));
    return true;
  };
  return change_record(record.file, change, context);
}

// A record without a pitch is one of an evening that was stopped at these questions: then all are asked again.
GoesOn settle_record(const Options& options, const Context& context, ResinRecord& record) {
  if (auto made = make_folder(options.folder); !made) return tl::unexpected(made.error());
  const auto found = find_records(options.folder);
  if (!found) return tl::unexpected(found.error());
  if (found->size() > 1) return tl::unexpected(other_folder(options.folder, found->size()));
  if (!found->empty()) {
    auto read = read_record(found->front().file);
    if (!read) return tl::unexpected(read.error());
    record = std::move(*read);
    if (record.printer.pitch_mm || !coupons_in(options.folder).empty()) return true;
  }
  const std::string before = write_record(record);
  const auto asked = ask_facts(record, context);
  if (!asked) return asked;
  if (!*asked && (!context.progress.cancelled() || write_record(record) == before)) return false;
  auto kept = keep_facts(options, context, record);
  if (!kept) return tl::unexpected(kept.error());
  record = std::move(*kept);
  if (!*asked && record.printer.pitch_mm)  // it will not be asked again
    complain_below(fmt::format("{}: its layer height is taken as {} mm.", record.file, record.layer_height_mm));
  return asked;
}

std::string coupon_call(double pitch_mm, double height_mm, const std::vector<double>& times,
                        const std::string& folder) {
  return fmt::format("hairline coupon --pitch {} --height {} --exposures {} {}", pitch_mm, height_mm,
                     fmt::join(times, ","), shell_word(folder));
}

// The times to print: as proposed around a guess, or others.
Result<std::vector<double>> ask_times(const CouponSettings& settings, const std::string& folder,
                                      const Context& context) {
  const auto guess = ask("Your guess of the normal exposure, s", guess_misfit, context.progress);
  if (!guess) return tl::unexpected(guess.error());
  if (!*guess) return {};
  const std::vector<double> proposed = times_around(**guess);
  const auto no_times = [&](const std::string& text) { return text.empty() ? "" : times_misfit(text, settings); };
  const auto answer = ask(fmt::format("Times to print, s; an empty line takes these [{}]", fmt::join(proposed, " ")),
                          no_times, context.progress);
  if (!answer) return tl::unexpected(answer.error());
  if (!*answer) {
    complain_below("to print these times, type: " +
                   coupon_call(settings.pitch.x_mm, settings.layer_height_mm, proposed, folder));
    return {};
  }
  return (*answer)->empty() ? proposed : times_from(**answer);
}

GoesOn settle_coupons(const Options& options, const Context& context, const ResinRecord& record) {
  if (!coupons_in(options.folder).empty()) return true;
  CouponSettings settings = coupon_for(record);
  const auto times = ask_times(settings, options.folder, context);
  if (!times) return tl::unexpected(times.error());
  if (times->empty()) return false;
  settings.exposures_s = *times;
  return tell_coupon(options.folder, settings, context) == status_fine;
}

// Asks what was not answered yet of one coupon.
GoesOn read_coupon(const Options& options, const Context& context, double exposure_s, ResinRecord& record) {
  if (auto printed = print(fmt::format("\nThe coupon of {} s\n", exposure_s)); !printed)
    return tl::unexpected(printed.error());
  const Cells known = cells_at(record, exposure_s);
  auto answers = ask_coupon(record, known, context);
  if (!answers) return tl::unexpected(answers.error());
  if (const Cells cells = answers_beyond(known, answers->cells); !cells.empty())
    if (auto taken = take_answers(record.file, cells, {false, options.today}, context, record))
      record = std::move(taken->edited.record);
  return !answers->ended;
}

GoesOn settle_readings(const Options& options, const Context& context, ResinRecord& record) {
  const std::vector<double> open = coupons_to_read(options.folder, record);
  if (open.empty()) return true;
  const auto wrong = [](const std::string& text) {
    return text.empty() || text == "y" || text == "yes" || text == "n" || text == "no" ? "" : "expected yes or no";
  };
  const auto ready = ask(
      fmt::format("\nAre the coupons of {} s printed, washed and cured, to be read now [yes]", fmt::join(open, ", ")),
      wrong, context.progress);
  if (!ready) return tl::unexpected(ready.error());
  if (!*ready || (*ready)->starts_with('n')) return false;
  if (auto printed = print(how_to_answer); !printed) return tl::unexpected(printed.error());
  for (const double exposure_s : open) {
    const auto goes_on = read_coupon(options, context, exposure_s, record);
    if (!goes_on || !*goes_on) return goes_on;
  }
  return true;
}

// How more prints are made and read, after a fit that is weak.
int say_more_prints(const Options& options, const ResinRecord& record) {
  const std::vector<double> times = times_to_print(record);
  if (times.empty()) return status_fine;
  return tell(
      fmt::format("To print more: {}\nThen: hairline record evening {}\n",
                  coupon_call(record.printer.pitch_mm.value_or(0.05), record.layer_height_mm, times, options.folder),
                  shell_word(options.folder)));
}

int left(const Options& options, const Context& context) {
  if (context.progress.cancelled()) {
    complain_below("stopped on request. What you had answered is kept.");
  }
  const int status = tell(fmt::format("\nTo go on, type: hairline record evening {}\n", shell_word(options.folder)));
  return context.progress.cancelled() ? status_interrupted : status;
}

int run(const Options& options, const Context& context) {
  ResinRecord record;
  auto goes_on = settle_record(options, context, record);
  if (goes_on && *goes_on) goes_on = settle_coupons(options, context, record);
  if (goes_on && *goes_on) goes_on = settle_readings(options, context, record);
  if (!goes_on) return fail(goes_on.error());
  if (!*goes_on) return left(options, context);
  if (record.bracket.empty()) return left(options, context);
  if (const int status = run_fit({record.file, options.today}, context); status != status_fine) return status;
  const auto fitted = read_record(record.file);
  return fitted ? say_more_prints(options, *fitted) : fail(fitted.error());
}

}  // namespace

void add_record_evening(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "evening",
                  "Walk from a bottle to the time to use: record, coupons, readings, fit; typed again it "
                  "goes on where it stopped",
                  "  hairline record evening harbour-grey");
  Options& options = options_of(command, context, run);
  add_output(command, "folder", options.folder, "Where record and coupons go; made if missing", "DIR")->required();
  add_today(command, options.today, "Date of record, readings and fit");
}

}  // namespace hairline::cli
