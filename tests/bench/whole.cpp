// The whole check beside its rivals, in one run, on plates drawn from code (docs/benchmarks.md).
#include <fmt/format.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <fstream>
#include <tuple>

#include "hairline/analyse.hpp"
#include "rivals.hpp"
#include "timing.hpp"

namespace {

using namespace hairline;
using namespace hairline::bench;
using nlohmann::json;

struct Options {
  std::vector<std::string> plates = {"7680x4320x200:busy", "7680x4320x200:sparse", "3840x2400x1000:busy",
                                     "11520x5120x100:busy"};
  std::vector<std::string> edges = {"grey", "hard"}, filters = {"none", "adaptive"}, memory = {"kept", "fresh"};
  std::vector<std::uint32_t> threads = {1, 2};
  double turn_px = PlateSettings{}.turn_px, bond_s = bench_model().bond_time_s;
  std::vector<double> blurs_px;  // none: the model's own
  std::vector<std::string> ranges = {"1.8-3.2"};
  std::uint32_t layers = 0;  // 0: as the plate says
  std::uint32_t repeats = 3, decoded_layers = 40, dense_layers = 6;
  bool rivals = true, pictures = true, draw_only = false;
  std::string dir = BENCH_DIR, json_file;
};

[[noreturn]] void stop(const std::string& why) {
  fmt::print(stderr, "{}\n", why);
  std::exit(2);
}

template <class T>
T or_stop(Result<T> result) {
  if (!result) stop(to_paragraph(result.error()));
  return std::move(*result);
}

json check(const std::filesystem::path& path, const CureModel& model, std::uint32_t threads, bool with_pictures) {
  const auto archive = Archive::open(path);
  if (!archive) return to_paragraph(archive.error());
  const ResinRecord record = bench_record(model);
  AnalyseSettings settings;
  settings.threads = threads;
  settings.memory_bytes = std::uint64_t{16} << 30;  // what a plate takes is measured here, not refused
  Progress progress;
  Pictures pictures;
  const auto report = analyse(*archive, &record, settings, progress, with_pictures ? &pictures : nullptr);
  if (!report) return to_paragraph(report.error());
  const std::string text = to_json(*report);
  return {{"report_hash", std::hash<std::string>{}(text)},
          {"details", report->details.size()},
          {"crumbs", report->crumbs.vanish + report->crumbs.fuse},
          {"islands", report->islands.size()}};
}

// `count` layers' files: all over the archive, or side by side from its middle.
enum class Pick { spread, side_by_side };
Files files_of(const std::filesystem::path& path, std::uint32_t count, Pick pick) {
  const Archive archive = or_stop(Archive::open(path));
  const std::uint32_t all = archive.settings().layer_count;
  count = std::min(count, all);
  const std::uint32_t middle = std::min(all / 2, all - count);
  Files files;
  for (std::uint32_t i = 0; i < count; ++i) {
    const std::uint64_t spread = (2 * std::uint64_t{i} + 1) * all / (2 * std::uint64_t{count});
    files.push_back(
        or_stop(archive.read_png(1 + (pick == Pick::spread ? static_cast<std::uint32_t>(spread) : middle + i))));
  }
  return files;
}

// The least processor time of some runs is the one least disturbed; wall time and peak are that run's own least too.
json best_of(std::uint32_t repeats, Memory memory, const std::function<json()>& work) {
  json best;
  for (std::uint32_t i = 0; i < repeats; ++i) {
    const json now = in_child(memory, work);
    if (!now.is_object()) stop(now.get<std::string>());
    if (best.is_null() || now["cpu_s"] < best["cpu_s"]) {
      const json wall = best.is_null() ? now["wall_s"] : best["wall_s"];
      best = now;
      best["wall_s"] = std::min(wall, now["wall_s"]);
    }
    best["wall_s"] = std::min(best["wall_s"], now["wall_s"]);
  }
  return best;
}

struct Table {
  std::string plate;
  double pixels = 0;
  json entries = json::array();

