// The report as JSON; field by field as formats/preflight-report.md says.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <iterator>
#include <nlohmann/json.hpp>

#include "hairline/files.hpp"
#include "hairline/report.hpp"

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;

// Six significant digits: below what any measure here is good for, and free of the last bits' noise.
Json number(double value) {
  if (!std::isfinite(value)) return nullptr;
  const double rounded = std::strtod(fmt::format("{:.5e}", value).c_str(), nullptr);
  return rounded == 0 ? 0.0 : rounded;
}

Json number(const std::optional<double>& value) {
  return value ? number(*value) : Json(nullptr);
}

Json text(const std::string& value) {
  return valid_utf8(value);
}

Json texts(const std::vector<std::string>& values) {
  Json list = Json::array();
  for (const std::string& value : values) list.push_back(text(value));
  return list;
}

Json place(const PlaceMm& at) {
  return Json::array({number(at.x), number(at.y), number(at.z)});
}

Json box(const BoxMm& value) {
  return Json::array({place(value.from), place(value.to)});
}

Json job(const Report::Job& value) {
  return {{"file", text(value.file)},
          {"title", text(value.title)},
          {"layers", value.layers},
          {"height_mm", number(value.height_mm)},
          {"duration_s", number(value.duration_s)},
          {"resin_ml", number(value.resin_ml)},
          {"resin_g", number(value.resin_g)},
          {"resin_cost", number(value.resin_cost)},
          {"normal_s", number(value.normal_s)},
          {"layer_height_mm", number(value.layer_height_mm)},
          {"width_px", value.size.width_px},
          {"height_px", value.size.height_px},
          {"pitch_x_mm", number(value.pitch.x_mm)},
          {"pitch_y_mm", number(value.pitch.y_mm)},
          {"resin", text(value.resin_label)},
          {"printer", text(value.printer_label)},
          {"assumed", texts(value.assumed)}};
}

Json record(const Report::Record& value) {
  Json json = {{"file", text(value.file)}, {"resin", text(value.resin)}, {"printer", text(value.printer)}};
  json["age_days"] = value.age_days ? Json(*value.age_days) : Json(nullptr);
  std::vector<std::string> notes = value.doubts;
  notes.insert(notes.end(), value.notes.begin(), value.notes.end());
  json["notes"] = texts(notes);
  json["doubts"] = texts(value.doubts);
  json["fit"] = {{"bond_time_s", number(value.model.bond_time_s)},
                 {"fuse_time_s", number(value.model.fuse_time_s)},
                 {"blur_mm", number(value.model.blur_mm)},
                 {"penetration_depth_mm", number(value.model.penetration_depth_mm)},
                 {"blur_shape", value.model.blur_shape == BlurShape::gaussian ? "gaussian" : "lorentzian"},
                 {"layer_height_mm", number(value.model.layer_height_mm)},
                 {"valid_from_s", number(value.model.valid_from_s)},
                 {"valid_to_s", number(value.model.valid_to_s)}};
  return json;
}

Json bulk(const std::optional<Bulk>& value) {
  if (!value) return nullptr;
  return {{"bond_time_s", number(value->bond_time_s)},
          {"margin", number(value->margin)},
          {"chance", number(value->chance)},
          {"layer", value->layer}};
}

Json detail(const Detail& value) {
  return {{"id", value.id},
          {"fate", to_string(value.fate)},
          {"state", value.state == State::will ? "will" : "may"},
          {"lost", value.lost},
          {"base", value.base},
          {"from_layer", value.from_layer},
          {"to_layer", value.to_layer},
          {"box_mm", box(value.box)},
          {"volume_mm3", number(value.volume_mm3)},
          {"width_mm", number(value.width_mm)},
          {"flat", value.flat},
          {"depth_mm", number(value.depth_mm)},
          {"share", number(value.share)},
          {"reach_mm", number(value.reach_mm)},
          {"welds", value.welds},
          {"extent_mm", number(value.extent_mm)},
          {"critical_exposure_s", number(value.critical_exposure_s)},
          {"log_sd", number(value.log_sd)},
          {"probability", number(value.probability)},
          {"avoidable", value.avoidable},
          {"carries_mm3", number(value.carries_mm3)},
          {"harm_mm", number(value.harm_mm)}};
}

Json rounding(const Rounding& value) {
  return {{"vanish", value.vanish},
          {"vanish_mm3", number(value.vanish_mm3)},
          {"fuse", value.fuse},
          {"fuse_mm3", number(value.fuse_mm3)},
          {"deepest_mm", number(value.deepest_mm)},
          {"not_looked_at", value.not_looked_at}};
}

Json crumbs(const Crumbs& value) {
  return {{"vanish", value.vanish},
          {"vanish_mm3", number(value.vanish_mm3)},
          {"fuse", value.fuse},
          {"fuse_mm3", number(value.fuse_mm3)},
          {"deep_mm3", number(value.deep_mm3)}};
}

