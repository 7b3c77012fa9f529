// record list: the records of a folder.
#include "commands.hpp"
#include "hairline/record_edit.hpp"
#include "hairline/say_record.hpp"
#include "options.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::string folder = ".", today;
};

int run(const Options& options, const Context& context) {
  const auto found = find_records(options.folder);
  if (!found) return fail(found.error());
  const Document said = say_records(options.folder, *found, read_uses(user_uses()), date_or_today(options.today));
  return tell(show_terminal(said, style_of(context.console)));
}

}  // namespace

void add_record_list(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "list", "The records of a folder: age, time to use, how sound, when last used",
                                  "  hairline record list\n"
                                  "  hairline record list records");
  Options& options = options_of(command, context, run);
  command.add_option("folder", options.folder, "A folder of records (default: the current one)")
      ->type_name("DIR")
      ->envname("HAIRLINE_RECORDS");
  add_today(command, options.today, "Date the ages are counted to");
}

}  // namespace hairline::cli
