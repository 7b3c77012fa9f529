// manifest.json to settings and back. Every field is read by one of a few small readers that know its allowed range, so
// an error always names the field, what was there, and what may be there.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "hairline/archive.hpp"
#include "hairline/files.hpp"
#include "names.hpp"

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;

struct Range {
  double from = 0, to = 0;
  bool open = false;  // `from` itself is not allowed
};
constexpr Range length_mm{0.001, 1}, time_s{0, 3600, true}, rest_s{0, 3600}, lift_mm{0, 1000},
    speed_mm_per_min{0, 100'000, true}, density_g_per_ml{0.1, 10};

// Lists and objects are only named: what they hold would make the sentence unreadable.
std::string shown(const Json& value) {
  if (value.is_array()) return "a list";
  if (value.is_object()) return "an object";
  std::string text = value.dump(-1, ' ', false, Json::error_handler_t::replace);
  if (text.size() > 40) text = text.substr(0, 37) + "...";
  return valid_utf8(text);
}

// Reads fields one after the other and keeps the first error; after it everything reads as left out.
class Reader {
 public:
  Reader(std::string file, const Limits& limits) : file_(std::move(file)), limits_(limits) {}

  const std::optional<Error>& error() const { return error_; }
  const Limits& limits() const { return limits_; }

  void fail(ErrorKind kind, std::string found, std::string expected, std::string advice) {
    if (error_) return;
    error_ = Error{.kind = kind,
                   .file = file_,
                   .layer = {},
                   .found = std::move(found),
                   .expected = std::move(expected),
                   .advice = std::move(advice)};
  }
  void wrong(const std::string& name, const Json& value, const std::string& expected) {
    fail(ErrorKind::invalid, fmt::format("\"{}\" in the manifest is {}", name, shown(value)), expected,
         "Correct the manifest.");
  }
  void lacks(const std::string& name, const std::string& expected) {
    fail(ErrorKind::invalid, fmt::format("the manifest has no \"{}\"", name), expected,
         "Add the field to the manifest.");
  }

  // The field, or null where it is left out (or an error has been met).
  const Json* find(const Json& parent, const char* key) {
    if (error_ || !parent.is_object()) return nullptr;
    const auto at = parent.find(key);
    if (at == parent.end() || at->is_null()) return nullptr;
    return &*at;
  }

  const Json& object(const Json& parent, const char* key, bool required) {
    static const Json empty = Json::object();
    if (error_) return empty;
    const auto at = parent.find(key);
    if (at == parent.end() || (at->is_null() && !required)) {
      if (required) lacks(key, "an object");
      return empty;
    }
    if (at->is_object()) return *at;
    wrong(key, *at, "an object");
    return empty;
  }

  std::optional<double> number(const Json& parent, const std::string& path, const char* key, Range range,
                               bool required = false) {
    const std::string expected =
        fmt::format("a number {} {} and at most {}", range.open ? "above" : "of at least", range.from, range.to);
    const Json* value = find(parent, key);
    if (!value) {
      require(parent, path, key, required, expected);
      return {};
    }
    if (!value->is_number()) {
      wrong(path + key, *value, expected);
      return {};
    }
    const double x = value->get<double>();
    const bool good = std::isfinite(x) && (range.open ? x > range.from : x >= range.from) && x <= range.to;
    if (!good) {
      wrong(path + key, *value, expected);
      return {};
    }
    return x;
  }

  // `path` is the parent's name with a full stop, here and below. A whole number; over `most` it is a matter of limits,
  // below `least` the value is wrong.
  std::optional<std::uint32_t> whole(const Json& parent, const std::string& path, const char* key, std::uint32_t least,
                                     std::uint32_t most, bool required = false) {
    const std::string expected = fmt::format("a whole number from {} to {}", least, most);
    const Json* value = find(parent, key);
    if (!value) {
      require(parent, path, key, required, expected);
      return {};
    }
    const double x = value->is_number() ? value->get<double>() : -1;
    if (!value->is_number() || !std::isfinite(x) || x != std::floor(x) || x < least) {
      wrong(path + key, *value, expected);
      return {};
    }
    if (x > most) {
      fail(ErrorKind::limit, fmt::format("\"{}{}\" in the manifest is {}", path, key, shown(*value)), expected,
           "Correct the manifest.");
      return {};
    }
    return static_cast<std::uint32_t>(x);
  }

  std::string text(const Json& parent, const std::string& path, const char* key, const std::string& otherwise = "") {
    const Json* value = find(parent, key);
    if (!value) return otherwise;
    if (value->is_string()) return value->get<std::string>();
    wrong(path + key, *value, "a text");
    return otherwise;
  }

  bool flag(const Json& parent, const std::string& path, const char* key) {
    const Json* value = find(parent, key);
    if (!value) return false;
    if (value->is_boolean()) return value->get<bool>();
    wrong(path + key, *value, "true or false");
    return false;
  }

 private:
  void require(const Json& parent, const std::string& path, const char* key, bool required,
               const std::string& expected) {
    if (error_ || !required) return;
    if (parent.contains(key))
      wrong(path + key, parent.at(key), expected);  // null
    else
      lacks(path + key, expected);
  }

  std::string file_;
  Limits limits_;
  std::optional<Error> error_;
};

void read_kind(Reader& reader, const Json& manifest) {
  const auto refuse = [&](const char* key, const std::string& expected) {
    const auto at = manifest.find(key);
    if (at == manifest.end()) return reader.lacks(key, expected);
    reader.fail(ErrorKind::version, fmt::format("\"{}\" in the manifest is {}", key, shown(*at)), expected,
                "Convert the job to a layer archive of version 1, or use a version of this program that knows it.");
  };
  const auto format = manifest.find("format");
  if (format == manifest.end() || *format != "layer-archive") return refuse("format", "\"layer-archive\"");
  const auto version = manifest.find("version");
  if (version == manifest.end() || !version->is_number() || *version != 1) refuse("version", "1");
}

void read_image(Reader& reader, const Json& image, JobSettings& job) {
  const std::uint32_t side = reader.limits().side_px;
  job.size.width_px = reader.whole(image, "image.", "width_px", 1, side, true).value_or(0);
  job.size.height_px = reader.whole(image, "image.", "height_px", 1, side, true).value_or(0);
  job.pitch.x_mm = reader.number(image, "image.", "pitch_x_mm", length_mm, true).value_or(0);
  job.pitch.y_mm = reader.number(image, "image.", "pitch_y_mm", length_mm, true).value_or(0);
  job.mirrored = reader.flag(image, "image.", "mirrored");
  if (std::uint64_t{job.size.width_px} * job.size.height_px > reader.limits().pixels_per_mask)
    reader.fail(ErrorKind::limit,
                fmt::format("\"image\" in the manifest is {} x {} pixels", job.size.width_px, job.size.height_px),
                fmt::format("at most {} pixels in a mask", reader.limits().pixels_per_mask), "Check the image size.");
}

void read_layers(Reader& reader, const Json& layers, JobSettings& job) {
  job.layer_count = reader.whole(layers, "layers.", "count", 1, reader.limits().layers).value_or(0);
  job.height_mm = reader.number(layers, "layers.", "height_mm", length_mm, true).value_or(0);
  job.files = reader.text(layers, "layers.", "files", job.files);
  if (!archive::is_pattern(job.files))
    reader.wrong("layers.files", job.files, "a path inside the archive with one star, such as \"layers/*.png\"");
}

void read_exposure(Reader& reader, const Json& exposure, JobSettings& job) {
  const std::uint32_t most = reader.limits().layers;
  job.normal_s = reader.number(exposure, "exposure.", "normal_s", time_s, true).value_or(0);
  job.base_s = reader.number(exposure, "exposure.", "base_s", time_s);
  const auto base_layers = reader.whole(exposure, "exposure.", "base_layers", 0, most);
  job.base_layers = base_layers.value_or(0);
  job.transition_layers = reader.whole(exposure, "exposure.", "transition_layers", 0, most).value_or(0);
  if (!base_layers) job.assumed.push_back("no base layers");
  if (job.base_layers > 0 && !job.base_s)
    job.assumed.push_back(fmt::format("base exposure {} s, as for all layers", job.normal_s));
}

void read_motion(Reader& reader, const Json& motion, JobSettings& job) {
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
    field.value = reader.number(motion, "motion.", field.key, field.range);
    if (!field.value) job.assumed.push_back(fmt::format("{} {} {}", field.words, field.assumed, field.unit));
  }
}

