/// The whole program on one page.
///
///   archive -> layers (runs) -> measures of one layer -> tracks over layers ┐
///                            -> light and dose -> details at risk           ┴-> verdict -> report
///
/// and, where they are asked for, pictures and what flips in each layer.
///
/// Layers run from the top down, because light of later layers reaches back into earlier ones. What concerns one layer
/// alone (`look_at`) is done for several layers at once; what joins layers is done in order: `Pass::join_layer` for one
/// layer, `Pass::judge_layer` for the one before it. The report does not depend on the number of threads. All stages
/// say what they hold (room.hpp); where that is too much, all is done anew with one layer in flight.
///
/// Beside it: job.hpp (what is known before the first layer), pipeline.hpp (threads), rows.hpp (pixels to mm),
/// record_notes.hpp (whether the record suits the job).
#include "hairline/analyse.hpp"

#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/info.h>

#include <algorithm>

#include "../track/silhouettes.hpp"
#include "hairline/flips.hpp"
#include "hairline/memory.hpp"
#include "pipeline.hpp"
#include "record_notes.hpp"
#include "room.hpp"
#include "rows.hpp"

namespace hairline {
namespace {

Result<LookedAt> look_at(const Job& job, Room& room, std::uint32_t number) {
  auto layer = job.archive.read_layer(number);
  if (!layer) return tl::unexpected(std::move(layer.error()));
  LookedAt at;
  at.number = number;
  at.layer = std::move(*layer);
  at.solid = solid(at.layer);
  if (auto fits = room.take_layer(number, job.archive.layer_bytes() + layer_bytes(at.layer, at.solid)); !fits)
    return tl::unexpected(std::move(fits.error()));
  at.pieces = find_pieces(at.solid);
  at.thin = find_thin_places(at.layer, at.solid, job.settings.pitch, job.asked.thickness);
  at.faint = find_faint_spots(at.layer);
  for (const Run& run : at.layer.runs) at.brightest = std::max(at.brightest, run.value);
  at.row = layer_row(job, number, at.pieces, at.thin);
  return at;
}

constexpr std::size_t most_pictured = 40;

// The worst of each group of lost details that are alike.
std::vector<std::uint32_t> pictured(const Report& report) {
  std::vector<Detail> lost;
  std::copy_if(report.details.begin(), report.details.end(), std::back_inserter(lost),
               [](const Detail& detail) { return detail.lost; });
  std::vector<std::uint32_t> ids;
  for (const DetailGroup& group : group_alike(lost, report.job.pitch)) ids.push_back(group.ids.front());
  ids.resize(std::min(ids.size(), most_pictured));
  return ids;
}

// A layer once what lies above it has been seen, on its way to the details.
struct Joined {
  RiskLayer layer;
  std::vector<CriticalLayer> finished;  // layers whose critical lists are final by now
};

// What joins layers: fed from the top layer down. `join_layer` and `judge_layer` share nothing, so a layer can be
// judged while the next one is joined.
class Pass {
 public:
  Pass(const Job& job, Room& room, Pictures* pictures)
      : job_(job), room_(room), pictures_(pictures), islands_(job.settings.pitch) {
    sums_.rows.resize(job.layers.size());
    if (pictures) silhouettes_.emplace(job.settings.size, job.settings.pitch, job.layers);
    if (!job.against) return;
    exposure_.emplace(job.against->exposure);
    risk_.emplace(job.against->risk);
  }

  /// Before the first layer.
  Result<void> start_flips() {
    if (!pictures_ || pictures_->flips_file.empty()) return {};
    const JobSettings& job = job_.settings;
    auto opened = FlipsWriter::open(pictures_->flips_file, job_.against ? flips_head(job_.against->risk)
                                                                        : FlipsHead{job.size, job.layer_count, {}, 0});
    if (!opened) return tl::unexpected(std::move(opened.error()));
    flips_.emplace(std::move(*opened));
    return {};
  }

  Result<Joined> join_layer(LookedAt now) {
    std::vector<Contact> contacts;
    if (now.number < job_.layers.size()) {
      contacts = find_contacts(now.solid, now.pieces, above_solid_, above_pieces_);
      note_starts(now.number + 1, above_solid_, above_pieces_, contacts, starts_);
    }
    islands_.add(now.number, job_.layers[now.number - 1].height_mm, now.pieces, contacts);
    faint_.add(now.number, now.faint);
    add_layer(job_, now, contacts, sums_);
    above_solid_ = now.solid;
    above_pieces_ = now.pieces;
    std::vector<CriticalLayer> finished;
    if (silhouettes_) silhouettes_->add(now.number, now.solid);
    const std::uint64_t most = room_.for_joining();
    if (exposure_) exposure_->add(now.number, now.layer, now.solid, finished, most - std::min(most, beside_light()));
    if (auto fits = hold_joined(now.number, most); !fits) return tl::unexpected(std::move(fits.error()));
    return Joined{{now.number, std::move(now.solid), std::move(now.pieces), std::move(now.thin), std::move(contacts)},
                  std::move(finished)};
  }

