// The file of what flips in each layer: what is written is read back, and nothing else is taken for one.
#include "hairline/flips.hpp"

#include <libdeflate.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <fstream>
#include <memory>

#include "hairline/files.hpp"
#include "support/random.hpp"

using namespace hairline;
namespace fs = std::filesystem;

namespace {

struct Place {
  fs::path path = fs::temp_directory_path() / ("hairline-flips-" + std::to_string(::getpid()) + ".flips");
  ~Place() {
    std::error_code ignored;
    fs::remove(path, ignored);
  }
};

// Times of 1, 2 and 3 s, judged at 2; layer 1 prints 2.5 s whatever they are, and bulk bonds in 1.5 s.
RiskContext context_of(std::uint32_t layers) {
  RiskContext context;
  context.model.bond_time_s = 1.5, context.model.penetration_depth_mm = 0.16;
  context.size = {100, 50};
  JobSettings job;
  job.layer_count = layers, job.normal_s = 2, job.base_s = 2.5, job.base_layers = 1;
  context.layers = printed_layers(job, 2);
  context.exposure_s = 2;
  context.times_s = {1, 2, 3};
  return context;
}

void write(const fs::path& path, const RiskContext& context, const std::vector<CriticalLayer>& layers,
           std::uint64_t most_bytes = most_flips_bytes) {
  auto writer = FlipsWriter::open(path, flips_head(context), most_bytes);
  REQUIRE(writer);
  for (const CriticalLayer& layer : layers) REQUIRE(writer->add(layer, context));
  REQUIRE(writer->finish());
}

LayerFlips layer_of(const fs::path& path, std::uint32_t number) {
  const auto flips = Flips::open(path);
  REQUIRE(flips);
  const auto layer = flips->layer(number);
  REQUIRE(layer);
  return *layer;
}

// Walls that go at some of the times, in layers from the top down.
std::vector<CriticalLayer> many_layers(std::uint32_t count) {
  test::Random random(7);
  std::vector<CriticalLayer> layers;
  for (std::uint32_t n = count; n >= 1; --n) {
    CriticalLayer& layer = layers.emplace_back();
    layer.layer = n;
    for (std::uint32_t row = 0; row < 50; ++row)
      for (std::uint32_t x = random.below(20); x + 10 < 100; x += random.between(10, 30))
        layer.vanish.push_back({row, x, x + random.between(1, 9), static_cast<float>(random.between_real(1, 4))});
  }
  return layers;
}

void put_u32(std::string& bytes, std::size_t at, std::uint32_t value) {
  for (int i = 0; i < 4; ++i) bytes[at + i] = static_cast<char>(value >> (8 * i));
}

// A file of one layer with other bytes in that layer, and checksums that hold.
std::string with_layer(const std::string& whole, const std::string& raw) {
  constexpr std::size_t head = 32 + 3 * 8, entry = 16;
  std::unique_ptr<libdeflate_compressor, void (*)(libdeflate_compressor*)> tool(libdeflate_alloc_compressor(1),
                                                                                libdeflate_free_compressor);
  std::string packed(raw.size() + 100, '\0');
  packed.resize(libdeflate_deflate_compress(tool.get(), raw.data(), raw.size(), packed.data(), packed.size()));
  std::string out = whole.substr(0, head), index = whole.substr(whole.size() - 4 - entry, entry);
  put_u32(index, 0, static_cast<std::uint32_t>(packed.size()));
  put_u32(index, 4, static_cast<std::uint32_t>(raw.size()));
  put_u32(index, 8, libdeflate_crc32(0, packed.data(), packed.size()));
  std::string sum(4, '\0');
  put_u32(sum, 0, libdeflate_crc32(libdeflate_crc32(0, out.data(), head), index.data(), entry));
  return out + packed + index + sum;
}

}  // namespace

