// Each part of the check alone, as ns per pixel and as a share of all parts. One iteration runs every part over a few
// neighbouring layers from the middle of a plate and reads the clock of one of them, so shares belong together.
//   bench_parts --benchmark_out=parts.json --benchmark_out_format=json
#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include <array>
#include <cstdlib>
#include <numeric>
#include <optional>

#include "archive/png_inflate.hpp"
#include "exposure/blur.hpp"
#include "exposure/context.hpp"
#include "exposure/edges.hpp"
#include "hairline/analyse.hpp"
#include "hairline/memory.hpp"
#include "plate_archive.hpp"
#include "timing.hpp"

namespace {

using namespace hairline;
using namespace hairline::bench;

enum Part : std::size_t {
  inflate,
  runs,
  solids,
  pieces,
  contacts,
  thickness,
  blur,
  settled,
  details,
  report,
  part_count
};
constexpr std::array<const char*, part_count> part_names = {"inflate",   "runs", "solid",         "pieces",  "contacts",
                                                            "thickness", "blur", "settled light", "details", "report"};
using Seconds = std::array<double, part_count>;

constexpr std::uint32_t sample_layers = 12;

template <class T>
T or_stop(Result<T> result) {
  if (result) return std::move(*result);
  fmt::print(stderr, "{}\n", to_paragraph(result.error()));
  std::exit(2);
}

class Clock {
 public:
  explicit Clock(Seconds& spent) : spent_(spent) {}
  template <class Work>
  auto operator()(Part part, Work work) {
    const double start = cpu_now_s();
    if constexpr (std::is_void_v<decltype(work())>) {
      work();
      spent_[part] += cpu_now_s() - start;
    } else {
      auto made = work();
      spent_[part] += cpu_now_s() - start;
      return made;
    }
  }

