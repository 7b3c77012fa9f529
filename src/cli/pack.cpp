// pack: any readable job as a layer archive of our own.
#include <filesystem>

#include "commands.hpp"
#include "options.hpp"
#include "outputs.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::string job, output;
  Opening opening;
};

int run(const Options& options, const Context& context) {
  if (auto free = try_outputs({options.output}, files_read({options.job}, options.opening)); !free)
    return fail(free.error());
  const auto open = open_options(options.opening, {}, context.command);
  if (!open) return fail(open.error());
  const auto archive = Archive::open(options.job, *open);
  if (!archive) return fail(archive.error());
  const auto packed = with_bar(context, std::filesystem::path(options.job).filename().string(),
                               [&] { return pack_archive(*archive, options.output, context.progress); });
  if (!packed) return fail(packed.error());
  return tell_written(std::vector<std::filesystem::path>{options.output});
}

}  // namespace

void add_pack(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "pack", "Write a job of any program as a layer archive, with all that was said of it",
                  "  hairline pack own.zip gallery.zip --pitch 0.05 --height 0.05 --exposure 2.5\n"
                  "  hairline pack gallery.3mf gallery.zip --exposure 2.5 --base 30 --base-layers 5");
  Options& options = options_of(command, context, run);
  command.add_option("job", options.job, "A layer archive, any ZIP or folder of masks, or a 3MF package")
      ->required()
      ->type_name("JOB");
  add_output(command, "output", options.output, "The layer archive to write; replaced when it exists")->required();
  add_opening(command, options.opening);
  add_setting(command, options.opening, "--exposure", seconds, {"exposure.normal_s"}, "Normal exposure, s");
}

}  // namespace hairline::cli