TEST_CASE("flips: from which time on voxels are cured, those alike in one run") {
  const Place place;
  const RiskContext context = context_of(3);
  CriticalLayer top{3, true, {}, {}, {}}, base{1, true, {}, {}, {}};
  // 0.9: stays at all times. 1.9 and 2 lie under the same times, so that they are one run; a time equal to the critical
  // exposure cures.
  top.vanish = {{4, 0, 2, 0.9f},   {4, 10, 12, 1.9f}, {4, 12, 15, 2.0f},
                {4, 15, 16, 2.1f}, {5, 16, 17, 2.1f}, {9, 0, 1, 9.0f}};
  top.fuse = {{0, 0, 5, 0.5f}, {7, 3, 4, 1.0f}, {7, 4, 8, 3.0f}, {8, 4, 8, 3.1f}};
  base.vanish = {{1, 1, 2, 2.4f}, {1, 2, 3, 2.6f}};  // held against the layer's own 2.5 s
  write(place.path, context, {top, base});
  const auto flips = Flips::open(place.path);
  REQUIRE(flips);
  CHECK(flips->head() == FlipsHead{{100, 50}, 3, {1, 2, 3}, 1});
  const LayerFlips read = flips->layer(3).value();
  CHECK(read.known);
  CHECK(read.bonds_from == 1);
  CHECK(read.vanish == std::vector<FlipRun>{{4, 10, 15, 1}, {4, 15, 16, 2}, {5, 16, 17, 2}, {9, 0, 1, 3}});
  CHECK(read.fuse == std::vector<FlipRun>{{0, 0, 5, 0}, {7, 3, 4, 0}, {7, 4, 8, 2}});
  const LayerFlips none = flips->layer(2).value();
  CHECK((none.known && none.vanish.empty() && none.fuse.empty()));
  const LayerFlips lowest = flips->layer(1).value();
  CHECK(lowest.bonds_from == 0);
  CHECK(lowest.vanish == std::vector<FlipRun>{{1, 2, 3, 3}});
  for (const std::uint32_t number : {0u, 4u}) CHECK(flips->layer(number).error().kind == ErrorKind::invalid);
}

TEST_CASE("flips: what is not finished leaves nothing, and what is stands for the old") {
  const Place place;
  const RiskContext context = context_of(2);
  {
    auto writer = FlipsWriter::open(place.path, flips_head(context));
    REQUIRE(writer);
    REQUIRE(writer->add(many_layers(2)[0], context));
  }
  CHECK_FALSE(fs::exists(place.path));
  write(place.path, context, many_layers(2));
  const auto before = Flips::open(place.path);
  REQUIRE(before);
  const LayerFlips kept = before->layer(2).value();
  write(place.path, context, {});
  CHECK(before->layer(2).value().vanish == kept.vanish);  // still open
  CHECK(layer_of(place.path, 2).vanish.empty());
  CHECK(FlipsWriter::open("/nowhere/at/all.flips", flips_head(context)).error().kind == ErrorKind::unwritable);
}