Json fall(const Fall& value) {
  return {{"layer", value.layer},
          {"loose", value.loose},
          {"box_mm", box(value.box)},
          {"volume_mm3", number(value.volume_mm3)},
          {"details", value.details}};
}

Json island(const IslandRow& value) {
  return {{"layer", value.layer},
          {"last_layer", value.last_layer},
          {"height_mm", number(value.height_mm)},
          {"area_mm2", number(value.area_mm2)},
          {"box_mm", box(value.box)},
          {"volume_mm3", number(value.volume_mm3)},
          {"joins_layer", value.joins_layer ? Json(*value.joins_layer) : Json(nullptr)},
          {"held_by_fill", value.held_by_fill}};
}

Json base(const BaseReport& value) {
  Json findings = Json::array();
  bool comes_off = false;
  for (const BaseReport::Finding& finding : value.findings) {
    findings.push_back(text(finding.text));
    comes_off = comes_off || finding.comes_off;
  }
  return {{"contact_mm2", number(value.contact_mm2)},
          {"largest_layer_mm2", number(value.largest_layer_mm2)},
          {"largest_layer", value.largest_layer},
          {"largest_box_mm", box(value.largest_box)},
          {"base_layers", value.base_layers},
          {"base_s", number(value.base_s)},
          {"exposure_ratio", number(value.exposure_ratio)},
          {"flare_mm", number(value.flare_mm)},
          {"fuse_mm3", number(value.fuse_mm3)},
          {"vanish_mm3", number(value.vanish_mm3)},
          {"stated", value.stated},
          {"comes_off", comes_off},
          {"findings", findings}};
}

Json change(const Change& value) {
  return {{"fate", to_string(value.fate)},
          {"from_layer", value.from_layer},
          {"to_layer", value.to_layer},
          {"box_mm", box(value.box)},
          {"width_mm", number(value.width_mm)},
          {"needed_mm", number(value.needed_mm)},
          {"needed_px", number(value.needed_px)},
          {"flat", value.flat},
          {"critical_exposure_s", number(value.critical_exposure_s)}};
}

Json sweep_point(const SweepPoint& value) {
  return {{"exposure_s", number(value.exposure_s)},
          {"vanish", value.vanish},
          {"fuse", value.fuse},
          {"vanish_mm3", number(value.vanish_mm3)},
          {"fuse_mm3", number(value.fuse_mm3)},
          {"expected_losses", number(value.expected_losses)},
          {"expected_mm", number(value.expected_mm)},
          {"bulk_chance", number(value.bulk_chance)}};
}

Json coupons(const std::optional<CouponAdvice>& value) {
  if (!value) return nullptr;
  Json times = Json::array();
  for (const double exposure_s : value->exposures_s) times.push_back(number(exposure_s));
  return {{"exposures_s", times}, {"saves", value->saves}};
}

template <class T, class Writer>
Json list(const std::vector<T>& values, Writer writer) {
  Json json = Json::array();
  for (const T& value : values) json.push_back(writer(value));
  return json;
}

Json layers(const std::vector<LayerRow>& rows) {
  const auto column = [&rows](auto field) { return list(rows, field); };
  return {{"thinnest_wall_mm", column([](const LayerRow& row) { return number(row.thinnest_wall_mm); })},
          {"thinnest_gap_mm", column([](const LayerRow& row) { return number(row.thinnest_gap_mm); })},
          {"solid_mm2", column([](const LayerRow& row) { return number(row.solid_mm2); })},
          {"contact_mm2", column([](const LayerRow& row) { return number(row.contact_mm2); })},
          {"islands", column([](const LayerRow& row) { return Json(row.islands); })},
          {"specks", column([](const LayerRow& row) { return Json(row.specks); })},
          {"pieces", column([](const LayerRow& row) { return Json(row.pieces); })},
          {"height_mm", column([](const LayerRow& row) { return number(row.height_mm); })},
          {"exposure_s", column([](const LayerRow& row) { return number(row.exposure_s); })}};
}

bool has_object(const Json& json) {
  return json.is_object() || (json.is_array() && std::any_of(json.begin(), json.end(), has_object));
}

void write_on_one_line(const Json& json, std::string& out) {
  if (json.is_number_float()) {
    fmt::format_to(std::back_inserter(out), "{}", json.get<double>());
  } else if (json.is_array()) {
    out += '[';
    for (std::size_t i = 0; i < json.size(); ++i) {
      if (i > 0) out += ", ";
      write_on_one_line(json[i], out);
    }
    out += ']';
  } else {
    out += json.dump();
  }
}

// Two-space indent, but lists of numbers and of texts on one line: a night's job has thousands of layers.
void write(const Json& json, std::size_t depth, std::string& out) {
  if (!has_object(json)) return write_on_one_line(json, out);
  const bool object = json.is_object();
  out += object ? '{' : '[';
  for (auto item = json.begin(); item != json.end(); ++item) {
    out += item == json.begin() ? "\n" : ",\n";
    out.append(2 * (depth + 1), ' ');
    if (object) out += '"' + item.key() + "\": ";  // our own names: nothing to escape
    write(*item, depth + 1, out);
  }
  out += '\n';
  out.append(2 * depth, ' ');
  out += object ? '}' : ']';
}

