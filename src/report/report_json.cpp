// The report as JSON and read from it; the fields are those of report_blocks.hpp.
#include "field_reader.hpp"
#include "field_writer.hpp"
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

void write_json(const Report& report, const TextSink& sink) {
  write_fields(report_kind, report, sink);
}

std::string to_json(const Report& report) {
  return written(report_kind, report);
}

Result<Report> parse_report(const std::string& text, const std::string& file) {
  return read_fields<Report>(text, file, report_kind,
                             [](const Fields&, Report& report) { number_layers(report.layers); });
}

Result<Report> read_report(const std::filesystem::path& path) {
  const auto text = read_text(path, most_report_bytes);
  return text ? parse_report(*text, path.string()) : tl::unexpected(text.error());
}

}  // namespace hairline
