// Any archive written as one of our own opens to the same job.
#include <fmt/format.h>

#include "any_png.hpp"

using namespace archive_test;

namespace {

JobSettings without_way(JobSettings job) {  // how it was read is no part of the job
  job.files.clear();
  job.remarks.clear();
  return job;
}

fs::path packed(const Archive& archive, const TempFolder& temp) {
  const fs::path out = temp.path / "packed.zip";
  Progress progress;
  const auto done = pack_archive(archive, out, progress);
  INFO((done ? "" : to_paragraph(done.error())));
  REQUIRE(done);
  CHECK(progress.done() == archive.settings().layer_count);
  CHECK(progress.total() == archive.settings().layer_count);
  return out;
}

void expect_same_job(const Archive& archive, const TempFolder& temp) {
  const Archive again = Archive::open(packed(archive, temp)).value();
  CHECK(without_way(again.settings()) == without_way(archive.settings()));
  CHECK(again.settings().files == "layers/*.png");
  for (std::uint32_t n = 1; n <= archive.settings().layer_count; ++n)
    CHECK(same(again.read_layer(n).value(), archive.read_layer(n).value()));
}

Archive opened(const TempFolder& temp, const std::vector<File>& files, std::vector<SettingValue> set = {}) {
  write_zip(temp.path / "job.zip", files);
  OpenOptions options;
  options.set = std::move(set);
  auto archive = Archive::open(temp.path / "job.zip", options);
  INFO((archive ? "" : to_paragraph(archive.error())));
  REQUIRE(archive);
  return std::move(*archive);
}

// A manifest with each field there or not.
JobSettings some_job(std::uint32_t layers, std::mt19937& random) {
  const auto coin = [&] { return random() % 2 == 0; };
  const auto value = [&] { return static_cast<double>(random() % 100000 + 1) / 3000; };
  const auto below_three = [&] { return static_cast<std::uint32_t>(random() % 3); };
  JobSettings job = small_settings(layers);
  job.title = coin() ? "" : "lantern \"three\" \xC3\xA9";
  job.pitch = {0.01 + value() / 100, 0.01 + value() / 100};
  job.mirrored = coin();
  job.height_mm = 0.01 + value() / 100;
  job.normal_s = value();
  job.base_layers = below_three();
  job.base_s.reset();
  if (coin()) job.base_s = 10 * value();
  if (coin()) job.base_layers = 0, job.assumed = {"no base layers"};
  job.transition_layers = below_three();
  for (auto* one : {&job.motion.lift_mm, &job.motion.lift_mm_per_min, &job.motion.retract_mm_per_min,
                    &job.motion.rest_before_s, &job.motion.rest_after_s})
    if (coin()) *one = value();
  if (coin()) job.density_g_per_ml = 1 + value() / 100;
  if (coin()) job.resin_label = "harbour grey";
  if (coin()) job.printer_label = "bench two";
  if (coin()) job.exceptions.push_back({2, 2, value() / 100 + 0.01, {}});
  if (coin()) job.exceptions.push_back({3, layers, {}, value()});
  return job;
}

}  // namespace

TEST_CASE("a packed archive is the same job, whatever it states") {
  std::mt19937 random(14);
  for (int i = 0; i < 60; ++i) {
    INFO("job " << i);
    const TempFolder temp;
    auto files = small_job(4);
    files[0].content = write_manifest(some_job(4, random));
    expect_same_job(opened(temp, files), temp);
  }
}

TEST_CASE("a packed foreign archive is the same job, with every option") {
  const Size size{21, 12};
  std::vector<SettingValue> set = {{"title", "quay"},
                                   {"image.pitch_x_mm", "0.05"},
                                   {"image.pitch_y_mm", "0.04"},
                                   {"image.mirrored", "on"},
                                   {"layers.height_mm", "0.03"},
                                   {"exposure.normal_s", "2.5"},
                                   {"masks.invert", "yes"},
                                   {"exposure.base_s", "31.5"},
                                   {"exposure.base_layers", "2"},
                                   {"motion.lift_mm", "7"},
                                   {"motion.retract_mm_per_min", "90"},
                                   {"exposure.transition_layers", "1"},
                                   {"resin.label", "grey"},
                                   {"resin.density_g_per_ml", "1.07"},
                                   {"printer.label", "bench"},
                                   {"layers.count", "3"},
                                   {"masks.subpixels", "3"},
                                   {"masks.files", "out/*.png"}};
  const TempFolder temp;
  std::vector<File> files;
  for (std::uint32_t n = 1; n <= 3; ++n) {
    const Pixels pixels = some_mask(size, n);
    files.push_back({fmt::format("out/{}.png", n), png_of({pixels.begin(), pixels.end()}, {7, 12}, {8, rgb})});
  }
  const Archive archive = opened(temp, files, set);
  CHECK(!archive.stored_as_shown());
  CHECK(archive.settings().mirrored);
  expect_same_job(archive, temp);
}

TEST_CASE("plain grey masks are copied, others are written anew") {
  struct Case {
    PngKind kind;
    bool copied;
  };
  for (const Case& one :
       {Case{{8, grey}, true}, Case{{1, grey}, true}, Case{{8, grey, true}, false}, Case{{2, grey}, false},
        Case{{16, grey}, false}, Case{{8, rgb}, false}, Case{{8, palette}, false}, Case{{8, grey_alpha}, false}}) {
    INFO("depth " << one.kind.depth << " colour " << one.kind.colour << " interlaced " << one.kind.interlaced);
    const TempFolder temp;
    auto files = small_job(2);
    for (std::uint32_t n : {1u, 2u}) files[n].content = png_of_grey(some_mask({20, 12}, n), {20, 12}, one.kind);
    const Archive archive = opened(temp, files);
    expect_same_job(archive, temp);
    const Archive again = Archive::open(temp.path / "packed.zip").value();
    CHECK((again.read_png(2).value() == archive.read_png(2).value()) == one.copied);
  }
}

TEST_CASE("an existing file is replaced whole, and stays where packing fails") {
  const TempFolder temp;
  std::ofstream(temp.path / "packed.zip") << "what was there";
  auto files = small_job(3);
  files[2].content.resize(60);
  const Archive broken = opened(temp, files);
  Progress progress;
  const auto failed = pack_archive(broken, temp.path / "packed.zip", progress);
  REQUIRE(!failed);
  CHECK(failed.error().kind == ErrorKind::broken);
  CHECK(failed.error().layer == 2u);
  CHECK(text_of(read_bytes(temp.path / "packed.zip")) == "what was there");
  progress.cancel();
  const Archive whole = opened(temp, small_job(3));
  CHECK(pack_archive(whole, temp.path / "packed.zip", progress).error().kind == ErrorKind::cancelled);
  CHECK(text_of(read_bytes(temp.path / "packed.zip")) == "what was there");
  expect_same_job(whole, temp);
  CHECK(temp.entries() == 2);
}
