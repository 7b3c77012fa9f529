// A night as JSON, CSV and page.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>

#include "fill.hpp"
#include "hairline/files.hpp"
#include "nights.hpp"
#include "report/html.hpp"
#include "report/queue_fields.hpp"

using namespace hairline;
using namespace hairline::sample;
using hairline::test::Fill;
using hairline::test::Random;
using Json = nlohmann::ordered_json;

namespace {

CheckedQueue read_again(const CheckedQueue& night) {
  const auto read = parse_checked_queue(to_json(night), "queue.json");
  INFO((read ? "" : to_paragraph(read.error())));
  REQUIRE(read);
  return *read;
}

std::string said(const CheckedQueue& night) {
  return show_terminal(say_queue(night), {}) + to_csv(night) + show_html(night);
}

CheckedQueue random_night(Random& random, bool bad_bytes) {
  CheckedQueue night;
  Fill fill{random, bad_bytes};
  each_field(fill, night);
  each_field(fill, night.plan);
  night.times.zone = "Europe/Berlin";
  if (night.printers.empty()) night.printers.resize(1);
  const auto printers = static_cast<std::uint32_t>(night.printers.size());
  for (QueueEntry& entry : night.entries) {
    if (entry.rows.empty()) entry.rows.push_back(job(1, "a.zip", 60, 1).rows[0]);
    for (QueueRow& row : entry.rows) {
      for (std::string* name : {&row.report, &row.page}) *name = std::filesystem::path(*name).filename().string();
      for (std::uint32_t& printer : row.printers) printer %= printers;
    }
    night.jobs_in_all = std::max(night.jobs_in_all, entry.place);
  }
  const auto lead_somewhere = [&night](auto& one) {
    one.job %= static_cast<std::uint32_t>(night.entries.size());
    one.row %= static_cast<std::uint32_t>(night.entries[one.job].rows.size());
  };
  if (night.shard) night.plan = {}, night.shard->of += night.shard->part;
  if (night.entries.empty()) night.plan.prints.clear(), night.plan.not_planned.clear();
  for (PlannedPrint& print : night.plan.prints) {
    lead_somewhere(print);
    print.printer %= printers;
    print.end_s += print.start_s;
  }
  std::erase_if(night.plan.prints,
                [&](const PlannedPrint& print) { return night.entries[print.job].rows[print.row].error.has_value(); });
  for (NotPlanned& left : night.plan.not_planned) {
    lead_somewhere(left);
    if (left.printer) *left.printer %= printers;
  }
  return night;
}

// What is wrong with the three printers' night after `spoil`.
std::string fault(const std::function<void(Json&)>& spoil) {
  Json json = Json::parse(to_json(three_printers()));
  spoil(json);
  const auto read = parse_checked_queue(json.dump(), "queue.json");
  REQUIRE_FALSE(read);
  CHECK(read.error().file == "queue.json");
  return read.error().found;
}

std::string file_text(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

// A record of RFC 4180 after the other, by its grammar (section 2).
std::vector<std::vector<std::string>> csv_cells(const std::string& csv) {
  std::vector<std::vector<std::string>> rows(1, {""});
  bool quoted = false;
  for (std::size_t i = 0; i < csv.size(); ++i) {
    if (csv[i] == '"' && quoted && i + 1 < csv.size() && csv[i + 1] == '"')
      rows.back().back() += csv[++i];
    else if (csv[i] == '"')
      quoted = !quoted;
    else if (!quoted && csv[i] == ',')
      rows.back().emplace_back();
    else if (!quoted && csv[i] == '\r' && i + 1 < csv.size() && csv[i + 1] == '\n')
      rows.push_back({""}), ++i;
    else
      rows.back().back() += csv[i];
  }
  rows.pop_back();
  return rows;
}

// Without what lies between the two, all of them.
std::string without(std::string text, const std::string& from, const std::string& to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos;)
    text.erase(at, text.find(to, at) + to.size() - at);
  return text;
}

// The first tag that does not close what is open; empty where all do.
std::string unbalanced(const std::string& page) {
  const std::string text = without(without(without(page, "<!", ">"), "<style>", "</style>"), "<script>", "</script>");
  std::vector<std::string> open;
  for (std::size_t at = 0; (at = text.find('<', at)) != std::string::npos; ++at) {
    const std::string tag = text.substr(at + 1, text.find('>', at) - at - 1);
    const std::string name = tag.substr(0, tag.find_first_of(" \n/", 1));
    if (name == "meta" || tag.back() == '/') continue;
    if (tag.front() != '/')
      open.push_back(name);
    else if (open.empty() || "/" + open.back() != tag)
      return tag;
    else
      open.pop_back();
  }
  return open.empty() ? "" : open.back();
}

Json at(const Json& json, const std::string& path) {
  std::string pointer = "/" + path;
  std::replace(pointer.begin(), pointer.end(), '.', '/');
  return json.at(Json::json_pointer(pointer));
}

}  // namespace

