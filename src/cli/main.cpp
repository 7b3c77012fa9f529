// hairline: what was asked for, done by one command each.
#include <exception>
#include <variant>

#include "commands.hpp"
#include "hairline/memory.hpp"
#include "interrupt.hpp"

using namespace hairline;
using namespace hairline::cli;

namespace {

template <class... Handlers>
struct Overloaded : Handlers... {
  using Handlers::operator()...;
};
template <class... Handlers>
Overloaded(Handlers...) -> Overloaded<Handlers...>;  // clang before 17 needs it said

int run(const Options& options) {
  const Console console = look_at_console(options.columns);
  return std::visit(Overloaded{
                        [](const Answer& answer) {
                          const auto printed = print(answer.text);
                          return printed ? status_fine : fail(printed.error());
                        },
                        [&](const CheckOptions& command) { return run_check(command, console); },
                        [&](const QueueOptions& command) { return run_queue(command, console); },
                        [&](const DemoOptions& command) { return run_demo(command, console); },
                        [&](const CouponOptions& command) { return run_coupon(command, console); },
                        [&](const RecordNewOptions& command) { return run_record_new(command, console); },
                        [&](const RecordReadOptions& command) { return run_record_read(command, console); },
                        [&](const RecordFitOptions& command) { return run_record_fit(command, console); },
                        [&](const RecordShowOptions& command) { return run_record_show(command, console); },
                        [&](const RecordPlanOptions& command) { return run_record_plan(command, console); },
                    },
                    options.command);
}

}  // namespace

int main(int argc, char** argv) {
  keep_freed_memory();
  watch_interrupts();
  try {  // out of memory, or out of threads: the only things that are thrown
    const auto options = read_options(argc, argv);
    return options ? run(*options) : fail(options.error());
  } catch (const std::exception& error) {
    complain(std::string("stopped, the machine has no room left (") + error.what() + ").");
    return status_not_checked;
  }
}
