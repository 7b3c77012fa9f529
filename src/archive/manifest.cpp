// manifest.json to settings and back.
#include "manifest.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "hairline/archive.hpp"
#include "names.hpp"

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;

constexpr Range length_mm{0.001, 1}, time_s{0, 3600, true}, rest_s{0, 3600}, lift_mm{0, 1000},
    speed_mm_per_min{0, 100'000, true}, density_g_per_ml{0.1, 10};

constexpr const char* no_base_layers = "no base layers";  // assumed where a manifest leaves their number out

// The manifest lies inside the job's file, so its errors say what they are about.
constexpr JsonKind manifest_kind{
    .format = "layer-archive",
    .damaged = "Export the job again, or correct the manifest.",
    .other =
        "If another program wrote it, give --pitch, --height and --exposure, or draft how to read it once with "
        "\"hairline describe\".",
    .convert = "Convert the job to a layer archive of version 1, or use a version of this program that knows it.",
    .noun = "the manifest",
    .name = "\"{}\" in the manifest",
    .kind_name = "\"{}\" in the manifest",
    .kind_expected = "{1}",
    .lacks = "the manifest has no \"{0}\"",
    .entry = "\"{}[{}]\" in the manifest",
    .no_object = "{} is not a JSON object",
    .correct = "Correct the manifest.",
    .add = "Add the field to the manifest.",
    .object = "an object",
    .list = "a list",
    .above = "a number above {} and at most {}{}",
    .from = "a number of at least {} and at most {}{}",
    .first_entry = 0};

// A count is a matter of limits above `most`.
std::optional<std::uint32_t> optional_count(const Fields& from, const char* key, std::uint32_t least,
                                            std::uint32_t most) {
  return from.optional_whole(key, {double(least), double(most)}, ErrorKind::limit);
}
std::uint32_t count(const Fields& from, const char* key, std::uint32_t least, std::uint32_t most) {
  return from.whole(key, {double(least), double(most)}, ErrorKind::limit);
}

void read_image(const Fields& image, const Limits& limits, JobSettings& job) {
  job.size.width_px = count(image, "width_px", 1, limits.side_px);
  job.size.height_px = count(image, "height_px", 1, limits.side_px);
  job.pitch.x_mm = image.number("pitch_x_mm", length_mm);
  job.pitch.y_mm = image.number("pitch_y_mm", length_mm);
  job.mirrored = image.optional_flag("mirrored");
  if (std::uint64_t{job.size.width_px} * job.size.height_px > limits.pixels_per_mask)
    image.fail(ErrorKind::limit,
               fmt::format("\"image\" in the manifest is {} x {} pixels", job.size.width_px, job.size.height_px),
               fmt::format("at most {} pixels in a mask", limits.pixels_per_mask), "Check the image size.");
}

void read_layers(const Fields& layers, const Limits& limits, JobSettings& job) {
  job.layer_count = optional_count(layers, "count", 1, limits.layers).value_or(0);
  job.height_mm = layers.number("height_mm", length_mm);
  job.files = layers.optional_text("files", job.files);
  if (!archive::is_pattern(job.files))
    layers.wrong("files", "a path inside the archive with one star, such as \"layers/*.png\"");
}

void read_exposure(const Fields& exposure, const Limits& limits, JobSettings& job) {
  job.normal_s = exposure.number("normal_s", time_s);
  job.base_s = exposure.optional_number("base_s", time_s);
  const auto base_layers = optional_count(exposure, "base_layers", 0, limits.layers);
  job.base_layers = base_layers.value_or(0);
  job.transition_layers = optional_count(exposure, "transition_layers", 0, limits.layers).value_or(0);
  if (!base_layers) job.assumed.push_back(no_base_layers);
  if (job.base_layers > 0 && !job.base_s)
    job.assumed.push_back(fmt::format("base exposure {} s, as for all layers", job.normal_s));
}

void read_motion(const Fields& motion, JobSettings& job) {
  struct Field {
    const char* key;
    Range range;
    std::optional<double>& value;
    double assumed;
    const char* words;
    const char* unit;
  };
  Motion& m = job.motion;
  const Field fields[] = {
      {"lift_mm", lift_mm, m.lift_mm, assumed_motion.lift_mm, "lift height", "mm"},
      {"lift_mm_per_min", speed_mm_per_min, m.lift_mm_per_min, assumed_motion.lift_mm_per_min, "lift speed", "mm/min"},
      {"retract_mm_per_min", speed_mm_per_min, m.retract_mm_per_min, assumed_motion.retract_mm_per_min, "retract speed",
       "mm/min"},
      {"rest_before_s", rest_s, m.rest_before_s, assumed_motion.rest_before_s, "rest before exposure", "s"},
      {"rest_after_s", rest_s, m.rest_after_s, assumed_motion.rest_after_s, "rest after exposure", "s"}};
  for (const Field& field : fields) {
    field.value = motion.optional_number(field.key, field.range);
    if (!field.value) job.assumed.push_back(fmt::format("{} {} {}", field.words, field.assumed, field.unit));
  }
}

void read_resin(const Fields& resin, JobSettings& job) {
  job.resin_label = resin.optional_text("label");
  job.density_g_per_ml = resin.optional_number("density_g_per_ml", density_g_per_ml);
  if (!job.density_g_per_ml) job.assumed.push_back(fmt::format("resin density {} g/ml", assumed_density_g_per_ml));
}

Exception read_exception(const Fields& entry, const Limits& limits) {
  Exception exception;
  exception.from_layer = count(entry, "from_layer", 1, limits.layers);
  exception.to_layer = count(entry, "to_layer", std::max(1u, exception.from_layer), limits.layers);
  exception.height_mm = entry.optional_number("height_mm", length_mm);
  exception.exposure_s = entry.optional_number("exposure_s", time_s);
  return exception;
}

void sort_exceptions(const Fields& manifest, JobSettings& job) {
  auto& list = job.exceptions;
  std::stable_sort(list.begin(), list.end(),
                   [](const Exception& a, const Exception& b) { return a.from_layer < b.from_layer; });
  for (std::size_t i = 1; i < list.size(); ++i) {
    if (list[i].from_layer > list[i - 1].to_layer) continue;
    manifest.fail(ErrorKind::invalid,
                  fmt::format("\"exceptions\" in the manifest cover layer {} twice (layers {} to {} and {} to {})",
                              list[i].from_layer, list[i - 1].from_layer, list[i - 1].to_layer, list[i].from_layer,
                              list[i].to_layer),
                  "each layer in one exception at most", "Correct the manifest.");
  }
}

void read_exceptions(const Fields& manifest, const Limits& limits, JobSettings& job) {
  for (const Fields& entry : manifest.optional_list("exceptions"))
    job.exceptions.push_back(read_exception(entry, limits));
  if (!manifest.error()) sort_exceptions(manifest, job);
}

Json stated(std::initializer_list<std::pair<const char*, std::optional<double>>> fields) {
  Json object = Json::object();
  for (const auto& [key, value] : fields)
    if (value) object[key] = *value;
  return object;
}

}  // namespace