TEST_CASE("a night that is read gives the same bytes and says the same") {
  for (const CheckedQueue& night : {three_printers(), one_printer(3), one_share()}) {
    const CheckedQueue read = read_again(night);
    CHECK(to_json(read) == to_json(night));
    CHECK(said(read) == said(night));
  }
  CHECK(read_again(one_share()).shard->of == 4);
}

TEST_CASE("random nights: written, read and written again, the same bytes") {
  Random random(20261126);
  std::size_t prints = 0, shares = 0, errors = 0;
  for (int i = 0; i < 400; ++i) {
    const CheckedQueue night = random_night(random, i % 4 == 0);
    const CheckedQueue read = read_again(night);
    CHECK(to_json(read) == to_json(night));
    if (i % 4 != 0) CHECK(said(read) == said(night));  // bad bytes are U+FFFD in a file
    prints += read.plan.prints.size();
    shares += read.shard.has_value();
    for (const QueueEntry& entry : read.entries) errors += entry.rows[0].error.has_value();
  }
  CHECK(prints > 50);
  CHECK(shares > 100);
  CHECK(errors > 100);
}

TEST_CASE("times keep their seconds, however long the queue") {
  CheckedQueue night = one_printer(1);
  night.plan.prints[0].start_s = 123456789;
  night.plan.prints[0].end_s = 123456789.5;
  CHECK(read_again(night).plan.prints[0].start_s == 123456789);
  CHECK(read_again(night).plan.prints[0].end_s == 123456789.5);
}

TEST_CASE("the first field of a night that is wrong is named by its path") {
  CHECK(fault([](Json& json) { json["jobs"][1]["rows"][0]["verdict"] = "maybe"; }) ==
        "jobs[2].rows[1].verdict is \"maybe\"");
  CHECK(fault([](Json& json) { json["jobs"][1].erase("copies"); }) == "jobs[2] has no copies");
  CHECK(fault([](Json& json) { json["start"] = "22:00"; }) == "start is \"22:00\"");
  CHECK(fault([](Json& json) { json["plan"]["prints"][0]["start_s"] = -1; }) == "plan.prints[1].start_s is -1");
  CHECK(fault([](Json& json) { json["zone"] = "Harbour/Quay"; }) == "zone is \"Harbour/Quay\"");
  CHECK(fault([](Json& json) { json["plan"] = nullptr; }) == "plan is null");
  CHECK(fault([](Json& json) { json["shard"] = {{"part", 2}, {"of", 4}}; }) == "plan is a JSON object");
  CHECK(fault([](Json& json) { json["shard"] = {{"part", 1}, {"of", 4294967295}}; }) == "shard.of is 4294967295");
  CHECK(fault([](Json& json) { json["jobs"][1]["copies"] = 4294967295; }) == "jobs[2].copies is 4294967295");
  for (const char* field : {"report", "page"})
    CHECK(fault([&](Json& json) { json["jobs"][0]["rows"][0][field] = "../secret.json"; }) ==
          std::string("jobs[1].rows[1].") + field + " is \"../secret.json\"");
  CHECK(fault([](Json& json) { json["printers"] = Json::array(); }).starts_with("printers holds none"));
  CHECK(fault([](Json& json) { json["jobs"][0]["rows"] = Json::array(); }).starts_with("jobs"));
  CHECK(fault([](Json& json) { json["jobs"][0]["rows"][0]["printers"] = {3}; }).starts_with("jobs"));
  CHECK(fault([](Json& json) { json["jobs_in_all"] = 3; }).starts_with("jobs"));
  CHECK(fault([](Json& json) { json["plan"]["prints"][0]["job"] = 11; }).starts_with("plan"));
  CHECK(fault([](Json& json) { json["plan"]["prints"][0]["job"] = 6; }).starts_with("plan"));  // it was not checked
  CHECK(fault([](Json& json) { json["plan"]["prints"][0]["row"] = 1; }).starts_with("plan"));
  CHECK(fault([](Json& json) { json["plan"]["not_planned"][0]["why"] = "rain"; }) ==
        "plan.not_planned[1].why is \"rain\"");
  CHECK(fault([](Json& json) { json["format"] = "print-queue"; }).find("print-queue") != std::string::npos);
}

