// A report from its JSON; the fields are those of report_fields.hpp.
#include "field_reader.hpp"
#include "hairline/files.hpp"

namespace hairline {
namespace {

constexpr std::uint64_t most_report_bytes = 1u << 30;  // a hundred thousand details take 70 MB

void number_layers(std::vector<LayerRow>& rows) {
  double top_mm = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    rows[i].layer = static_cast<std::uint32_t>(i + 1);
    rows[i].bottom_mm = top_mm;
    top_mm += rows[i].height_mm;
  }
}

}  // namespace

Result<Report> parse_report(const std::string& text, const std::string& file) {
  const auto top = read_json(text, file, report_kind);
  if (!top) return tl::unexpected(top.error());
  Report report;
  FieldReader reader(*top);
  each_field(reader, report);
  if (top->error()) return tl::unexpected(*top->error());
  number_layers(report.layers);
  return report;
}

Result<Report> read_report(const std::filesystem::path& path) {
  const auto text = read_text(path, most_report_bytes);
  if (!text) return tl::unexpected(text.error());
  return parse_report(*text, path.string());
}

}  // namespace hairline
