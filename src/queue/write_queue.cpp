// Values to a queue file (formats/print-queue.md).
#include <algorithm>
#include <nlohmann/json.hpp>

#include "../base/json.hpp"
#include "hairline/night.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

std::string path_from(const fs::path& folder, const std::string& file) {
  std::error_code error;
  const fs::path path = fs::absolute(file, error), base = fs::absolute(folder, error);
  if (error) return file;
  const fs::path relative = path.lexically_relative(base);
  const auto ups = std::count(relative.begin(), relative.end(), "..");
  const bool only_root = ups == std::distance(base.begin(), base.end()) - 1;
  return (relative.empty() || only_root ? path : relative).string();
}

Json printer_json(const QueuePrinter& printer, const fs::path& folder) {
  Json json = {{"label", printer.label}};
  if (!printer.record.empty()) json["record"] = path_from(folder, printer.record);
  if (printer.resin_ml) json["resin_ml"] = *printer.resin_ml;
  if (printer.vat_ml) json["vat_ml"] = *printer.vat_ml;
  if (printer.plate_mm) json["plate_mm"] = *printer.plate_mm;
  if (printer.changeover_min > 0) json["changeover_min"] = printer.changeover_min;
  return json;
}

Json job_json(const QueueJob& job, const fs::path& folder) {
  Json json = {{"file", path_from(folder, job.file)}};
  if (!job.printer.empty()) json["printer"] = job.printer;
  if (job.exposure_s) json["exposure_s"] = *job.exposure_s;
  if (job.copies != 1) json["copies"] = job.copies;
  return json;
}

}  // namespace

std::string write_queue(const Queue& queue, const fs::path& folder) {
  Json json = {{"format", "print-queue"}, {"version", 1}};
  if (queue.times.start) json["start"] = to_string(*queue.times.start);
  if (queue.times.ready_by) json["ready_by"] = to_string(*queue.times.ready_by);
  if (!queue.times.zone.empty()) json["zone"] = queue.times.zone;
  for (const QueuePrinter& printer : queue.printers)
    if (!printer.label.empty()) json["printers"].push_back(printer_json(printer, folder));
  json["jobs"] = Json::array();
  for (const QueueJob& job : queue.jobs) json["jobs"].push_back(job_json(job, folder));
  return json_text(json, 1) + '\n';
}

}  // namespace hairline