TEST_CASE("flips: beyond the room there is, layers are left out, and it says so") {
  const Place place;
  const RiskContext context = context_of(40);
  write(place.path, context, many_layers(40), 5'000);
  CHECK(fs::file_size(place.path) <= 5'000);
  const auto flips = Flips::open(place.path);
  REQUIRE(flips);
  std::uint32_t known = 0;
  for (std::uint32_t n = 1; n <= 40; ++n) {
    const LayerFlips layer = flips->layer(n).value();
    CHECK(layer.known == !layer.vanish.empty());
    known += layer.known;
  }
  CHECK((known > 0 && known < 40));
  CHECK(flips->layer(40).value().known);  // the highest come first
  CHECK_FALSE(flips->layer(1).value().known);
}

TEST_CASE("flips: a file cut off anywhere, or with any byte changed, is an error and never other runs") {
  const Place place;
  const RiskContext context = context_of(3);
  const std::vector<CriticalLayer> layers = many_layers(3);
  write(place.path, context, layers);
  const std::string whole = read_text(place.path).value();
  std::vector<LayerFlips> wanted;
  for (std::uint32_t n = 1; n <= 3; ++n) wanted.push_back(layer_of(place.path, n));
  const auto is_refused = [&](const std::string& bytes) {
    { std::ofstream(place.path, std::ios::binary) << bytes; }
    const auto flips = Flips::open(place.path);
    if (!flips) return flips.error().kind == ErrorKind::broken || flips.error().kind == ErrorKind::version;
    bool refused = false;
    for (std::uint32_t n = 1; n <= 3; ++n) {
      const auto layer = flips->layer(n);
      if (!layer) refused = refused || layer.error().kind == ErrorKind::broken;
      if (layer && layer->vanish != wanted[n - 1].vanish) return false;
    }
    return refused;
  };
  for (std::size_t length = 0; length < whole.size(); length += length < 100 ? 1 : 7) {
    CAPTURE(length);
    CHECK(is_refused(whole.substr(0, length)));
  }
  for (std::size_t at = 0; at < whole.size(); ++at) {
    std::string bytes = whole;
    bytes[at] = static_cast<char>(bytes[at] ^ 0x40);
    CAPTURE(at);
    CHECK(is_refused(bytes));
  }
  CHECK(is_refused(whole + "more"));
  CHECK(is_refused(std::string(1000, 'x')));
  CHECK(Flips::open(place.path / "none").error().kind != ErrorKind::broken);
  fs::remove(place.path);
  CHECK(Flips::open(place.path).error().kind == ErrorKind::not_found);
}

TEST_CASE("flips: whatever the bytes of a layer are, its runs lie in it, or there are none") {
  const Place place;
  const RiskContext context = context_of(1);
  write(place.path, context, {{1, true, {{3, 10, 20, 2.6f}, {3, 30, 31, 2.7f}, {40, 0, 100, 9.0f}}, {}, {}}});
  const std::string whole = read_text(place.path).value();
  // Counts of four bytes; a run is rows down, columns on, length, time.
  const std::string sound(
      "\3\0\0\0"
      "\3\12\12\3"
      "\0\12\1\3"
      "\45\0\144\3"
      "\0\0\0\0",
      20);
  const auto read = [&](const std::string& raw) {
    { std::ofstream(place.path, std::ios::binary) << with_layer(whole, raw); }
    const auto flips = Flips::open(place.path);
    REQUIRE(flips);
    return flips->layer(1);
  };
  REQUIRE(read(sound));
  CHECK(read(sound)->vanish == std::vector<FlipRun>{{3, 10, 20, 3}, {3, 30, 31, 3}, {40, 0, 100, 3}});
  CHECK(read(std::string("\xff\xff\xff\xff", 4)).error().kind == ErrorKind::broken);
  CHECK(read(sound + '\0').error().kind == ErrorKind::broken);
  test::Random random(11);
  std::uint32_t refused = 0;
  for (int i = 0; i < 3000; ++i) {
    std::string raw = sound;
    for (std::uint32_t n = random.between(1, 3); n > 0; --n)
      raw[random.below(20)] = static_cast<char>(random.chance(0.3) ? random.below(256) : random.below(4));
    if (random.chance(0.2)) raw.resize(random.below(20));
    const auto layer = read(raw);
    refused += !layer;
    if (!layer) CHECK(layer.error().kind == ErrorKind::broken);
    for (const auto runs : {&LayerFlips::vanish, &LayerFlips::fuse}) {
      std::uint64_t before = 0;
      for (const FlipRun& run : layer ? (*layer).*runs : std::vector<FlipRun>()) {
        CHECK((run.begin < run.end && run.end <= 100 && run.row < 50 && run.cured_from <= 3));
        CHECK(std::uint64_t{run.row} * 100 + run.begin >= before);
        before = std::uint64_t{run.row} * 100 + run.end;
      }
    }
  }
  CHECK((refused > 100 && refused < 2900));
}