  Result<void> judge_layer(Joined now) {
    if (!risk_) return {};
    const std::uint32_t number = now.layer.number;
    risk_->add_layer(std::move(now.layer));
    for (CriticalLayer& layer : now.finished)
      if (auto fits = judge_critical(std::move(layer)); !fits) return fits;
    return room_.hold_judging(number, risk_->bytes());
  }

  Result<Report> report() {
    if (!sums_.any_light) return tl::unexpected(all_black());
    Report report;
    report.exposure_s = job_.normal_s;
    report.job = job_summary(job_, sums_.rows);
    report.base = base_summary(job_, sums_);
    report.growth = growth_summary(job_, sums_);
    auto risk = finish_risk(report.base);
    if (!risk) return tl::unexpected(std::move(risk.error()));
    const IslandTracker::Found found = islands_.finish();
    count_islands(found, sums_.rows);
    report.islands = island_rows(job_, found.islands, starts_, risk->propped);
    report.faint = faint_parts(job_, faint_.finish());
    report.speck_count = static_cast<std::uint32_t>(found.specks.size());
    if (job_.against) hold_against_record(*risk, report);
    judge_whole(*risk, report);
    if (job_.against) list(std::move(*risk), report);
    if (report.growth) report.growth->findings = tight_gaps(*report.growth, report.details);
    if (pictures_)
      if (auto drawn = draw(report); !drawn) return tl::unexpected(std::move(drawn.error()));
    if (flips_)
      if (auto kept = flips_->finish(); !kept) return tl::unexpected(std::move(kept.error()));
    report.layers = std::move(sums_.rows);
    report.limits = stated_limits();
    return report;
  }

 private:
  std::uint64_t beside_light() const {
    constexpr std::uint64_t start_bytes = 96;
    return islands_.bytes() + starts_.size() * start_bytes + (silhouettes_ ? silhouettes_->bytes() : 0);
  }

  Result<void> hold_joined(std::uint32_t number, std::uint64_t most) {
    return room_.hold_joining(number, beside_light() + (exposure_ ? exposure_->bytes() : 0), most);
  }

  Result<void> judge_critical(CriticalLayer critical) {
    const std::uint32_t number = critical.layer;
    if (flips_)
      if (auto written = flips_->add(critical, job_.against->risk); !written) return written;
    const std::uint64_t most = room_.for_judging();
    risk_->add_critical(std::move(critical), most);
    return room_.hold_judging(number, risk_->bytes(), most);
  }

  static Error all_black() {
    return {ErrorKind::invalid, "", "every layer is black: nothing would be printed", "masks with light in them",
            "Check that the masks are not inverted or empty, and export the job again."};
  }

  // Nothing at risk without a record.
  Result<RiskFound> finish_risk(BaseReport& base) {
    if (!exposure_) return RiskFound{};
    const bool large = exposure_->bytes() > 64'000'000;
    while (auto layer = exposure_->finish_next()) {
      const std::uint32_t number = layer->layer;
      auto fits = hold_joined(number, room_.for_joining()).and_then([&] { return judge_critical(std::move(*layer)); });
      if (!fits) return tl::unexpected(std::move(fits.error()));
    }
    base.fuse_mm3 = exposure_->base_losses().fuse_mm3;
    base.flare_mm = job_.settings.base_layers > 0 ? flare_mm(job_.against->risk.model, base.base_s) : 0;
    exposure_.reset();  // the light's buffers are the largest of all
    if (large) give_back_freed_memory();
    auto found = risk_->finish(solid_again());
    if (!pictures_) risk_.reset();
    if (found) base.vanish_mm3 = found->base_vanish_mm3;
    return found;
  }

  SolidOf solid_again() const {
    return [this](std::uint32_t number) -> Result<Mask> {
      auto layer = job_.archive.read_layer(number);
      if (!layer) return tl::unexpected(std::move(layer.error()));
      return solid(*layer);
    };
  }

