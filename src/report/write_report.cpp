// The report as JSON; field by field as formats/preflight-report.md says.
#include "field_writer.hpp"

namespace hairline {

void write_json(const Report& report, const TextSink& sink) {
  Outgoing out{sink, {}};
  FieldWriter json(out);
  json("format", "preflight-report");
  json("version", 2);
  each_field(json, report);
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
