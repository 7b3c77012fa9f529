/// The whole program on one page.
///
///   archive -> layers (runs) -> measures of one layer -> tracks over layers ┐
///                            -> light and dose -> details at risk           ┴-> verdict -> report
///
/// Layers run from the top down, because light of later layers reaches back into earlier ones. What concerns one layer
/// alone (`look_at`) is done for several layers at once; what joins layers is done in order: `Pass::join_layer` for one
/// layer, `Pass::judge_layer` for the one before it. So memory is bounded by the layers in flight, and the report does
/// not depend on the number of threads.
#include "hairline/analyse.hpp"

#include <fmt/core.h>
#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/info.h>
#include <oneapi/tbb/parallel_pipeline.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "report/compose.hpp"

namespace hairline {
namespace {

// One layer with everything that can be said of it alone.
struct LookedAt {
  std::uint32_t number = 0;
  Layer layer;
  Mask solid;
  Pieces pieces;
  ThinPlaces thin;
  LayerRow row;
  std::uint8_t brightest = 0;  // greatest mask value
};

// What holds for the whole job.
struct Job {
  const Archive& archive;
  const JobSettings& settings;
  std::vector<LayerPlan> layers;
  double normal_s = 0;
  ThicknessSettings thickness;
  JobContext tonight;                       // for the record's notes
  std::string lamp_note;                    // says that the record's times were scaled to tonight's lamp
  bool coarse_rows = false;                 // the range is too wide for close rows of times
  std::optional<RiskContext> risk;          // with a record only
  std::optional<ExposureContext> exposure;  // likewise
};

Result<LookedAt> look_at(const Job& job, std::uint32_t number) {
  LookedAt at;
  at.number = number;
  auto layer = job.archive.read_layer(number);
  if (!layer) return tl::unexpected(std::move(layer.error()));
  at.layer = std::move(*layer);
  at.solid = solid(at.layer);
  at.pieces = find_pieces(at.solid);
  at.thin = find_thin_places(at.solid, job.settings.pitch, job.thickness);
  for (const Run& run : at.layer.runs) at.brightest = std::max(at.brightest, run.value);
  at.row = layer_row(number, job.layers[number - 1], job.settings.pitch, at.pieces, at.thin);
  return at;
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
  explicit Pass(const Job& job) : job_(job), rows_(job.layers.size()), islands_(job.settings.pitch) {
    if (!job.exposure) return;
    exposure_.emplace(*job.exposure);
    risk_.emplace(*job.risk);
  }

  Joined join_layer(LookedAt now) {
    std::vector<Contact> contacts;
    if (now.number < rows_.size()) contacts = find_contacts(now.solid, now.pieces, above_solid_, above_pieces_);
    islands_.add(now.number, job_.layers[now.number - 1].height_mm, now.pieces, contacts);
    note_row(now, contacts);
    above_solid_ = now.solid;
    above_pieces_ = now.pieces;
    std::vector<CriticalLayer> finished;
    if (exposure_) exposure_->add(now.number, now.layer, now.solid, finished);
    return {{now.number, std::move(now.solid), std::move(now.pieces), std::move(now.thin), std::move(contacts)},
            std::move(finished)};
  }

  void judge_layer(Joined now) {
    if (!risk_) return;
    risk_->add_layer(std::move(now.layer));
    for (CriticalLayer& layer : now.finished) risk_->add_critical(std::move(layer));
  }

  Result<Report> report(const ResinRecord* record, const AnalyseSettings& settings) {
    Report report;
    report.exposure_s = job_.normal_s;
    report.job = job_summary(job_.archive.path().string(), job_.settings, job_.layers, rows_);
    report.base = base_summary(job_.settings, job_.normal_s, job_.layers, rows_, largest_box_);
    auto risk = finish_risk(report.base);
    if (!risk) return tl::unexpected(std::move(risk.error()));
    const IslandTracker::Found found = islands_.finish();
    count_islands(found, rows_);
    report.islands = island_rows(found.islands, risk->propped, job_.settings.pitch, job_.layers);
    report.speck_count = static_cast<std::uint32_t>(found.specks.size());
    if (record != nullptr) plan(*record, settings, *risk, report);
    judge_base(report.base, {.normal_s = job_.normal_s,
                             .set_s = report.suggestion ? report.suggestion->exposure_s : job_.normal_s,
                             .readings = record != nullptr ? record->base : std::vector<BaseReading>{}});
    const std::vector<std::string> no_doubts;
    const Judgement judgement = judge({.risk = record != nullptr ? &*risk : nullptr,
                                       .context = record != nullptr ? &*job_.risk : nullptr,
                                       .islands = report.islands,
                                       .base = report.base,
                                       .nothing_solid = !solid_in_normal_ && brightest_ > 0,
                                       .brightest_value = brightest_,
                                       .doubts = report.record ? report.record->doubts : no_doubts});
    report.verdict = judgement.verdict;
    report.reasons = judgement.reasons;
    if (record != nullptr) list(std::move(*risk), report);
    report.layers = std::move(rows_);
    report.limits = stated_limits();
    return report;
  }

  bool any_light() const { return any_light_; }

 private:
  void note_row(const LookedAt& now, const std::vector<Contact>& contacts) {
    std::uint64_t contact_px = 0, solid_px = 0;
    for (const Contact& contact : contacts) contact_px += contact.overlap_px;
    for (const Piece& piece : now.pieces.pieces) solid_px += piece.area_px;
    const double pixel_mm2 = job_.settings.pitch.pixel_mm2();
    if (now.number < rows_.size()) rows_[now.number].contact_mm2 = static_cast<double>(contact_px) * pixel_mm2;
    rows_[now.number - 1] = now.row;
    any_light_ = any_light_ || now.brightest > 0;
    if (job_.layers[now.number - 1].kind == LayerKind::normal) {
      brightest_ = std::max(brightest_, now.brightest);
      solid_in_normal_ = solid_in_normal_ || solid_px > 0;
    }
    if (now.number == 1) rows_[0].contact_mm2 = rows_[0].solid_mm2;
    if (solid_px == 0 || solid_px < largest_px_) return;
    largest_px_ = solid_px;
    largest_box_ = bounds(now.solid);
  }

  // Nothing at risk without a record.
  Result<RiskFound> finish_risk(BaseReport& base) {
    if (!exposure_) return RiskFound{};
    while (auto layer = exposure_->finish_next()) risk_->add_critical(std::move(*layer));
    base.fuse_mm3 = exposure_->base_losses().fuse_mm3;
    base.flare_mm = job_.settings.base_layers > 0 ? flare_mm(job_.risk->model, base.base_s) : 0;
    exposure_.reset();  // the light's buffers are the largest of all
    auto found = risk_->finish([&](std::uint32_t number) -> Result<Mask> {
      auto layer = job_.archive.read_layer(number);
      if (!layer) return tl::unexpected(std::move(layer.error()));
      return solid(*layer);
    });
    risk_.reset();
    if (found) base.vanish_mm3 = found->base_vanish_mm3;
    return found;
  }

  void plan(const ResinRecord& record, const AnalyseSettings& settings, const RiskFound& risk, Report& report) {
    report.record = record_summary(record, job_.tonight, job_.normal_s, job_.risk->model);
    if (!job_.lamp_note.empty()) report.record->notes.push_back(job_.lamp_note);
    report.suggestion = suggest(
        risk, {*job_.risk, job_.settings.height_mm, job_.settings.base_s, record.base, report.islands, settings.sweep});
    report.suggestion->coarse_sweep = job_.coarse_rows;
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
  std::vector<LayerRow> rows_;
  IslandTracker islands_;
  std::optional<ExposurePass> exposure_;
  std::optional<RiskTracker> risk_;
  Mask above_solid_;
  Pieces above_pieces_;
  std::uint64_t largest_px_ = 0;
  BoxPx largest_box_;
  bool any_light_ = false, solid_in_normal_ = false;
  std::uint8_t brightest_ = 0;  // greatest mask value of the normal layers
};

// Runs all layers, top down, through `look_at` (several at once), `Pass::join_layer` and `Pass::judge_layer` (in
// order).
std::optional<Error> run(const Job& job, std::uint32_t threads, Progress& progress, Pass& pass) {
  namespace tbb = oneapi::tbb;
  using tbb::filter_mode;
  using Looked = std::shared_ptr<Result<LookedAt>>;
  using Ready = std::shared_ptr<Joined>;  // null after a failure
  if (threads == 0) threads = static_cast<std::uint32_t>(tbb::info::default_concurrency());
  const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
  std::uint32_t next = job.settings.layer_count;
  std::optional<Error> failed;  // written by the joining stage only
  std::atomic<bool> stop{false};
  progress.start(next);
  const auto number_next = [&](tbb::flow_control& control) -> std::uint32_t {
    if (next == 0 || stop || progress.cancelled()) {
      control.stop();
      return 0;
    }
    return next--;
  };
  const auto look = [&](std::uint32_t number) { return std::make_shared<Result<LookedAt>>(look_at(job, number)); };
  const auto join = [&](const Looked& at) -> Ready {
    if (failed) return nullptr;
    if (*at) return std::make_shared<Joined>(pass.join_layer(std::move(**at)));
    failed = at->error();
    stop = true;
    return nullptr;
  };
  const auto judge = [&](const Ready& layer) {
    if (layer == nullptr) return;
    pass.judge_layer(std::move(*layer));
    progress.advance();
  };
  const std::size_t in_flight = threads == 1 ? 1 : threads + std::size_t{1};
  tbb::parallel_pipeline(in_flight, tbb::make_filter<void, std::uint32_t>(filter_mode::serial_in_order, number_next) &
                                        tbb::make_filter<std::uint32_t, Looked>(filter_mode::parallel, look) &
                                        tbb::make_filter<Looked, Ready>(filter_mode::serial_in_order, join) &
                                        tbb::make_filter<Ready, void>(filter_mode::serial_in_order, judge));
  if (!failed && progress.cancelled())
    failed = Error{ErrorKind::cancelled, "", std::nullopt, "the check was stopped", "", ""};
  return failed;
}

// Model, ranges and exposure context of a job that is checked against a record.
Result<void> prepare_risk(const ResinRecord& record, const AnalyseSettings& settings, Job& job) {
  const auto fitted = fitted_model(record);
  if (!fitted) return tl::unexpected(fitted.error());
  job.tonight = settings.tonight;
  job.tonight.pitch_x_mm = job.settings.pitch.x_mm;
  job.tonight.pitch_y_mm = job.settings.pitch.y_mm;
  job.tonight.layer_height_mm = job.settings.height_mm;
  job.tonight.resin_label = job.settings.resin_label;
  job.tonight.printer_label = job.settings.printer_label;
  const auto scaled = scaled_to_lamp(record, *fitted, job.tonight);
  if (!scaled) return tl::unexpected(scaled.error());
  job.lamp_note = scaled->note;
  const CureModel* model = &scaled->model;
  RiskContext risk;
  risk.model = *model;
  risk.pitch = job.settings.pitch;
  risk.size = job.settings.size;
  risk.layers = job.layers;
  risk.exposure_s = job.normal_s;
  RowTimes rows = row_times(settings.sweep, *model, job.normal_s);
  risk.times_s = std::move(rows.times_s);
  job.coarse_rows = rows.coarse;
  risk.stood_s = shortest_stood_s(record);
  if (risk.stood_s) *risk.stood_s *= scaled->factor;
  risk.settings = settings.risk;
  auto exposure =
      ExposureContext::create(*model, job.settings.size, job.settings.pitch, job.layers, critical_range(risk));
  if (!exposure) {
    exposure.error().file = record.file;
    return tl::unexpected(exposure.error());
  }
  job.risk = std::move(risk);
  job.exposure = std::move(*exposure);
  return {};
}

}  // namespace

Result<Report> analyse(const Archive& archive, const ResinRecord* record, const AnalyseSettings& settings,
                       Progress& progress) {
  const JobSettings& stated = archive.settings();
  const double normal_s = settings.exposure_s.value_or(stated.normal_s);
  if (!(normal_s > 0) || !std::isfinite(normal_s)) {
    return tl::unexpected(Error{ErrorKind::usage, archive.path().string(), std::nullopt,
                                fmt::format("an exposure of {} s", normal_s), "a time over 0 s",
                                "Give --exposure in seconds, for example 2.5."});
  }
  if (settings.sweep.from_s > 0 && settings.sweep.to_s > 0 && settings.sweep.from_s > settings.sweep.to_s) {
    return tl::unexpected(Error{ErrorKind::usage, archive.path().string(), std::nullopt,
                                fmt::format("times from {:g} to {:g} s", settings.sweep.from_s, settings.sweep.to_s),
                                "a last time that is not before the first",
                                "Give --from the shorter time and --to the longer one."});
  }
  Job job{archive, stated, plan_layers(stated, normal_s), normal_s, settings.thickness, {}, {}, false, {}, {}};
  if (record != nullptr) {
    if (auto ready = prepare_risk(*record, settings, job); !ready) return tl::unexpected(ready.error());
  }
  Pass pass(job);
  if (auto failed = run(job, settings.threads, progress, pass)) {
    if (failed->file.empty()) failed->file = archive.path().string();
    return tl::unexpected(std::move(*failed));
  }
  if (!pass.any_light()) {
    return tl::unexpected(Error{ErrorKind::invalid, archive.path().string(), std::nullopt,
                                "every layer is black: nothing would be printed", "masks with light in them",
                                "Check that the masks are not inverted or empty, and export the job again."});
  }
  auto report = pass.report(record, settings);
  if (!report && report.error().file.empty()) report.error().file = archive.path().string();
  return report;
}

}  // namespace hairline
