// describe: a draft of how to read an archive of another program, tried at once.
#include <fmt/format.h>

#include <tuple>

#include "commands.hpp"
#include "hairline/files.hpp"
#include "hairline/say_draft.hpp"
#include "outputs.hpp"
#include "questions.hpp"

namespace hairline::cli {
namespace {

namespace fs = std::filesystem;
using From = SettingSource::From;

struct Options {
  std::string archive, out, label;
};

// What is asked of settings that are one to a person (the pitch in x and y); Enter keeps `kept`.
struct Question {
  std::vector<std::string> paths;
  std::string text, kept;
};

std::vector<Question> questions_of(const Draft& draft) {
  std::vector<Question> out;
  for (const DraftSetting& one : draft.settings) {
    if (one.sureness != Sureness::unsure) continue;
    const SettingField& field = *find_setting_field(one.source.path);
    const std::string unit = *field.unit ? fmt::format(", {}", field.unit) : "";
    const std::string choice = one.source.path == "masks.files" ? fmt::format(" ({})", masks_to_choose(draft)) : "";
    const Question question{{one.source.path}, field.words + unit + visible(choice), one.value};
    if (!out.empty() && out.back().text == question.text && out.back().kept == question.kept)
      out.back().paths.push_back(one.source.path);
    else
      out.push_back(question);
  }
  if (asks_invert(draft))
    out.push_back({{"masks.invert"}, "most of the border is white; is white where no light falls (yes, no)", ""});
  if (draft.masks.subpixels && !draft.masks.subpixels_sure)
    out.push_back({{"masks.subpixels"}, "grey values side by side in one colour pixel (1, 3)", "3"});
  return out;
}

// An empty line keeps the proposal; false: the input ended, which leaves the rest as it is.
Result<bool> ask(const Question& question, Draft& draft, const Progress& progress) {
  const auto take = [&](const std::string& line) {
    Result<void> answered;
    for (const std::string& path : question.paths)
      if (answered && !line.empty()) answered = answer(draft, {path, line});
    return answered ? std::string() : to_paragraph(answered.error());
  };
  const std::string kept = question.kept.empty() ? "" : fmt::format(" [{}]", visible(question.kept));
  const auto line = cli::ask(question.text + kept, take, progress);
  if (!line) return tl::unexpected(line.error());
  return line->has_value();
}

Result<void> ask_all(Draft& draft, const Progress& progress) {
  const std::vector<Question> questions = questions_of(draft);
  if (questions.empty()) return {};
  if (auto printed = print("\nPlease say what is not sure; an empty line keeps what stands in brackets.\n"); !printed)
    return tl::unexpected(printed.error());
  for (const Question& question : questions) {
    const auto go_on = ask(question, draft, progress);
    if (!go_on) return tl::unexpected(go_on.error());
    if (!*go_on) break;
  }
  return {};
}

// The person's own folder of descriptions is made when one is first kept there.
Result<void> prepare(const Options& options) {
  if (options.out.empty()) return {};
  std::error_code error;
  const fs::path folder = fs::absolute(options.out, error).lexically_normal().parent_path();
  if (options.out != "-" && folder == user_descriptions().lexically_normal())
    if (auto made = make_folder(folder); !made) return made;
  const auto settled = settle_outputs({options.archive}, {.json = options.out, .csv = {}}, false, {options.archive});
  if (!settled) return tl::unexpected(settled.error());
  return {};
}

// Where a description is kept without being asked for.
fs::path usual_place(const std::string& archive) {
  return user_descriptions() / (fs::path(archive).lexically_normal().stem().string() + ".json");
}

bool found_by_itself(const fs::path& file) {
  const fs::path folder = user_descriptions();
  std::error_code error;
  return !folder.empty() && fs::absolute(file, error).lexically_normal().parent_path() == folder.lexically_normal();
}

// How a check is typed by a description that is kept in `file`.
std::string check_command(const Options& options, const fs::path& file) {
  return "hairline check " + shell_word(options.archive) +
         (found_by_itself(file) ? "" : " --description " + shell_word(file.string()));
}

// After Ctrl-C at a question: what was asked to be written is written, with the answers so far.
int stopped(const Options& options) {
  std::ignore = print("\n");  // behind the question
  complain("stopped on request." + (options.out.empty() ? "" : " What you had answered is in " + options.out + "."));
  return status_interrupted;
}

int run(const Options& options, const Context& context) {
  if (auto ready = prepare(options); !ready) return fail(ready.error());
  auto draft = draft_description(options.archive);
  if (!draft) return fail(draft.error());
  if (context.progress.cancelled()) return fail(cancelled(options.archive));
  if (!options.label.empty()) draft->description.label = options.label;
  const bool only_json = options.out == "-";
  const TerminalStyle style = style_of(context.console);
  if (!only_json) {
    const int status = tell(show_terminal(say_draft(*draft, options.archive), style));
    if (status != status_fine) return status;
    if (context.console.questions)
      if (auto asked = ask_all(*draft, context.progress); !asked) return fail(asked.error());
  }
  if (!options.out.empty())
    if (auto wrote = write_output(options.out, write_description(draft->description)); !wrote)
      return fail(wrote.error());
  if (only_json) return status_fine;  // all there is was written
  if (context.progress.cancelled()) return stopped(options);
  const fs::path file = options.out.empty() ? usual_place(options.archive) : fs::path(options.out);
  OpenOptions opening;
  opening.description = draft->description;
  opening.command = check_command(options, file);
  const auto tried = Archive::open(options.archive, opening);
  const bool asks = !tried && !tried.error().command.empty();
  std::string check = asks ? tried.error().command : opening.command;
  if (check.find("--record") == std::string::npos) check += " --record RECORD";
  const std::string keep = options.out.empty() ? fmt::format("hairline describe {} --out {}",
                                                             shell_word(options.archive), shell_word(file.string()))
                                               : "";
  Document said = say_trial(tried);
  for (DocumentBlock& block : say_next_calls(keep, check, asks)) said.push_back(std::move(block));
  return tell("\n" + show_terminal(said, style));
}

}  // namespace

void add_describe(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "describe", "Draft how to read an archive of another program, and try it",
                                  "  hairline describe own.zip\n"
                                  "  hairline describe own.zip --out ~/.config/hairline/descriptions/own.json\n"
                                  "  hairline describe own.zip --out - > own.json");
  Options& options = options_of(command, context, run);
  command.add_option("archive", options.archive, "A ZIP or a folder of masks")->required()->type_name("JOB");
  add_output(command, "--out", options.out, "Write the description; - is stdout, and then nothing else goes there");
  command.add_option("--label", options.label, "What the description is called (default: the archive's name)")
      ->type_name("TEXT");
}

}  // namespace hairline::cli