// Text on its way to a sink.
struct Outgoing {
  const TextSink& sink;
  std::string text;
  bool wanted = true;
  void send() {
    wanted = wanted && sink(text);
    text.clear();
  }
  void send_if_long() {
    if (text.size() >= std::size_t{1} << 16) send();
  }
};

// An object written field by field, so that a hundred thousand details are never held as JSON values.
class ObjectWriter {
 public:
  explicit ObjectWriter(Outgoing& out, std::size_t depth = 0) : out_(out), depth_(depth) { out_.text += '{'; }

  void field(const char* name, const Json& value) {
    begin_field(name);
    write(value, depth_ + 1, out_.text);
    out_.send_if_long();
  }
  /// A list of objects, each made by `json_of` when its turn comes.
  template <class T, class JsonOf>
  void objects(const char* name, const std::vector<T>& values, JsonOf json_of) {
    begin_field(name);
    out_.text += '[';
    for (const T& value : values) {
      begin_line(&value == values.data(), depth_ + 2);
      write(json_of(value), depth_ + 2, out_.text);
      out_.send_if_long();
    }
    if (!values.empty()) end_lines(depth_ + 1);
    out_.text += ']';
  }
  ObjectWriter object(const char* name) {
    begin_field(name);
    return ObjectWriter(out_, depth_ + 1);
  }
  void end() {
    end_lines(depth_);
    out_.text += '}';
  }

 private:
  void begin_field(const char* name) {
    begin_line(first_, depth_ + 1);
    first_ = false;
    out_.text += std::string("\"") + name + "\": ";  // our own names: nothing to escape
  }
  void begin_line(bool first, std::size_t depth) {
    out_.text += first ? "\n" : ",\n";
    out_.text.append(2 * depth, ' ');
  }
  void end_lines(std::size_t depth) {
    out_.text += '\n';
    out_.text.append(2 * depth, ' ');
  }

  Outgoing& out_;
  std::size_t depth_;
  bool first_ = true;
};

const char* action(Action value) {
  return value == Action::keep ? "keep" : value == Action::change ? "change" : "record";
}

void write_suggestion(const Suggestion& value, ObjectWriter json) {
  Json window = nullptr;
  if (value.window_s) window = Json::array({number((*value.window_s)[0]), number((*value.window_s)[1])});
  json.field("action", action(value.action));
  json.field("exposure_s", number(value.exposure_s));
  json.field("window_s", window);
  json.field("conflict", value.conflict);
  json.field("base_s", number(value.base_s));
  json.field("text", text(value.text));
  json.objects("changes", value.changes, change);
  json.field("layer_height_mm", number(value.layer_height_mm));
  json.field("coupons", coupons(value.coupons));
  json.field("tonight", texts(value.tonight));
  json.field("slicing", texts(value.slicing));
  json.field("modelling", texts(value.modelling));
  json.field("now", sweep_point(value.now));
  json.field("then", sweep_point(value.then));
  json.field("coarse_sweep", value.coarse_sweep);
  json.objects("sweep", value.sweep, sweep_point);
  json.end();
}

}  // namespace

void write_json(const Report& report, const TextSink& sink) {
  Outgoing out{sink, {}};
  ObjectWriter json(out);
  json.field("format", "preflight-report");
  json.field("version", 2);
  json.field("job", job(report.job));
  json.field("record", report.record ? record(*report.record) : Json(nullptr));
  json.field("exposure_s", number(report.exposure_s));
  json.field("verdict", to_string(report.verdict));
  json.field("reasons", texts(report.reasons));
  json.field("whole_fails", report.whole_fails);
  Json whole = bulk(report.bulk);
  if (report.bulk) whole["lost_mm3"] = number(report.bulk_lost_mm3);
  json.field("bulk", whole);
  json.field("base_bulk", bulk(report.base_bulk));
  json.objects("details", report.details, detail);
  json.objects("falls", report.falls, fall);
  json.field("rounding", rounding(report.rounding));
  json.field("crumbs", crumbs(report.crumbs));
  json.objects("islands", report.islands, island);
  json.field("island_count", report.islands.size());
  json.field("speck_count", report.speck_count);
  json.field("base", base(report.base));
  if (report.suggestion) {
    write_suggestion(*report.suggestion, json.object("suggestion"));
  } else {
    json.field("suggestion", nullptr);
  }
  json.field("limits", texts(report.limits));
  json.field("layers", layers(report.layers));
  json.end();
  out.text += '\n';
  out.send();
}

std::string to_json(const Report& report) {
  std::string text;
  write_json(report, [&text](std::string_view part) {
    text += part;
    return true;
  });
  return text;
}

}  // namespace hairline
