// A file of no name that takes runs, and what becomes of runs where it cannot.
#include "risk/run_file.hpp"

#include <sys/resource.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <numeric>

#include "risk/runs_near.hpp"
#include "support/random.hpp"

using namespace hairline;
using namespace hairline::risk;
using hairline::test::Random;

namespace {

using Folders = std::vector<std::filesystem::path>;

struct OwnFolder {
  std::string path = (std::filesystem::temp_directory_path() / "hairline-run-file-XXXXXX").string();
  OwnFolder() { REQUIRE(mkdtemp(path.data()) != nullptr); }
  ~OwnFolder() { std::filesystem::remove_all(path); }
};

// As `ulimit -f` sets it: no file of this process may become longer.
struct FileLimit {
  rlimit before{};
  explicit FileLimit(rlim_t bytes) {
    REQUIRE(getrlimit(RLIMIT_FSIZE, &before) == 0);
    const rlimit limit{bytes, before.rlim_max};
    REQUIRE(setrlimit(RLIMIT_FSIZE, &limit) == 0);
  }
  ~FileLimit() { setrlimit(RLIMIT_FSIZE, &before); }
};

Mask some_mask(std::uint32_t layer) {
  Mask mask;
  mask.size = {1400, 100};
  for (std::uint32_t row = 0; row < 100; ++row) {
    mask.spans.push_back({row, row + layer});
    mask.rows.push_back({row, row + 1});
  }
  return mask;
}

// Layers 30 to 1 of some 600 runs each, a few of them over the ends of tiles.
void fill(RunStore& store) {
  Random random(3);
  for (std::uint32_t n = 30; n >= 1; --n) {
    std::vector<RiskRun> runs;
    for (std::uint32_t row = random.below(60); row < 400; row += random.between(1, 9)) {
      for (std::uint32_t col = random.below(200); col < 1400; col += random.between(1, 300)) {
        const std::uint32_t end = random.between(col + 1, col + (random.chance(0.1) ? 700 : 20));
        const auto sd = static_cast<float>(random.below(9));
        runs.push_back({{sd, sd, INFINITY, sd}, row, col, end, static_cast<float>(random.below(1000)), {1, 2}});
        col = end;
      }
    }
    StoredLayer layer;
    layer.number = n;
    layer.vanish = runs;
    layer.fuse = PackedRuns(std::vector<RiskRun>(runs.begin(), runs.begin() + 40));
    layer.solid = std::make_shared<const Mask>(some_mask(n));
    store.add(std::move(layer));
  }
}

std::vector<std::uint64_t> seen_in(const RunStore& store) {
  std::vector<std::uint64_t> seen;
  Random random(8);
  for (int i = 0; i < 200; ++i) {
    const int x0 = static_cast<int>(random.below(1500)) - 20, y0 = static_cast<int>(random.below(420)) - 20;
    const std::uint32_t from = random.between(1, 30);
    const BoxVoxels box{x0, y0, x0 + static_cast<int>(random.between(1, 900)), y0 + 90, from, random.between(from, 31)};
    for (const Fate fate : {Fate::vanish, Fate::fuse})
      RunsNear(store, fate, box).each(0, box, [&](const StoredLayer& layer, const RiskRun& run, Lot) {
        for (const std::uint32_t value : {layer.number, run.row, run.begin, run.end}) seen.push_back(value);
        for (const float value : {run.critical_s, run.log_sd, run.height_mm})
          seen.push_back(static_cast<std::uint64_t>(value));
      });
  }
  return seen;
}

constexpr std::uint64_t no_limit = UINT64_MAX, most_bytes = 20'000;

}  // namespace

