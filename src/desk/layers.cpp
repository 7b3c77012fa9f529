// The layers of a job, as drawn and as printed at each time of its last check.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "../base/numbers.hpp"
#include "../report/wording.hpp"
#include "hairline/layer_view.hpp"
#include "json.hpp"
#include "open_layers.hpp"

namespace hairline::desk {
namespace {

Json json_of(const BoxMm& box) {
  return {{"from", {box.from.x, box.from.y, box.from.z}}, {"to", {box.to.x, box.to.y, box.to.z}}};
}

Json json_of(const Detail& detail) {
  return {{"id", detail.id},
          {"name", loss_name(detail)},
          {"fate", to_string(detail.fate)},
          {"state", detail.state == State::will ? "will" : "may"},
          {"from_layer", detail.from_layer},
          {"to_layer", detail.to_layer},
          {"box_mm", json_of(detail.box)}};
}

Json json_of(const IslandRow& island, std::size_t number) {
  return {{"id", fmt::format("island {}", number)},
          {"name", island_text(island)},
          {"state", "adrift"},
          {"from_layer", island.layer},
          {"to_layer", island.last_layer},
          {"box_mm", json_of(island.box)}};
}

// All of it, where that fails.
Json json_of_whole(const JobSettings& job) {
  const BoxMm plate{{0, 0, 0}, {job.size.width_px * job.pitch.x_mm, job.size.height_px * job.pitch.y_mm, 0}};
  return {{"id", "whole"},   {"name", "The print as a whole fails."}, {"state", "will"},
          {"from_layer", 1}, {"to_layer", job.layer_count},           {"box_mm", json_of(plate)}};
}

const char* word_of(Kept kept) {
  static constexpr const char* words[] = {"nothing", "changed", "all"};  // as in Kept
  return words[static_cast<std::size_t>(kept)];
}

Json json_of(const std::string& name, const OpenLayers& open) {
  const JobSettings& job = open.archive().settings();
  Json heights = Json::array();
  for (const PrintedLayer& layer : printed_layers(job, job.normal_s))
    heights.push_back(std::round(1e4 * layer.bottom_mm) / 1e4);
  return {{"name", name},
          {"title", job.title},
          {"count", job.layer_count},
          {"width_px", job.size.width_px},
          {"height_px", job.size.height_px},
          {"pitch_x_mm", job.pitch.x_mm},
          {"pitch_y_mm", job.pitch.y_mm},
          {"mirrored", job.mirrored},
          {"bottom_mm", heights},
          {"kept", word_of(open.kept())},
          {"times_s", open.head().times_s},
          {"judged", open.head().judged}};
}

// Lost details, worst first, then pieces with nothing beneath them. The report is read for it, which may take a second.
Answer findings_of(const Folder& folder, const std::string& name, const OpenLayers& open) {
  constexpr std::size_t most_findings = 500;
  Json findings = Json::array();
  if (!open.check()) return json_answer(findings);
  const auto text = kept_part(folder, *open.check(), "report.json");
  const auto report = text ? parse_report(*text, name) : tl::unexpected(text.error());
  if (!report) return refusal(report.error());
  if (report->whole_fails) findings.push_back(json_of_whole(open.archive().settings()));
  for (const Detail& detail : report->details)
    if (detail.lost && findings.size() < most_findings) findings.push_back(json_of(detail));
  const auto islands = loose_islands(*report);
  for (std::size_t i = 0; i < islands.size() && findings.size() < most_findings; ++i)
    findings.push_back(json_of(*islands[i], i + 1));
  return json_answer(findings);
}

// A whole number of a request, 0 to `most`.
std::optional<std::uint32_t> number_in(const std::string& text, double most) {
  const auto value = parse_number(text);
  if (!value || *value < 0 || *value > most || *value != std::floor(*value)) return {};
  return static_cast<std::uint32_t>(*value);
}

// What is asked of one layer.
struct AskedLayer {
  std::shared_ptr<OpenLayers> open;
  std::shared_ptr<const SeenLayer> seen;
  std::uint32_t number = 0, time = 0;
};

// A job written anew while it was open is opened anew, once.
Result<std::shared_ptr<const SeenLayer>> seen_layer(OpenJobs& jobs, const std::string& name, AskedLayer& asked) {
  auto seen = asked.open->layer(asked.number);
  if (seen || seen.error().kind != ErrorKind::unreadable) return seen;
  jobs.forget(name);
  auto again = jobs.find(name);
  if (!again) return tl::unexpected(std::move(again.error()));
  asked.open = std::move(*again);
  if (asked.number > asked.open->archive().settings().layer_count) return seen;
  return asked.open->layer(asked.number);
}

// Answers `what` of the layer that is asked for, or why it cannot be shown.
Answer answer_layer(OpenJobs& jobs, const Call& call, Answer (*what)(const AskedLayer& asked, const Call& call)) {
  AskedLayer asked;
  auto open = jobs.find(call.names[0]);
  if (!open) return refusal(open.error());
  asked.open = std::move(*open);
  const auto number = number_in(call.names[1], asked.open->archive().settings().layer_count);
  const std::size_t times = asked.open->head().times_s.size();
  const auto time = number_in(call.asked("time"), static_cast<double>(std::max<std::size_t>(times, 1) - 1));
  if (!number || *number == 0) return refusal(404, "The job has no such layer.");
  if (!time) return refusal(400, "The check has no such time.");
  asked.number = *number, asked.time = *time;
  auto seen = seen_layer(jobs, call.names[0], asked);
  if (!seen) return refusal(seen.error());
  asked.seen = std::move(*seen);
  return what(asked, call);
}

Answer changes_of(const AskedLayer& asked, const Call&) {
  const LayerChanges found =
      layer_changes(asked.seen->solid, asked.seen->flips, asked.time, asked.open->archive().settings().pitch);
  return json_answer({{"known", asked.seen->flips.known},
                      {"missing", found.missing},
                      {"missing_mm2", found.missing_mm2},
                      {"filled", found.filled},
                      {"filled_mm2", found.filled_mm2}});
}

// A part of a layer, `wide` pixels wide; its height follows from its shape.
Answer picture_of(const AskedLayer& asked, const Call& call) {
  const JobSettings& job = asked.open->archive().settings();
  const auto x = number_in(call.asked("x"), job.size.width_px), y = number_in(call.asked("y"), job.size.height_px);
  const auto w = number_in(call.asked("w"), job.size.width_px), h = number_in(call.asked("h"), job.size.height_px);
  const auto wide = number_in(call.asked("wide"), most_view_px);
  if (!x || !y || !w || !h || !wide || *w == 0 || *h == 0)
    return refusal(400, "A part of a layer is x, y, w, h and wide, in whole pixels.");
  const double shape = *h * job.pitch.y_mm / (*w * job.pitch.x_mm);
  const double high = std::clamp(std::round(*wide * shape), 1.0, double{most_view_px});
  const auto view = layer_view(asked.seen->solid, asked.seen->flips, asked.time, job.pitch,
                               {{*x, *y, *x + *w, *y + *h}, *wide, static_cast<std::uint32_t>(high)});
  if (!view) return refusal(view.error());
  return {.type = "image/png", .body = layer_png(*view)};
}

}  // namespace

void add_layer_routes(Routes& routes, Shared& shared) {
  const auto jobs = std::make_shared<OpenJobs>(shared.folder);
  routes.push_back({"GET", "/api/jobs/{}/layers", [jobs](const Call& call) {
                      const auto open = jobs->find(call.names[0]);
                      return open ? json_answer(json_of(call.names[0], **open)) : refusal(open.error());
                    }});
  const auto findings = [jobs, &shared](const Call& call) {
    const auto open = jobs->find(call.names[0]);
    return open ? findings_of(shared.folder, call.names[0], **open) : refusal(open.error());
  };
  const auto picture = [jobs](const Call& call) { return answer_layer(*jobs, call, picture_of); };
  const auto changes = [jobs](const Call& call) { return answer_layer(*jobs, call, changes_of); };
  routes.push_back({"GET", "/api/jobs/{}/findings", findings, true});
  routes.push_back({"GET", "/api/jobs/{}/layers/{}.png", picture, true});
  routes.push_back({"GET", "/api/jobs/{}/layers/{}", changes, true});
}

}  // namespace hairline::desk
