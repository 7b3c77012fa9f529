// What is said of a job that takes more memory than it may (docs/errors.md, "Memory"). Common practice, no source.
#include <catch2/catch.hpp>

#include "jobs.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

constexpr Size size{1200, 1200};
constexpr std::uint32_t layer_count = 3;

// Single pixels, each of which may be lost, and the gaps between them: more lists than pixels.
Layer chequer() {
  std::vector<std::uint8_t> pixels(std::size_t{size.width_px} * size.height_px, 0);
  for (std::uint32_t r = 0; r < size.height_px; ++r)
    for (std::uint32_t c = r % 2; c < size.width_px; c += 2) pixels[std::size_t{r} * size.width_px + c] = 255;
  return encode(pixels, size);
}

struct Bench {
  Folder folder;
  Bench() {
    write_file(folder / "record.json", record_text());
    const std::string image = R"({"width_px": 1200, "height_px": 1200, "pitch_x_mm": 0.05, "pitch_y_mm": 0.05})";
    write_file(folder / "chequer/manifest.json",
               manifest(image, R"({"count": 3, "height_mm": 0.05, "files": "layers/*.png"})"));
    for (std::uint32_t n = 1; n <= layer_count; ++n) write_file(folder / "chequer" / layer_name(n), png(chequer()));
    write_zip(folder / "sound.zip");
  }
};

}  // namespace

TEST_CASE("a job that takes more memory than it may is an error that names the layer and what to allow") {
  const Bench bench;
  const Ran one = check(bench.folder, "chequer", {"--memory", "100", "--threads", "1"});
  CHECK(one.status == 2);
  CHECK(one.out.empty());
  CHECK(has(one.err, "chequer, layer 3: "));
  CHECK(has(one.err, "expected at most 100 MB"));
  CHECK(has(one.err, "--memory "));
  for (const char* threads : {"2", "5"})
    CHECK(check(bench.folder, "chequer", {"--memory", "100", "--threads", threads}).err == one.err);
}

TEST_CASE("every command that reads layers keeps to the memory it may take") {
  const Bench bench;
  const auto said = [&](std::vector<std::string> arguments) {
    arguments.insert(arguments.end(), {"--memory", "64"});
    const Ran ran = hairline::test::hairline(arguments, bench.folder.path());
    CHECK(ran.status == 2);
    return ran.out + ran.err;
  };
  for (const char* command : {"check", "sweep", "queue"})
    CHECK(has(said({command, "chequer", "--record", "record.json"}), "layer 3"));
  CHECK(has(said({"measure", "chequer"}), "layer 3"));
  CHECK(has(said({"pack", "chequer", "packed.zip"}), "layer 1: its first"));
  CHECK_FALSE(std::filesystem::exists(bench.folder / "packed.zip"));
}

TEST_CASE("the report is the same with any memory that suffices") {
  const Bench bench;
  const Ran usual = check(bench.folder, "sound.zip", {"--json", "-"});
  CHECK(usual.status == 0);
  for (const char* memory : {"80", "400", "100000"})
    CHECK(check(bench.folder, "sound.zip", {"--json", "-", "--memory", memory}).out == usual.out);
  const Ran wrong = check(bench.folder, "sound.zip", {"--memory", "63"});
  CHECK(wrong.status == 2);
  CHECK(has(wrong.err, "expected a whole number from 64"));
}
