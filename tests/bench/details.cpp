// What details cost: the check of an archive, layer by layer on one thread, with and without the tracker of details and
// the safer time that follows from it, by turns.
//   bench_details ARCHIVE [--repeats N]
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>

#include "hairline/analyse.hpp"
#include "hairline/memory.hpp"
#include "hairline/plan.hpp"
#include "hairline/track.hpp"
#include "plate_archive.hpp"
#include "timing.hpp"

namespace {

using namespace hairline;
using namespace hairline::bench;

template <class T>
T or_stop(Result<T> result) {
  if (result) return std::move(*result);
  fmt::print(stderr, "{}\n", to_paragraph(result.error()));
  std::exit(2);
}

struct Spent {
  double cpu_s = 0, suggested_s = 0;
  std::size_t details = 0, crumbs = 0, islands = 0;
};

Spent check(const Archive& archive, const RiskContext& risk, bool with_details) {
  const JobSettings& job = archive.settings();
  const double start = cpu_now_s();
  const ExposureContext exposure =
      or_stop(ExposureContext::create(risk.model, job.size, job.pitch, risk.layers, critical_range(risk)));
  ExposurePass pass(exposure);
  IslandTracker islands(job.pitch);
  RiskTracker tracker(risk);
  std::vector<CriticalLayer> finished;
  const auto hand_over = [&] {
    for (CriticalLayer& layer : finished) {
      if (with_details) tracker.add_critical(std::move(layer));
    }
    finished.clear();
  };
  Mask above;
  Pieces above_pieces;
  for (std::uint32_t n = job.layer_count; n > 0; --n) {
    const Layer layer = or_stop(archive.read_layer(n));
    Mask mask = solid(layer);
    Pieces pieces = find_pieces(mask);
    ThinPlaces thin = find_thin_places(layer, mask, job.pitch);
    std::vector<Contact> contacts;
    if (n < job.layer_count) contacts = find_contacts(mask, pieces, above, above_pieces);
    islands.add(n, job.height_mm, pieces, contacts);
    pass.add(n, layer, mask, finished);
    above = mask;
    above_pieces = pieces;
    if (with_details) tracker.add_layer({n, std::move(mask), std::move(pieces), std::move(thin), std::move(contacts)});
    hand_over();
  }
  while (auto layer = pass.finish_next()) finished.push_back(std::move(*layer));
  hand_over();
  Spent spent;
  spent.islands = islands.finish().islands.size();
  if (with_details) {
    const RiskFound found =
        or_stop(tracker.finish([&](std::uint32_t n) -> Result<Mask> { return solid(or_stop(archive.read_layer(n))); }));
    spent.suggested_s = suggest(found, {risk, job.height_mm, job.base_s, {}, {}, {}}).exposure_s;
    spent.details = found.details.size();
    spent.crumbs = found.crumbs.vanish + found.crumbs.fuse;
  }
  spent.cpu_s = cpu_now_s() - start;
  return spent;
}

// The same details as in the report of the whole program?
bool as_analyse(const Archive& archive, const Spent& answer) {
  const ResinRecord record = bench_record();
  AnalyseSettings settings;
  settings.exposure_s = normal_s;
  Progress progress;
  const Report report = or_stop(analyse(archive, &record, settings, progress));
  return report.details.size() == answer.details && report.crumbs.vanish + report.crumbs.fuse == answer.crumbs;
}

}  // namespace

int main(int argc, char** argv) {
  keep_freed_memory();
  std::string path;
  int repeats = 40;
  CLI::App app("What details cost on a layer archive");
  app.add_option("archive", path, "A layer archive")->required();
  app.add_option("--repeats", repeats, "Runs of each, by turns (default 40)")->check(CLI::PositiveNumber);
  CLI11_PARSE(app, argc, argv);

  const Archive archive = or_stop(Archive::open(path));
  const RiskContext risk = bench_risk(archive.settings());
  const Spent answer = check(archive, risk, true);
  if (!as_analyse(archive, answer)) {
    fmt::print(stderr, "{}: details other than those of analyse\n", path);
    return 2;
  }
  std::vector<double> without, with;
  for (int i = 0; i < repeats; ++i) {
    without.push_back(check(archive, risk, false).cpu_s);
    with.push_back(check(archive, risk, true).cpu_s);
  }
  const double layers = archive.settings().layer_count;
  const auto row = [layers](const char* name, double a_s, double b_s) {
    fmt::print("  {:<8} {:7.3f} {:7.3f}   {:.3f}\n", name, 1e3 * a_s / layers, 1e3 * b_s / layers, b_s / a_s);
  };
  std::sort(without.begin(), without.end());
  std::sort(with.begin(), with.end());
  fmt::print("{} details, {} crumbs, {} islands, {:.2f} s suggested; CPU ms a layer, one thread\n", answer.details,
             answer.crumbs, answer.islands, answer.suggested_s);
  fmt::print("           without    with   with / without\n");
  row("least", without.front(), with.front());
  row("median", without[without.size() / 2], with[with.size() / 2]);
}