  void add(const std::string& what, const std::string& memory, double layers, json found) {
    found["name"] = fmt::format("{} / {} / memory {}", plate, what, memory);
    found["layers"] = layers;
    if (!found.contains("layer_ms")) found["layer_ms"] = 1e3 * found["cpu_s"].get<double>() / layers;
    found["ns_per_pixel"] = 1e6 * found["layer_ms"].get<double>() / pixels;
    found["wall_layer_ms"] = 1e3 * found["wall_s"].get<double>() / layers;
    fmt::print("  {:<24} {:<6} {:>10.2f} {:>10.2f} {:>8.3f} {:>10.1f} {:>8.0f}\n", what, memory,
               found["layer_ms"].get<double>(), found["wall_layer_ms"].get<double>(),
               found["ns_per_pixel"].get<double>(), layers / found["wall_s"].get<double>(),
               found["peak_mb"].get<double>());
    entries.push_back(std::move(found));
  }
};

json ratios_of(const json& one, const json& drawn, const json& two, const json& stb, const json& opencv) {
  json out = json::object();
  const auto ratio = [&](const char* name, const json& a, const json& b, const char* field) {
    if (a.is_null() || b.is_null()) return;
    out[name] = a[field].get<double>() / b[field].get<double>();
    fmt::print("  {:<46} {:.3f}\n", name, out[name].get<double>());
  };
  ratio("with pictures / without, CPU", drawn, one, "layer_ms");
  ratio("check / stb_image decoding, CPU", one, stb, "layer_ms");
  ratio("dense OpenCV / check, CPU", opencv, one, "layer_ms");
  ratio("two threads / one, wall", two, one, "wall_layer_ms");
  return out;
}

// "7680x4320x200 turning 3 px grey none, blur 1.75 px, bond 1.6 s, 1-6 s": the model only where it is another than
// bench_model.
std::string title_of(const Plate& plate) {
  const CureModel &model = plate.model, usual = bench_model();
  std::string title = name_of(plate);
  if (model.blur_mm != usual.blur_mm || model.valid_from_s != usual.valid_from_s ||
      model.valid_to_s != usual.valid_to_s || model.bond_time_s != usual.bond_time_s)
    title += fmt::format(", blur {:.3g} px, bond {:g} s, {:g}-{:g} s", model.blur_mm / plate.shapes.pitch.x_mm,
                         model.bond_time_s, model.valid_from_s, model.valid_to_s);
  return title;
}

json run_plate(const Plate& plate, const Options& options) {
  std::filesystem::path path;
  {  // drawn by a child, so that its memory is not counted with the measurements
    const json drawn = in_child(Memory::kept, [&]() -> json {
      const auto made = plate_archive(plate, options.dir);
      return made ? json{{"path", made->string()}} : json(to_paragraph(made.error()));
    });
    if (!drawn.is_object()) stop(drawn.get<std::string>());
    path = drawn["path"].get<std::string>();
  }
  if (options.draw_only) return {{"plate", name_of(plate)}};
  Table table{title_of(plate), plate.pixels()};
  fmt::print("\n{}\n", table.plate);
  if (options.rivals) {
    const json fault = in_child(Memory::kept, [&]() -> json {
      const auto found = fault_by_rivals(files_of(path, 2, Pick::side_by_side), plate);
      return found ? json(*found) : json::object();
    });
    if (!fault.is_object()) stop(fmt::format("{}: {}", table.plate, fault.get<std::string>()));
    fmt::print("  answers checked: pixels, solid area, pieces, overlap, light, settled light\n");
  }
  fmt::print("  {:<24} {:<6} {:>10} {:>10} {:>8} {:>10} {:>8}\n", "", "memory", "CPU ms/l.", "wall ms/l.", "ns/px",
             "layers/s", "peak MB");
  json ratios = json::object(), report_hash;
  for (const std::string& word : options.memory) {
    const Memory memory = word == "kept" ? Memory::kept : Memory::fresh;
    json one, drawn, two, stb, opencv;
    for (const std::uint32_t threads : options.threads) {
      for (const bool with_pictures : {true, false}) {
        if (with_pictures && !options.pictures) continue;
        const json found =
            best_of(options.repeats, memory, [&] { return check(path, plate.model, threads, with_pictures); });
        if (report_hash.is_null()) report_hash = found["report_hash"];
        if (report_hash != found["report_hash"]) stop("the report differs between thread counts, or with pictures");
        table.add(fmt::format("check, {} thread{}{}", threads, threads == 1 ? "" : "s", with_pictures ? ", drawn" : ""),
                  word, plate.count(), found);
        if (threads == 1) (with_pictures ? drawn : one) = table.entries.back();
      }
      if (threads == 2) two = table.entries.back();
    }
    if (options.rivals) {
      const Files spread = files_of(path, options.decoded_layers, Pick::spread);
      const auto decoded = static_cast<double>(spread.size());
      table.add("stb_image, decode only", word, decoded,
                best_of(options.repeats, memory, [&] { return time_stb(spread); }));
      stb = table.entries.back();
      table.add("libpng, decode only", word, decoded,
                best_of(options.repeats, memory, [&] { return time_libpng(spread); }));
      const Files beside = files_of(path, options.dense_layers + 1, Pick::side_by_side);
      table.add("OpenCV, dense", word, static_cast<double>(beside.size()),
                best_of(1, memory, [&] { return time_opencv(beside, plate); }));
      opencv = table.entries.back();
      std::string steps;
      for (const auto& [name, ms] : opencv["steps_ms"].items())
        steps += fmt::format(" {} {:.1f};", name, ms.get<double>());
      fmt::print("    of which, ms:{}\n", steps);
    }
    ratios[word] = ratios_of(one, drawn, two, stb, opencv);
  }
  return {{"plate", table.plate},
          {"file_bytes", std::filesystem::file_size(path)},
          {"entries", table.entries},
          {"ratios", ratios}};
}

// One line per plate and memory: what the goals are about (docs/benchmarks.md, Hard plates).
void print_summary(const json& plates) {
  fmt::print("\n{:<76} {:<6} {:>10} {:>10} {:>12} {:>10}\n", "", "memory", "CPU ms/l.", "OpenCV / .", "peak MB 1/2",
             "wall 2/1");
  for (const json& plate : plates) {
    const json of_plate = plate.value("ratios", json::object());
    for (const auto& [memory, ratios] : of_plate.items()) {
      const auto entry = [&](const char* what) -> json {
        const std::string name = fmt::format("{} / {} / memory {}", plate["plate"].get<std::string>(), what, memory);
        for (const json& found : plate["entries"])
          if (found["name"] == name) return found;
        return {};
      };
      const json one = entry("check, 1 thread"), two = entry("check, 2 threads");
      const auto number = [](const json& from, const char* field, int digits) {
        return from.contains(field) ? fmt::format("{:.{}f}", from[field].get<double>(), digits) : std::string("-");
      };
      fmt::print("{:<76} {:<6} {:>10} {:>10} {:>12} {:>10}\n", plate["plate"].get<std::string>(), memory,
                 number(one, "layer_ms", 1), number(ratios, "dense OpenCV / check, CPU", 1),
                 number(one, "peak_mb", 0) + " / " + number(two, "peak_mb", 0),
                 number(ratios, "two threads / one, wall", 2));
    }
  }
}

// "1.8-3.2": the valid range of the record, s.
std::pair<double, double> range_from(const std::string& text) {
  double from = 0, to = 0;
  if (std::sscanf(text.c_str(), "%lf-%lf", &from, &to) != 2 || !(from > 0) || !(to >= normal_s && from <= normal_s))
    stop(fmt::format("a range is like 1.8-3.2 and holds {} s, the time of the check; got {}", normal_s, text));
  return {from, to};
}

// The plate with every record that is asked for.
std::vector<Plate> with_records(Plate plate, const Options& options) {
  std::vector<Plate> plates;
  plate.model.bond_time_s = options.bond_s;
  for (const std::string& range : options.ranges) {
    std::tie(plate.model.valid_from_s, plate.model.valid_to_s) = range_from(range);
    if (options.blurs_px.empty()) plates.push_back(plate);
    for (const double blur_px : options.blurs_px) {
      plates.push_back(plate);
      plates.back().model.blur_mm = blur_px * plate.shapes.pitch.x_mm;
    }
  }
  return plates;
}

Options read_options(int argc, char** argv) {
  Options options;
  CLI::App app{"Times the whole check and its rivals on plates drawn from code."};
  app.add_option("--plate", options.plates,
                 "plates, WIDTHxHEIGHTxLAYERS:KIND, KIND busy, crowded, sparse, noise1, noise50, turning, gyroid, "
                 "dithered or letters")
      ->capture_default_str();
  app.add_option("--layers", options.layers, "another number of layers for every plate");
  app.add_option("--edges", options.edges, "grey, hard")->check(CLI::IsMember({"grey", "hard"}));
  app.add_option("--filter", options.filters, "none, up, adaptive")->check(CLI::IsMember({"none", "up", "adaptive"}));
  app.add_option("--turn", options.turn_px, "pixels that hard plates turn by per layer")->check(CLI::Range(0.0, 100.0));
  app.add_option("--blur-px", options.blurs_px, "blur of the record, pixels")->check(CLI::Range(0.1, 8.0));
  app.add_option("--bond", options.bond_s, "bond time of the record, s")->check(CLI::Range(0.1, 100.0));
  app.add_option("--range", options.ranges, "valid range of the record, s, like 1.8-3.2 or 1-6");
  app.add_option("--threads", options.threads, "thread counts of the check");
  app.add_option("--memory", options.memory, "kept, fresh")->check(CLI::IsMember({"kept", "fresh"}));
  app.add_option("--rivals", options.rivals, "whether the rivals run (1) or not (0)")->capture_default_str();
  app.add_option("--pictures", options.pictures, "whether the check is timed with pictures as well (1) or not (0)")
      ->capture_default_str();
  app.add_flag("--draw-only", options.draw_only, "draw the plates that are missing, and stop");
  app.add_option("--repeats", options.repeats, "runs of each measurement; the least is stated")
      ->check(CLI::Range(1, 100));
  app.add_option("--decoded-layers", options.decoded_layers, "layers the decoders are timed on")
      ->check(CLI::Range(1, 100000));
  app.add_option("--dense-layers", options.dense_layers, "layers the dense version is timed on")
      ->check(CLI::Range(1, 1000));
  app.add_option("--dir", options.dir, "where drawn plates are kept")->capture_default_str();
  app.add_option("--json", options.json_file, "write the results here");
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    std::exit(app.exit(error));
  }
  return options;
}

}  // namespace

