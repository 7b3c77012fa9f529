// The night's queue on the command line: what is remembered, what is done once, shares, and runs that are killed. What a
// night's plan says is in tests/unit/queue.
#include <sqlite3.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <random>

#include "jobs.hpp"
#include "support/process.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

using Words = std::vector<std::string>;

// A folder `tonight` of twenty jobs: two broken, one all black, two the same, two foreign, some with a wall that vanishes.
void write_jobs(const Folder& folder) {
  const fs::path tonight = folder / "tonight";
  fs::create_directories(tonight);
  write_file(folder / "record.json", record_text());
  for (int n = 1; n <= 13; ++n) write_own(tonight / fmt::format("post-{:02}.zip", n), n);
}

}  // namespace
