// What an archive holds, as a short text: the same for the same masks wherever and however they lie, another for any
// other byte. And the state of its files, by which nothing has to be read again.
#include <chrono>
#include <thread>

#include "support.hpp"

using namespace archive_test;

namespace {

constexpr Size size{20, 12};
constexpr std::uint32_t layers = 5;

std::vector<File> job(std::uint8_t value = 255, const std::string& title = "") {
  JobSettings settings = small_settings(layers, size);
  settings.title = title;
  std::vector<File> files{{"manifest.json", write_manifest(settings)}};
  for (std::uint32_t n = 1; n <= layers; ++n) {
    const auto grey = static_cast<std::uint8_t>(n == 3 ? value : 255);
    files.push_back(
        {"layers/" + std::to_string(n) + ".png", png_text(encode(Pixels(std::size_t{20} * 12, grey), size))});
  }
  return files;
}

std::string content_of(const fs::path& path, const OpenOptions& options = {}) {
  return Archive::open(path, options).value().content_key().value();
}

void wait_a_tick() {
  std::this_thread::sleep_for(std::chrono::milliseconds(40));
}

}  // namespace

TEST_CASE("content is the masks, in order: not their place, packing, names or settings") {
  const TempFolder folder;
  const auto at = [&](const char* name) { return folder.path / name; };
  write_zip(at("a.zip"), job());
  const std::string content = content_of(at("a.zip"));
  CHECK(content.size() == 32);
  write_zip(at("packed.zip"), job(), true);
  CHECK(content_of(at("packed.zip")) == content);
  write_folder(at("folder"), job());
  CHECK(content_of(at("folder")) == content);
  write_zip(at("title.zip"), job(255, "figurehead"));
  CHECK(content_of(at("title.zip")) == content);
  auto more = job();
  more.push_back({"read me.txt", "of the harbour museum"});
  write_zip(at("more.zip"), more);
  CHECK(content_of(at("more.zip")) == content);
  write_zip(at("other.zip"), job(254));
  CHECK(content_of(at("other.zip")) != content);
  OpenOptions inverted;
  inverted.set = {{"masks.invert", "true"}};
  CHECK(content_of(at("a.zip"), inverted) != content);
  auto swapped = job(254);
  std::swap(swapped[2].content, swapped[3].content);
  write_zip(at("swapped.zip"), swapped);
  CHECK(content_of(at("swapped.zip")) != content_of(at("other.zip")));
}

TEST_CASE("a damaged mask is other content, though the directory is the same") {
  const TempFolder folder;
  const fs::path path = folder.path / "a.zip";
  write_zip(path, job());
  const std::string content = content_of(path);
  std::string bytes = read_text(path).value();
  bytes[bytes.find("IDAT") + 8] ^= 1;
  REQUIRE(write_text(path, bytes));
  const std::string damaged = content_of(path);
  CHECK(damaged != content);
  CHECK(content_of(path) == damaged);
}

TEST_CASE("the state of an archive's files changes with every writing") {
  const TempFolder folder;
  const bool zip = GENERATE(true, false);
  const fs::path path = folder.path / "job";
  const auto write = [&](std::uint8_t value) { zip ? write_zip(path, job(value)) : write_folder(path, job(value)); };
  const auto state = [&] { return Archive::open(path).value().state_key(); };
  write(255);
  const auto dated = fs::last_write_time(zip ? path : path / "layers/3.png");
  wait_a_tick();
  const std::string before = state();
  CHECK(before.size() == 32);
  CHECK(state() == before);
  write(254);  // as long as it was
  CHECK(state() != before);
  fs::last_write_time(zip ? path : path / "layers/3.png", dated);  // its date put back
  wait_a_tick();
  const std::string after = state();
  CHECK(after.size() == 32);
  CHECK(after != before);
  // Other files as the layers, or pixels meant otherwise: another state.
  OpenOptions inverted;
  inverted.set = {{"masks.invert", "true"}};
  CHECK(Archive::open(path, inverted).value().state_key() != after);
}

TEST_CASE("files written a moment ago have no state that can be told") {
  const TempFolder folder;
  const fs::path path = folder.path / "a.zip";
  bool seen = false;
  for (int i = 0; i < 50 && !seen; ++i) {  // a busy machine may take longer than a moment
    write_zip(path, job());
    seen = Archive::open(path).value().state_key().empty();
  }
  CHECK(seen);
}