int main(int argc, char** argv) {
  const Options options = read_options(argc, argv);
  std::setvbuf(stdout, nullptr, _IOLBF, 0);
  json results = {{"format", "hairline-benchmark"}, {"version", 1}, {"machine", machine()}, {"plates", json::array()}};
  fmt::print("{}\n", results["machine"].dump());
  for (const std::string& text : options.plates) {
    for (const std::string& edges : options.edges) {
      for (const std::string& filter : options.filters) {
        Plate plate = or_stop(plate_from(text));
        if (options.layers != 0) plate.shapes.layers = options.layers;
        plate.shapes.edges = edges == "grey" ? Edges::grey : Edges::hard;
        plate.shapes.turn_px = options.turn_px;
        plate.filter = filter == "none" ? PngFilter::none : filter == "up" ? PngFilter::up : PngFilter::adaptive;
        for (const Plate& with_record : with_records(plate, options))
          results["plates"].push_back(run_plate(with_record, options));
      }
    }
  }
  print_summary(results["plates"]);
  results["machine"]["load_1_min_after"] = machine()["load_1_min"];
  if (options.json_file.empty()) return 0;
  std::ofstream out(options.json_file);
  out << results.dump(2) << '\n';
  if (!out.flush()) stop("cannot write " + options.json_file);
}