void read_resin(Reader& reader, const Json& resin, JobSettings& job) {
  job.resin_label = reader.text(resin, "resin.", "label");
  job.density_g_per_ml = reader.number(resin, "resin.", "density_g_per_ml", density_g_per_ml);
  if (!job.density_g_per_ml) job.assumed.push_back(fmt::format("resin density {} g/ml", assumed_density_g_per_ml));
}

Exception read_exception(Reader& reader, const Json& entry, const std::string& path) {
  Exception exception;
  const std::uint32_t most = reader.limits().layers;
  exception.from_layer = reader.whole(entry, path, "from_layer", 1, most, true).value_or(1);
  exception.to_layer = reader.whole(entry, path, "to_layer", exception.from_layer, most, true).value_or(1);
  exception.height_mm = reader.number(entry, path, "height_mm", length_mm);
  exception.exposure_s = reader.number(entry, path, "exposure_s", time_s);
  return exception;
}

void sort_exceptions(Reader& reader, JobSettings& job) {
  auto& list = job.exceptions;
  std::stable_sort(list.begin(), list.end(),
                   [](const Exception& a, const Exception& b) { return a.from_layer < b.from_layer; });
  for (std::size_t i = 1; i < list.size(); ++i) {
    if (list[i].from_layer > list[i - 1].to_layer) continue;
    reader.fail(ErrorKind::invalid,
                fmt::format("\"exceptions\" in the manifest cover layer {} twice (layers {} to {} and {} to {})",
                            list[i].from_layer, list[i - 1].from_layer, list[i - 1].to_layer, list[i].from_layer,
                            list[i].to_layer),
                "each layer in one exception at most", "Correct the manifest.");
  }
}