TEST_CASE("run file: bytes come back from where they were written, and the folder stays empty") {
  const OwnFolder folder;
  RunFile file({"/no/such/folder", folder.path});
  std::vector<int> numbers(5000);
  std::iota(numbers.begin(), numbers.end(), 7);
  for (std::uint64_t i = 0; i < 3; ++i)
    CHECK(file.write(std::as_bytes(std::span(numbers))) == i * numbers.size() * sizeof(int));
  CHECK(std::filesystem::is_empty(folder.path));
  std::vector<int> one(1), two(2);
  const auto read = [&](std::size_t from) {
    return file.read(from * sizeof(int), std::as_writable_bytes(std::span(one)),
                     std::as_writable_bytes(std::span(two)));
  };
  CHECK(read(numbers.size() + 40));
  CHECK(one[0] == 47);
  CHECK(two == std::vector<int>{48, 49});
  CHECK_FALSE(file.damaged());
  CHECK_FALSE(read(3 * numbers.size() - 2));  // beyond its end
  CHECK(file.damaged());
}

TEST_CASE("run file: folders are those of TMPDIR where it is set") {
  const char* before = std::getenv("TMPDIR");
  const std::string kept = before == nullptr ? "" : before;
  setenv("TMPDIR", "/no/such/folder", 1);
  CHECK(temporary_folders().empty());
  before == nullptr ? unsetenv("TMPDIR") : setenv("TMPDIR", kept.c_str(), 1);
}

TEST_CASE("run store: the same runs with a file, without, and with one that becomes full") {
  const OwnFolder folder;
  RunStore in_memory({folder.path}, no_limit), in_file({folder.path}, most_bytes), no_folder({}, most_bytes),
      full({folder.path}, most_bytes);
  fill(in_memory);
  fill(in_file);
  fill(no_folder);
  {
    const FileLimit limit(30'000);
    fill(full);
  }
  CHECK(std::filesystem::is_empty(folder.path));
  const std::vector<std::uint64_t> expected = seen_in(in_memory);
  CHECK(expected.size() > 10'000);
  for (const RunStore* store : {&in_file, &no_folder, &full}) {
    CHECK(seen_in(*store) == expected);
    CHECK(store->all_read());
  }
  CHECK(no_folder.bytes() < in_memory.bytes());  // solid can be read again, runs cannot
  CHECK(full.bytes() < in_memory.bytes());
  CHECK(3 * in_file.bytes() < in_memory.bytes());
  CHECK(in_file.bytes() < full.bytes());
}

TEST_CASE("run store: solid comes back from the file; where there is none, that of the highest layers is gone") {
  const OwnFolder folder;
  RunStore in_memory({folder.path}, no_limit), in_file({folder.path}, most_bytes), no_folder({}, most_bytes);
  for (RunStore* store : {&in_memory, &in_file, &no_folder}) fill(*store);
  const auto has_solid = [](const RunStore& store, std::uint32_t n) {
    const auto solid = store.solid(*store.find(n));
    const Mask drawn = some_mask(n);
    return solid && solid->size == drawn.size && solid->rows == drawn.rows && solid->spans == drawn.spans;
  };
  for (std::uint32_t n = 1; n <= 30; ++n) {
    INFO("layer " << n);
    CHECK(has_solid(in_memory, n));
    CHECK(has_solid(in_file, n));
    CHECK((no_folder.solid(*no_folder.find(n)) == nullptr || has_solid(no_folder, n)));
  }
  CHECK(in_file.find(30)->filed_solid);
  CHECK(no_folder.solid(*no_folder.find(30)) == nullptr);
  CHECK(has_solid(no_folder, 1));
}

TEST_CASE("run store: what is in the file stays when the rest is dropped") {
  const OwnFolder folder;
  RunStore in_memory({folder.path}, no_limit), in_file({folder.path}, most_bytes);
  for (RunStore* store : {&in_memory, &in_file}) {
    fill(*store);
    store->prune(0, {{300, 100, 900, 200, 5, 20}}, {});
  }
  const auto count = [](const RunStore& store) {
    std::uint64_t runs = 0;
    const BoxVoxels box{300, 100, 900, 200, 5, 20};
    RunsNear(store, Fate::vanish, box).each(0, box, [&](const StoredLayer&, const RiskRun&, Lot) { ++runs; });
    return runs;
  };
  CHECK(count(in_memory) > 100);
  CHECK(count(in_file) == count(in_memory));
}
