// describe: a draft of how to read an archive of another program, tried at once.
#include "hairline/describe.hpp"

#include <fmt/format.h>

#include <iostream>

#include "commands.hpp"
#include "describe_text.hpp"
#include "hairline/files.hpp"
#include "outputs.hpp"

namespace hairline::cli {
namespace {

namespace fs = std::filesystem;
using From = SettingSource::From;

struct Options {
  std::string archive, out, label;
};

// What is asked of one setting; Enter keeps `kept`.
struct Question {
  std::string path, text, kept;
};

std::vector<Question> questions_of(const Draft& draft) {
  std::vector<Question> out;
  for (const DraftSetting& one : draft.settings) {
    if (one.sureness != Sureness::unsure) continue;
    const SettingField& field = *find_setting_field(one.source.path);
    const std::string unit = *field.unit ? fmt::format(", {}", field.unit) : "";
    out.push_back({one.source.path, field.words + unit, one.value});
  }
  if (draft.masks.inverted && !draft.description.invert)
    out.push_back({"masks.invert", "most of the border is white; is white where no light falls (yes, no)", ""});
  if (draft.masks.subpixels && !draft.masks.subpixels_sure)
    out.push_back({"masks.subpixels", "grey values side by side in one colour pixel (1, 3)", "3"});
  return out;
}

// Until the answer fits; an empty line keeps the proposal, and the end of input leaves the rest as it is.
Result<bool> ask(const Question& question, Draft& draft) {
  for (;;) {
    const std::string kept = question.kept.empty() ? "" : fmt::format(" [{}]", visible(question.kept));
    if (auto printed = print(fmt::format("{}{}: ", question.text, kept)); !printed)
      return tl::unexpected(printed.error());
    std::string line;
    if (!std::getline(std::cin, line)) return false;
    if (line.empty()) return true;
    const auto answered = answer(draft, {question.path, line});
    if (answered) return true;
    complain(answered.error());
  }
}

Result<void> ask_all(Draft& draft) {
  const std::vector<Question> questions = questions_of(draft);
  if (questions.empty()) return {};
  if (auto printed = print("\nPlease say what is not sure; an empty line keeps what stands in brackets.\n"); !printed)
    return tl::unexpected(printed.error());
  for (const Question& question : questions) {
    const auto go_on = ask(question, draft);
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

std::string typed(const std::string& word) {
  const char* const words[] = {"", word.c_str()};
  return typed_again(2, words).substr(9);  // behind "hairline "
}

std::string next_step(const Options& options, const Console& console) {
  const std::string archive = typed(options.archive);
  if (!options.out.empty()) {
    const fs::path folder = fs::absolute(options.out).lexically_normal().parent_path();
    const std::string with =
        folder == user_descriptions().lexically_normal() ? "" : " --description " + typed(options.out);
    return "\nFrom now on archives of this kind are read like your own:\n\n    hairline check " + archive + with +
           " --record RECORD\n";
  }
  const fs::path folder = user_descriptions();
  const std::string name = fs::path(options.archive).lexically_normal().stem().string() + ".json";
  const std::string kept = folder.empty() ? name : (folder / name).string();
  return in_lines("\nNothing was written. To keep this draft, so that every archive of this kind is read at once:", 0,
                  console) +
         fmt::format("\n    hairline describe {} --out {}\n", archive, typed(kept));
}

int run(const Options& options, const Context& context) {
  if (auto ready = prepare(options); !ready) return fail(ready.error());
  auto draft = draft_description(options.archive);
  if (!draft) return fail(draft.error());
  if (!options.label.empty()) draft->description.label = options.label;
  const bool only_json = options.out == "-";
  const Console& console = context.console;
  if (!only_json) {
    if (const int status = tell(draft_text(*draft, options.archive, console)); status != status_fine) return status;
    if (console.questions)
      if (auto asked = ask_all(*draft); !asked) return fail(asked.error());
  }
  if (!options.out.empty())
    if (auto wrote = write_output(options.out, write_description(draft->description)); !wrote)
      return fail(wrote.error());
  if (only_json) return status_fine;
  OpenOptions opening;
  opening.description = draft->description;
  opening.command = "hairline check " + typed(options.archive) +
                    (options.out.empty() ? std::string() : " --description " + typed(options.out));
  return tell(trial_text(Archive::open(options.archive, opening), console) + next_step(options, console));
}

}  // namespace

void add_describe(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "describe", "Draft how to read an archive of another program, and try it",
                                  "  hairline describe own.zip\n"
                                  "  hairline describe own.zip --out ~/.config/hairline/descriptions/own.json\n"
                                  "  hairline describe own.zip --out - > own.json");
  Options& options = options_of(command, context, run);
  command.add_option("archive", options.archive, "A ZIP or a folder of masks")->required()->type_name("JOB");
  command
      .add_option("--out", options.out,
                  "Write the description (formats/archive-description.md); - is stdout, and then "
                  "nothing else goes there")
      ->type_name("FILE");
  command.add_option("--label", options.label, "What the description is called (default: the archive's name)")
      ->type_name("TEXT");
}

}  // namespace hairline::cli