void read_exceptions(Reader& reader, const Json& manifest, JobSettings& job) {
  const Json* list = reader.find(manifest, "exceptions");
  if (!list) return;
  if (!list->is_array()) return reader.wrong("exceptions", *list, "a list of objects");
  for (std::size_t i = 0; i < list->size() && !reader.error(); ++i) {
    const std::string name = fmt::format("exceptions[{}]", i);
    if (!(*list)[i].is_object()) return reader.wrong(name, (*list)[i], "an object");
    job.exceptions.push_back(read_exception(reader, (*list)[i], name + "."));
  }
  sort_exceptions(reader, job);
}

std::string place_in(const std::string& text, std::size_t byte) {
  const std::size_t end = std::min(byte > 0 ? byte - 1 : 0, text.size());
  const auto lines = std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(end), '\n');
  const std::size_t line_start = end == 0 ? std::string::npos : text.rfind('\n', end - 1);
  return fmt::format("line {}, column {}", lines + 1, end - (line_start == std::string::npos ? 0 : line_start + 1) + 1);
}

Json parse_json(Reader& reader, const std::string& text) {
  const std::string expected = "a JSON text", advice = "Export the job again, or correct the manifest.";
  if (nesting_depth(text) > most_nesting) {
    reader.fail(ErrorKind::limit, "the manifest is nested too deep", fmt::format("at most {} levels", most_nesting),
                advice);
    return {};
  }
  try {
    return Json::parse(text);
  } catch (const Json::parse_error& e) {
    reader.fail(ErrorKind::broken, fmt::format("the manifest is not JSON ({})", place_in(text, e.byte)), expected,
                advice);
  } catch (const Json::exception&) {
    reader.fail(ErrorKind::broken, "the manifest holds a number too large to be read", expected, advice);
  }
  return {};
}

Json stated(std::initializer_list<std::pair<const char*, std::optional<double>>> fields) {
  Json object = Json::object();
  for (const auto& [key, value] : fields)
    if (value) object[key] = *value;
  return object;
}

}  // namespace

Result<JobSettings> parse_manifest(const std::string& text, const std::string& file, const Limits& limits) {
  Reader reader(file, limits);
  JobSettings job;
  if (text.size() > limits.manifest_bytes)
    reader.fail(ErrorKind::limit, fmt::format("the manifest is {} bytes long", text.size()),
                fmt::format("at most {} bytes", limits.manifest_bytes), "Check that this is the right file.");
  if (reader.error()) return tl::unexpected(*reader.error());
  const Json manifest = parse_json(reader, text);
  if (!reader.error() && !manifest.is_object())
    reader.fail(ErrorKind::invalid, "the manifest is not a JSON object", "an object", "Export the job again.");
  if (!reader.error()) read_kind(reader, manifest);
  if (!reader.error()) {
    job.title = reader.text(manifest, "", "title");
    read_image(reader, reader.object(manifest, "image", true), job);
    read_layers(reader, reader.object(manifest, "layers", true), job);
    read_exposure(reader, reader.object(manifest, "exposure", true), job);
    read_motion(reader, reader.object(manifest, "motion", false), job);
    read_resin(reader, reader.object(manifest, "resin", false), job);
    job.printer_label = reader.text(reader.object(manifest, "printer", false), "printer.", "label");
    read_exceptions(reader, manifest, job);
  }
  if (!reader.error() && job.layer_count > 0) {
    if (auto fit = archive::check_exceptions(job, file); !fit) return tl::unexpected(std::move(fit.error()));
  }
  if (reader.error()) return tl::unexpected(*reader.error());
  return job;
}

Result<void> archive::check_exceptions(const JobSettings& job, const std::string& file) {
  if (job.exceptions.empty() || job.exceptions.back().to_layer <= job.layer_count) return {};
  const Exception& last = job.exceptions.back();
  return tl::unexpected(
      Error{.kind = ErrorKind::invalid,
            .file = file,
            .layer = {},
            .found = fmt::format("\"exceptions\" in the manifest name layers {} to {}", last.from_layer, last.to_layer),
            .expected = fmt::format("layers from 1 to {}", job.layer_count),
            .advice = "Correct the manifest."});
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
  const bool bases_left_out = std::find(job.assumed.begin(), job.assumed.end(), "no base layers") != job.assumed.end();
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
  return manifest.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace hairline