  Result<void> draw(const Report& report) const {
    pictures_->silhouettes = silhouettes_->finish();
    pictures_->details.clear();
    if (!risk_) return {};
    auto details = risk_->draw(pictured(report), report.suggestion->exposure_s, solid_again());
    if (!details) return tl::unexpected(std::move(details.error()));
    pictures_->details = std::move(*details);
    return {};
  }

  void hold_against_record(const RiskFound& risk, Report& report) const {
    const Against& against = *job_.against;
    report.record = judge_record(against, job_.normal_s);
    const BaseReport& base = report.base;
    const auto base_s = base.stated && base.base_layers > 0 ? std::optional(base.base_s) : job_.settings.base_s;
    report.suggestion = suggest(risk, {against.risk, job_.settings.height_mm, base_s, against.base, report.islands,
                                       report.faint, job_.asked.sweep});
  }

  void judge_whole(const RiskFound& risk, Report& report) const {
    const bool held = job_.against.has_value();
    judge_base(report.base, {.normal_s = job_.normal_s,
                             .set_s = held ? report.suggestion->exposure_s : job_.normal_s,
                             .readings = held ? job_.against->base : std::vector<BaseReading>{},
                             .bonds_from_s = held ? base_bonds_from_s(risk, job_.against->risk, report.base.base_s) : 0,
                             .height_mm = base_height_mm(job_)});
    Judgement judgement = judge({.risk = held ? &risk : nullptr,
                                 .context = held ? &job_.against->risk : nullptr,
                                 .islands = report.islands,
                                 .faint = report.faint,
                                 .base = report.base,
                                 .nothing_solid = !sums_.solid_in_normal && sums_.brightest > 0,
                                 .brightest_value = sums_.brightest,
                                 .doubts = held ? report.record->doubts : std::vector<std::string>{},
                                 .layers = sums_.rows});
    report.verdict = judgement.verdict;
    report.reasons = std::move(judgement.reasons);
  }

  static void list(RiskFound risk, Report& report) {
    report.bulk = risk.bulk;
    report.base_bulk = risk.base_bulk;
    report.bulk_lost_mm3 = risk.bulk_lost_mm3;
    report.whole_fails = risk.whole_fails;
    report.details = std::move(risk.details);
    report.rounding = risk.rounding;
    report.crumbs = risk.crumbs;
    report.falls = std::move(risk.falls);
  }

  const Job& job_;
  Room& room_;
  Pictures* pictures_;
  LayerSums sums_;
  IslandTracker islands_;
  Starts starts_;
  FaintTracker faint_;
  std::optional<ExposurePass> exposure_;
  std::optional<RiskTracker> risk_;
  std::optional<SilhouetteDrawer> silhouettes_;
  std::optional<FlipsWriter> flips_;
  Mask above_solid_;
  Pieces above_pieces_;
};

Result<Report> read_and_judge(const Job& job, Room& room, std::size_t in_flight, Progress& progress,
                              Pictures* pictures) {
  room.start(in_flight);
  Pass pass(job, room, pictures);
  if (auto started = pass.start_flips(); !started) return tl::unexpected(std::move(started.error()));
  const auto look = [&](std::uint32_t number) { return look_at(job, room, number); };
  const auto join = [&pass](LookedAt layer) { return pass.join_layer(std::move(layer)); };
  const auto judge_joined = [&pass](Joined layer) { return pass.judge_layer(std::move(layer)); };
  const auto count = static_cast<std::uint32_t>(job.layers.size());
  if (auto done = top_down(count, in_flight, progress, look, join, judge_joined); !done)
    return tl::unexpected(std::move(done.error()));
  return pass.report();
}

Result<Report> within_memory(const Job& job, Progress& progress, Pictures* pictures) {
  namespace tbb = oneapi::tbb;
  const std::size_t threads =
      job.asked.threads > 0 ? job.asked.threads : static_cast<std::size_t>(tbb::info::default_concurrency());
  const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
  Room room(job.asked.memory_bytes, job.settings.size);
  auto report = read_and_judge(job, room, threads == 1 ? 1 : threads + 1, progress, pictures);
  if (report || !room.exceeded() || threads == 1) return report;
  return read_and_judge(job, room, 1, progress, pictures);
}

}  // namespace

Result<Report> analyse(const Archive& archive, const ResinRecord* record, const AnalyseSettings& settings,
                       Progress& progress, Pictures* pictures) {
  auto report = prepare_job(archive, record, settings).and_then([&](const Job& job) {
    return within_memory(job, progress, pictures);
  });
  if (report)
    if (auto same = archive.unchanged(); !same) report = tl::unexpected(std::move(same.error()));
  if (!report && report.error().file.empty()) report.error().file = archive.path().string();
  return report;
}

}  // namespace hairline