Result<JobSettings> archive::parse_settings(const std::string& text, const std::string& file, const Limits& limits,
                                            const JsonKind& kind) {
  const auto manifest = read_json(text, file, kind);
  if (!manifest) return tl::unexpected(manifest.error());
  JobSettings job;
  job.title = manifest->optional_text("title");
  read_image(manifest->object("image"), limits, job);
  read_layers(manifest->object("layers"), limits, job);
  read_exposure(manifest->object("exposure"), limits, job);
  read_motion(manifest->optional_object("motion"), job);
  read_resin(manifest->optional_object("resin"), job);
  job.printer_label = manifest->optional_text("printer.label");
  read_exceptions(*manifest, limits, job);
  if (!manifest->error() && job.layer_count > 0) {
    if (auto fit = archive::check_exceptions(job, file); !fit) return tl::unexpected(std::move(fit.error()));
  }
  if (manifest->error()) return tl::unexpected(*manifest->error());
  return job;
}

Result<JobSettings> parse_manifest(const std::string& text, const std::string& file, const Limits& limits) {
  if (text.size() > limits.manifest_bytes)
    return tl::unexpected(Error{ErrorKind::limit, file, fmt::format("the manifest is {} bytes long", text.size()),
                                fmt::format("at most {} bytes", limits.manifest_bytes),
                                "Check that this is the right file."});
  return archive::parse_settings(text, file, limits, manifest_kind);
}

Result<void> archive::check_exceptions(const JobSettings& job, const std::string& file) {
  if (job.exceptions.empty() || job.exceptions.back().to_layer <= job.layer_count) return {};
  const Exception& last = job.exceptions.back();
  return tl::unexpected(
      Error{ErrorKind::invalid, file,
            fmt::format("\"exceptions\" in the manifest name layers {} to {}", last.from_layer, last.to_layer),
            fmt::format("layers from 1 to {}", job.layer_count), "Correct the manifest."});
}

std::string write_manifest(const JobSettings& job) {
  Json manifest;
  manifest["format"] = "layer-archive";
  manifest["version"] = 1;
  manifest["title"] = job.title;
  manifest["image"] = {{"width_px", job.size.width_px},
                       {"height_px", job.size.height_px},
                       {"pitch_x_mm", job.pitch.x_mm},
                       {"pitch_y_mm", job.pitch.y_mm},
                       {"mirrored", job.mirrored}};
  Json& layers = manifest["layers"] = Json::object();
  if (job.layer_count > 0) layers["count"] = job.layer_count;
  layers["height_mm"] = job.height_mm;
  layers["files"] = job.files;
  Json& exposure = manifest["exposure"] = stated({{"normal_s", job.normal_s}, {"base_s", job.base_s}});
  const bool bases_left_out = std::find(job.assumed.begin(), job.assumed.end(), no_base_layers) != job.assumed.end();
  if (!bases_left_out) exposure["base_layers"] = job.base_layers;
  exposure["transition_layers"] = job.transition_layers;
  const Motion& motion = job.motion;
  manifest["motion"] = stated({{"lift_mm", motion.lift_mm},
                               {"lift_mm_per_min", motion.lift_mm_per_min},
                               {"retract_mm_per_min", motion.retract_mm_per_min},
                               {"rest_before_s", motion.rest_before_s},
                               {"rest_after_s", motion.rest_after_s}});
  Json& resin = manifest["resin"] = {{"label", job.resin_label}};
  if (job.density_g_per_ml) resin["density_g_per_ml"] = *job.density_g_per_ml;
  manifest["printer"] = {{"label", job.printer_label}};
  Json& exceptions = manifest["exceptions"] = Json::array();
  for (const Exception& e : job.exceptions) {
    Json entry = {{"from_layer", e.from_layer}, {"to_layer", e.to_layer}};
    if (e.height_mm) entry["height_mm"] = *e.height_mm;
    if (e.exposure_s) entry["exposure_s"] = *e.exposure_s;
    exceptions.push_back(std::move(entry));
  }
  return json_text(manifest, 2) + "\n";
}

}  // namespace hairline
