/// Clocks, measurements in a process of their own, and what the machine is.
#pragma once
#include <functional>
#include <nlohmann/json.hpp>
#include <string>

namespace hairline::bench {

/// Processor time of all threads of this process, and time on the wall; s.
double cpu_now_s();
double wall_now_s();

/// `fresh`: malloc as it comes, which hands large blocks back to the system, so that each layer pays for page faults
/// anew. `kept`: freed memory is kept, as src/cli/main.cpp does.
enum class Memory { fresh, kept };

/// Runs `work` in a child process, so that neither memory nor threads of one measurement touch the next. `work` gives
/// an object; cpu_s, wall_s and peak_mb of the child are added to it. A string instead of an object is a complaint.
nlohmann::json in_child(Memory memory, const std::function<nlohmann::json()>& work);

/// Processor, cores, memory, compiler, flags, load now.
nlohmann::json machine();

}  // namespace hairline::bench