TEST_CASE("the examples are what the code writes, and every broken night is refused") {
  const std::string formats = HAIRLINE_SOURCE_DIR "/formats/";
  for (const auto& [name, night] :
       {std::pair("three-printers", three_printers()), {"one-printer", one_printer(2)}, {"share", one_share()}}) {
    INFO(name);
    CHECK(to_json(night) == file_text(formats + "examples/queue-report/" + name + ".json"));
  }
  std::size_t files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(formats + "broken/queue-report")) {
    if (entry.path().extension() != ".json") continue;
    INFO(entry.path());
    CHECK_FALSE(parse_checked_queue(file_text(entry.path().string()), "queue.json"));
    ++files;
  }
  CHECK(files >= 10);
}

TEST_CASE("CSV has a row for each job, and quotes what RFC 4180 says") {
  CheckedQueue night = three_printers();
  night.entries[0].job.file = "night, \"old\"\n.zip";
  night.entries[1].job.copies = 2;
  night.plan.prints.push_back(
      {.job = 1, .copy = 2, .printer = 1, .start_s = 3 * hour_s, .end_s = 8 * hour_s, .resin_left_ml = {}});
  const auto rows = csv_cells(to_csv(night));
  REQUIRE(rows.size() == 12);
  const auto cell = [&](std::size_t row, const std::string& name) {
    REQUIRE(rows[row].size() == rows[0].size());
    return rows[row][static_cast<std::size_t>(std::find(rows[0].begin(), rows[0].end(), name) - rows[0].begin())];
  };
  CHECK(cell(1, "file") == "night, \"old\"\n.zip");
  CHECK(to_csv(night).find(
            "1,\"night, \"\"old\"\"\n.zip\",1,quay bench,1,0,10800,2026-11-26T22:00,2026-11-27T01:00,false") !=
        std::string::npos);
  CHECK(cell(2, "planned") == "2");
  CHECK(cell(2, "printer") == "quay bench; lamp bench");
  CHECK(cell(2, "start") == "2026-11-27T01:00");
  CHECK(cell(2, "end") == "2026-11-27T06:20");
  CHECK(cell(3, "late") == "true");
  CHECK(cell(6, "verdict") == "hold");
  CHECK(cell(6, "left_out") == "hold");
  CHECK(cell(6, "suggested_s") == "2.65");
  CHECK(cell(6, "suggested_verdict") == "caution");
  CHECK(cell(6, "start").empty());
  CHECK(cell(7, "verdict") == "BROKEN");
  CHECK(cell(7, "duration_s").empty());
  CHECK(cell(7, "reason") == "night/wreck.zip: it is not a ZIP; expected a ZIP or a folder. Export it again.");
  CHECK(csv_cells(to_csv(one_share())).size() == 4);
}

