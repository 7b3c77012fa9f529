// What every command has at hand, and the list of all commands. A command is one file: it registers its options and
// runs itself.
#pragma once
#include <CLI/CLI.hpp>
#include <filesystem>
#include <functional>
#include <memory>

#include "console.hpp"
#include "hairline/coupon.hpp"
#include "hairline/progress.hpp"
#include "hairline/record_edit.hpp"

namespace hairline::cli {

inline constexpr int status_fine = 0, status_found = 1, status_not_checked = 2, status_interrupted = 130;

struct Context {
  Progress& progress;  // an interrupt cancels it
  Console console;
  std::string command = {};       // as it was typed, so that it can be typed again
  std::function<int()> run = {};  // the chosen command with its options; gives the exit status
};

// Below `parent`; `examples` are whole lines.
CLI::App& add_command(CLI::App& parent, const char* name, const char* help, const char* examples);

// Options of a command, which live as long as it does; when it is chosen, `run` gets them.
template <class Options>
Options& options_of(CLI::App& command, Context& context, int (*run)(const Options&, const Context&)) {
  const auto options = std::make_shared<Options>();
  command.callback([options, run, &command, &context] {
    if (!command.get_subcommands().empty()) return;  // that one was chosen
    context.run = [options, run, &context] { return run(*options, context); };
  });
  return *options;
}

using AddCommand = void(CLI::App& app, Context& context);
AddCommand add_check, add_measure, add_sweep, add_queue, add_coupon, add_record, add_describe, add_pack, add_desk,
    add_demo, add_completions;
inline constexpr AddCommand* all_commands[] = {add_check,  add_measure, add_sweep,      add_queue,
                                               add_coupon, add_record,  add_describe,   add_pack,
                                               add_desk,   add_demo,    add_completions};
AddCommand add_record_list, add_record_read, add_record_evening;  // below `record`
AddCommand add_queue_merge;                                       // below `queue`

// Says on stderr where other runs could not be kept away.
void tell_unguarded(const std::string& file, const EditedRecord& edited);
// edit_record, and add_record of new_record, with a word on stderr where other runs cannot be kept away.
Result<ResinRecord> change_record(const std::string& file,
                                  const std::function<Result<bool>(ResinRecord& record)>& change,
                                  const Context& context);
Result<ResinRecord> make_record(const std::string& file, const ResinRecord& facts, const std::string& today,
                                bool replace, const Context& context);

struct FileAndDate {
  std::string file, today;
  bool explain = false, leave_out = false;
};
// Fits the record to its readings, and says what came of it.
int run_fit(const FileAndDate& options, const Context& context);
// Writes a coupon, and says what to do with it.
int tell_coupon(const std::string& folder, const CouponSettings& settings, const Context& context);

// Prints the text and ends well, if it can be printed.
int tell(const std::string& text);
// Prints the paths of written files, one a line, or tells why they were not.
int tell_written(const Result<std::vector<std::filesystem::path>>& written);
// Tells the error; 130 when it is the person's own interrupt, else 2.
int fail(const Error& error);
Error cancelled(const std::string& file);
// The call is wrong: of kind usage.
Error usage(std::string found, std::string expected, std::string advice);
// Today as YYYY-MM-DD, or `given` when that is not empty.
std::string date_or_today(const std::string& given);

}  // namespace hairline::cli