 private:
  Seconds& spent_;
};

struct Sample {
  Size size;
  std::vector<std::vector<std::byte>> files;  // layer 1 first
  RiskContext risk;
  std::optional<ExposureContext> exposure;
  Report report;
};

Sample sample_of(const Plate& whole) {
  Plate plate = whole;
  plate.layers = sample_layers;
  plate.first = whole.shapes.layers / 2;
  const Archive archive = or_stop(Archive::open(or_stop(plate_archive(plate, BENCH_DIR))));
  Sample sample;
  sample.size = plate.shapes.size;
  for (std::uint32_t n = 1; n <= sample_layers; ++n) sample.files.push_back(or_stop(archive.read_png(n)));
  sample.risk = bench_risk(archive.settings());
  sample.exposure = or_stop(ExposureContext::create(sample.risk.model, sample.size, sample.risk.pitch,
                                                    sample.risk.layers, critical_range(sample.risk)));
  Progress progress;
  const ResinRecord record = bench_record();
  AnalyseSettings settings;
  settings.threads = 1;
  sample.report = or_stop(analyse(archive, &record, settings, progress));
  return sample;
}

void inflate_only(png::Inflater& inflater, const std::vector<std::byte>& file, const Sample& sample) {
  png::Parts parts;
  const png::Bytes bytes(reinterpret_cast<const std::uint8_t*>(file.data()), file.size());
  if (!png::take_apart(bytes, sample.size, {}, {}, parts)) std::exit(2);
  if (!inflater.start(parts, {}, {})) std::exit(2);  // a whole mask of this size is inflated at once
  benchmark::DoNotOptimize(or_stop(inflater.next(png::row_bytes(parts.header, sample.size.width_px) + 1, nullptr)));
}

// Light of the tiles near an edge, as the exposure pass works it out.
void blur_only(const Layer& layer, const ExposureContext::State& context) {
  using namespace exposure;
  static BandEdges edges;
  static Blurrer blurrer;
  static std::vector<float> light;
  const Grid& grid = context.grid;
  for (std::uint32_t ty = 0; ty < grid.ny; ++ty) {
    find_edges(layer, grid, ty, context.kernel.radius_x, context.kernel.radius_y, edges);
    blurrer.begin(layer);
    for_each_strip(edges, [&](std::uint32_t tx, std::uint32_t tiles) {
      light.resize(tiles * tile_px);
      blurrer.blur(context.kernel, strip_rect(tx, ty, tiles), light.data());
      benchmark::DoNotOptimize(light.data());
    });
  }
}

Seconds run_parts(const Sample& sample) {
  Seconds spent{};
  Clock clock(spent);
  png::Inflater inflater;
  ExposurePass pass(*sample.exposure);
  RiskTracker tracker(sample.risk);
  std::vector<CriticalLayer> finished;
  const auto hand_over = [&] {
    clock(details, [&] {
      for (CriticalLayer& layer : finished) tracker.add_critical(std::move(layer));
    });
    finished.clear();
  };
  Mask above;
  Pieces above_pieces;
  for (auto n = static_cast<std::uint32_t>(sample.files.size()); n > 0; --n) {
    const std::vector<std::byte>& file = sample.files[n - 1];
    clock(inflate, [&] { inflate_only(inflater, file, sample); });
    const Layer layer = clock(runs, [&] { return or_stop(decode_png(file, sample.size, {})); });
    Mask mask = clock(solids, [&] { return solid(layer); });
    Pieces found = clock(pieces, [&] { return find_pieces(mask); });
    std::vector<Contact> touching;
    if (!above.rows.empty()) {
      touching = clock(contacts, [&] { return find_contacts(mask, found, above, above_pieces); });
    }
    ThinPlaces thin = clock(thickness, [&] { return find_thin_places(layer, mask, sample.risk.pitch); });
    clock(blur, [&] { blur_only(layer, sample.exposure->state()); });
    clock(settled, [&] { pass.add(n, layer, mask, finished); });
    above = mask;
    above_pieces = found;
    clock(details, [&] {
      tracker.add_layer({n, std::move(mask), std::move(found), std::move(thin), std::move(touching)});
    });
    hand_over();
  }
  clock(settled, [&] {
    while (auto layer = pass.finish_next()) finished.push_back(std::move(*layer));
  });
  hand_over();
  const auto solid_of = [&](std::uint32_t n) -> Result<Mask> {
    return solid(or_stop(decode_png(sample.files[n - 1], sample.size, {})));
  };
  clock(details, [&] { benchmark::DoNotOptimize(tracker.finish(solid_of)); });
  clock(report, [&] { benchmark::DoNotOptimize(to_json(sample.report)); });
  spent[runs] -= spent[inflate];  // decode_png inflates as well
  spent[settled] -= spent[blur];  // and the pass blurs
  return spent;
}

void one_part(benchmark::State& state, const Sample& sample, Part part) {
  double time_s = 0, whole_s = 0;
  for (auto _ : state) {
    const Seconds spent = run_parts(sample);
    state.SetIterationTime(spent[part]);
    time_s += spent[part];
    whole_s += std::accumulate(spent.begin(), spent.end(), 0.0);
  }
  const double layers = static_cast<double>(state.iterations()) * static_cast<double>(sample.files.size());
  state.counters["ms_per_layer"] = 1e3 * time_s / layers;
  state.counters["ns_per_pixel"] = 1e9 * time_s / layers / sample.size.width_px / sample.size.height_px;
  state.counters["share"] = time_s / whole_s;
}

}  // namespace

int main(int argc, char** argv) {
  keep_freed_memory();
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 2;
  std::vector<std::pair<std::string, Sample>> samples;
  samples.reserve(8);
  for (const char* text : {"3840x2400x1000:busy", "7680x4320x200:busy", "7680x4320x200:sparse"}) {
    for (const Edges edges : {Edges::grey, Edges::hard}) {
      Plate plate = or_stop(plate_from(text));
      plate.shapes.edges = edges;
      samples.emplace_back(name_of(plate), sample_of(plate));
    }
  }
  for (const auto& [name, sample] : samples) {
    for (std::size_t part = 0; part < part_count; ++part) {
      benchmark::RegisterBenchmark(fmt::format("{}/{}", name, part_names[part]).c_str(),
                                   [&sample, part](benchmark::State& state) { one_part(state, sample, Part(part)); })
          ->UseManualTime()
          ->Iterations(5)
          ->Unit(benchmark::kMillisecond);
    }
  }
  benchmark::RunSpecifiedBenchmarks();
}