TEST_CASE("the page of a night: its numbers are those of the JSON") {
  for (const CheckedQueue& night : {three_printers(), one_printer(3), one_share()}) {
    const Json json = Json::parse(to_json(night));
    const std::string page = show_html(night);
    CHECK(unbalanced(page).empty());
    CHECK(page.find("{{") == std::string::npos);
    static const std::regex fact("data-json=\"([^\"]*)\">([^<]*)<");
    for (auto it = std::sregex_iterator(page.begin(), page.end(), fact); it != std::sregex_iterator(); ++it)
      if (const Json value = at(json, (*it)[1]); value.is_number_integer())
        if (!it->str(1).ends_with("_s") && !it->str(1).ends_with("_ml")) CHECK(it->str(2) == value.dump());

    static const std::regex row("<tr class=\"[a-z]+\" data-job=\"(\\d+)\"(?: data-copy=\"(\\d+)\")?>([^\\n]*)</tr>");
    static const std::regex cell("data-field=\"([a-z_]+)\" data-value=\"([^\"]*)\"");
    std::size_t rows = 0, cells = 0;
    for (auto it = std::sregex_iterator(page.begin(), page.end(), row); it != std::sregex_iterator(); ++it, ++rows) {
      const Json& entry = json["jobs"][std::stoul((*it)[1])];
      Json print;
      for (const Json& one : json["plan"].is_null() ? Json::array() : json["plan"]["prints"])
        if ((*it)[2].length() > 0 && one["job"] == std::stoul((*it)[1]) && one["copy"] == std::stoul((*it)[2]))
          print = one;
      const std::string inside = (*it)[3];
      for (auto c = std::sregex_iterator(inside.begin(), inside.end(), cell); c != std::sregex_iterator();
           ++c, ++cells) {
        const std::string name = (*c)[1];
        if (name == "verdict") continue;
        const Json value = name == "place"        ? entry["place"]
                           : print.contains(name) ? print[name]
                                                  : entry["rows"][0][name];
        CHECK(std::stod((*c)[2]) == value.get<double>());
      }
    }
    CHECK(rows == night.entries.size());
    CHECK(cells > 3 * rows);
  }
}

TEST_CASE("the page of a night links each job's page, shows its prints and loads nothing") {
  CheckedQueue night = three_printers();
  night.entries[0].rows[0].page = "javascript:alert(1)//\xC3\xA4 b.html";
  const std::string page = show_html(night);
  const auto has = [&page](const std::string& part) { return page.find(part) != std::string::npos; };
  CHECK(has("<a href=\"javascript%3Aalert%281%29%2F%2F%C3%A4%20b.html\">"));
  CHECK(has("<a href=\"cutter.html\"><bdi>night/cutter.zip</bdi></a>"));
  CHECK(has(
      "<g class=\"print caution\" data-job=\"1\" data-copy=\"1\"><title>cutter.zip: Fri 01:20 to Fri 06:20</title>"));
  CHECK(has("quay bench: 3 prints, 22:00 to Fri 08:40; gallery.zip, clear, 22:00 to Fri 01:00; cutter.zip, caution"));
  CHECK(has("ready by Fri 07:30</text>"));
  CHECK(has("The night of Thu 26 Nov 2026"));
  CHECK_FALSE(has("http:"));
  CHECK_FALSE(has("https:"));
  CHECK_FALSE(has(" style=\""));
  CHECK(has("default-src 'none'"));
  CHECK(has("<style>" + std::string(page_files::night_code.css) + "</style>"));
  CHECK(has("<script>" + std::string(page_files::night_code.js) + "</script>"));
}

TEST_CASE("names from outside show on the page of a night and do nothing") {
  CheckedQueue night = three_printers();
  const std::string name = "</script><img src=x onerror=\"1\">'&{{rows}}\x1b\xFF\xE2\x80\xAE";
  night.printers[0].label = name;
  for (QueueEntry& entry : night.entries) {
    entry.job.file = name;
    QueueRow& row = entry.rows[0];
    row.title = row.first_reason = row.record.file = row.record.resin = row.page = name;
    row.record.doubts = {name};
    if (row.error) row.error->found = name;
  }
  const std::string page = show_html(night);
  CHECK(unbalanced(page).empty());
  CHECK(page.find("<img") == std::string::npos);
  CHECK(page.find("\x1b") == std::string::npos);
  CHECK(page.find("\xE2\x80\xAE") == std::string::npos);
  CHECK(valid_utf8(page) == page);
  CHECK(page.find("&lt;/script&gt;&lt;img src=x onerror=&quot;1&quot;&gt;&#39;&amp;") != std::string::npos);
}

TEST_CASE("the size of a night's document, page and file grows as the jobs do") {
  const auto sizes = [](std::uint32_t jobs) {
    const CheckedQueue night = one_printer(jobs);
    return std::array{show_terminal(say_queue(night), {}).size(), show_html(night).size(), to_json(night).size()};
  };
  const auto few = sizes(500), many = sizes(5000);
  for (std::size_t i = 0; i < few.size(); ++i) CHECK(many[i] < 11 * few[i]);
}
