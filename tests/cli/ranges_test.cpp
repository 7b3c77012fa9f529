// Every number of a reading or of a record's facts may be the same in a file, in a table, as an option and as an
// answer.
#include <fmt/format.h>
#include <pty.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <nlohmann/json.hpp>

#include "calibrate/reading_fields.hpp"
#include "support/run_binary.hpp"

using namespace hairline;
using hairline::test::file_text;
using hairline::test::Folder;
using hairline::test::write_file;
using Json = nlohmann::ordered_json;

namespace {

struct Tried {
  std::string text;
  bool fits;
};

// At both ends, a millionth of the range inside and outside of them, far outside, and what is no number.
std::vector<Tried> tries(const FieldRule& rule) {
  const Range& range = rule.range;
  const bool whole = rule.holds == Holds::whole;
  const double step = whole ? 1 : 1e-6 * (range.high - range.low);
  const auto text = [](double number) { return fmt::format("{}", number); };
  std::vector<Tried> all{{text(range.low - step), false},
                         {text(range.low), !range.above_low},
                         {text(range.low + step), true},
                         {text(range.high - step), true},
                         {text(range.high), true},
                         {text(range.high + step), false},
                         {"-1e300", false},
                         {"1e300", false}};
  if (whole) all.push_back({text(range.low + 1.5), false});
  return all;
}

bool is_number(const FieldRule& rule) {
  return rule.holds == Holds::number || rule.holds == Holds::whole;
}

// A reading that is whole with this field: what else its kind asks for.
Cells cells_with(const FieldRule& rule, std::span<const FieldRule* const> kind, const std::string& text) {
  Cells cells;
  for (const FieldRule* other : kind)
    if (other->required) cells[other->key] = other->holds == Holds::word ? other->words[0] : "2.5";
  if (kind[0]->key == std::string_view("exposure_s") && kind.size() > 3) cells["look"] = "crisp";
  for (const FieldRule* other : kind) {  // a drawn width comes with its printed one
    const std::string key = other->key, own = rule.key;
    if (const std::size_t stop = own.find('.'); stop != std::string::npos && key.starts_with(own.substr(0, stop + 1)))
      cells[key] = text;  // no more than a millimetre apart
  }
  cells[rule.key] = text;
  return cells;
}

// The member of a key, which may lead into an object.
Json& member(Json& entry, const std::string& key) {
  const std::size_t stop = key.find('.');
  return stop == std::string::npos ? entry[key] : entry[key.substr(0, stop)][key.substr(stop + 1)];
}

template <class Table>
std::vector<const FieldRule*> rules_of(const Table& table) {
  std::vector<const FieldRule*> rules;
  for (const FieldRule& rule : table) rules.push_back(&rule);
  return rules;
}

Json json_of(const Cells& cells, const std::vector<const FieldRule*>& kind) {
  Json entry = Json::object();
  for (const FieldRule* rule : kind)
    if (const auto cell = cells.find(rule->key); cell != cells.end())
      member(entry, rule->key) = is_number(*rule) ? Json::parse(cell->second) : Json(cell->second);
  return entry;
}

std::string record_with(const char* list, const Json& entry) {
  return Json{{"format", "resin-record"}, {"version", 1}, {"readings", {{list, Json::array({entry})}}}}.dump();
}

// A bare whole number may mean layers.
std::string unit(const FieldRule& rule, const std::string& number) {
  return rule.in_layers ? number + " mm" : number;
}

// Answers typed on a terminal, one a line; what it shows.
std::string answered(const std::vector<std::string>& call, const std::string& answers,
                     const std::filesystem::path& folder) {
  int terminal = -1;
  const pid_t child = ::forkpty(&terminal, nullptr, nullptr, nullptr);
  REQUIRE(child >= 0);
  if (child == 0) {
    std::vector<char*> arguments{const_cast<char*>(HAIRLINE_BINARY)};
    for (const std::string& argument : call) arguments.push_back(const_cast<char*>(argument.c_str()));
    arguments.push_back(nullptr);
    if (::chdir(folder.c_str()) == 0) ::execv(arguments[0], arguments.data());
    ::_exit(127);
  }
  const bool typed = ::write(terminal, answers.data(), answers.size()) == static_cast<ssize_t>(answers.size());
  char heard[4096];
  std::string shown;
  for (ssize_t got; (got = ::read(terminal, heard, sizeof heard)) > 0;)
    shown.append(heard, static_cast<std::size_t>(got));
  ::close(terminal);
  ::waitpid(child, nullptr, 0);
  REQUIRE(typed);
  return shown;
}

struct Kind {
  const char* list;
  std::vector<const FieldRule*> rules;
};

const std::string bare = R"({"format": "resin-record", "version": 1})";

}  // namespace

TEST_CASE("the range of every field of a reading is the same by file, table, option and question") {
  const Folder folder;
  const Kind kinds[] = {{"bracket", rules_of(bracket_fields)},
                        {"cure_depth", rules_of(cure_depth_fields)},
                        {"base", rules_of(base_fields)}};
  std::size_t questions = 0, options = 0;
  for (const Kind& kind : kinds) {
    for (const FieldRule* rule : kind.rules) {
      if (!is_number(*rule)) continue;
      for (const auto& [text, fits] : tries(*rule)) {
        INFO(kind.list << "." << rule->key << " " << text);
        const Cells cells = cells_with(*rule, kind.rules, text);
        // The number as it is kept: what is let in is not bent.
        const auto kept = [&](const std::string& record) {
          Json entry = Json::parse(record)["readings"][kind.list][0];
          return member(entry, rule->key).get<double>() == std::stod(text);
        };
        const auto by_file = parse_record(record_with(kind.list, json_of(cells, kind.rules)), "");
        CHECK(by_file.has_value() == fits);
        if (by_file) CHECK(kept(write_record(*by_file)));

        std::string header, line;
        for (const auto& [key, cell] : cells) header += "," + key, line += "," + cell;
        CHECK(parse_readings_csv(header.substr(1) + "\n" + line.substr(1) + "\n", "").has_value() == fits);

        std::vector<std::string> call{"record", "read", "r.json"};
        for (const FieldRule& other : reading_rules())
          if (const auto cell = cells.find(other.key); cell != cells.end())
            call.push_back(std::string(other.option) + "=" + unit(other, cell->second));
        write_file(folder / "r.json", bare);
        CHECK((hairline::test::hairline(call, folder.path()).status == 0) == fits);
        CHECK((file_text(folder / "r.json") != bare) == fits);
        if (fits) CHECK(kept(file_text(folder / "r.json")));
        ++options;

        if (!*rule->letter || kind.list != std::string_view("bracket")) continue;
        // Drawn widths are not asked for, but taken as on the coupon: no range of widths ends within 1 mm of those.
        if (fits && std::string_view(rule->key).ends_with(".printed")) continue;
        std::string answers;  // a wrong one is asked again; then the end of input
        for (const FieldRule& other : asked_rules())
          if (answers += (cells.count(other.key) ? unit(other, cells.find(other.key)->second) : "") + "\n";
              !fits && other.key == std::string_view(rule->key))
            break;
        write_file(folder / "r.json", bare);
        const auto shown = answered({"record", "read", "r.json"}, answers + "\x04", folder.path());
        CHECK((shown.find("does not fit; expected a number") != std::string::npos) == !fits);
        if (fits) CHECK(kept(file_text(folder / "r.json")));
        const std::string name = rule->key;
        const std::string kept_as = "\"" + name.substr(0, name.find('.')) + "\"";
        CHECK((file_text(folder / "r.json").find(kept_as) != std::string::npos) == fits);
        ++questions;
      }
    }
  }
  CHECK(options >= 8 * 11);
  CHECK(questions >= 8 * 6);
}

TEST_CASE("the range of every fact of a record is the same by file and by option") {
  const Folder folder;
  for (const FieldRule& rule : fact_fields) {
    if (!is_number(rule)) continue;
    for (const auto& [text, fits] : tries(rule)) {
      INFO(rule.key << " " << text);
      Json document = Json::parse(bare);
      member(document, rule.key) = Json::parse(text);
      CHECK(parse_record(document.dump(), "").has_value() == fits);

      std::filesystem::remove(folder / "new.json");
      const std::string option = std::string(rule.option) + "=" + text;
      CHECK((hairline::test::hairline({"record", "new", "new.json", option}, folder.path()).status == 0) == fits);
      CHECK(std::filesystem::exists(folder / "new.json") == fits);
    }
  }
}

TEST_CASE("lamp and vat of tonight are held to the ranges of a record") {
  const Folder folder;
  for (const FieldRule& rule : fact_fields) {
    const std::string_view key = rule.key;
    if (!key.starts_with("printer.lamp") && !key.starts_with("printer.irr") && !key.ends_with("temp_c")) continue;
    for (const auto& [text, fits] : tries(rule)) {
      const std::string option = rule.option;
      INFO(option << " " << text);
      // There is no such job: what is said names the option, or else the job.
      const auto ran =
          hairline::test::hairline({"check", "no.zip", "--record", "no.json", option + "=" + text}, folder.path());
      CHECK(ran.status == 2);
      CHECK((ran.err.find(option) == std::string::npos) == fits);
    }
  }
}

TEST_CASE("words and dates are the same by file, table and option") {
  const Folder folder;
  for (const FieldRule& rule : reading_rules()) {
    if (rule.holds != Holds::word || !*rule.value) continue;
    const bool base = rule.key == std::string_view("result");
    const auto kind = base ? rules_of(base_fields) : rules_of(bracket_fields);
    std::vector<Tried> all{{"dreadful", false}, {"CRISP", false}};
    for (const char* word : rule.words) all.push_back({word, true});
    for (const auto& [text, fits] : all) {
      INFO(rule.key << " " << text);
      const Cells cells = cells_with(rule, kind, text);
      CHECK(parse_record(record_with(base ? "base" : "bracket", json_of(cells, kind)), "").has_value() == fits);
      CHECK(reading_from(cells).has_value() == fits);
      write_file(folder / "r.json", bare);
      std::vector<std::string> call{"record", "read", "r.json", std::string(rule.option) + "=" + text};
      call.push_back(base ? "--base=2.5" : "--exposure=2.5");
      CHECK((hairline::test::hairline(call, folder.path()).status == 0) == fits);
    }
  }
  for (const auto& [text, fits] : std::vector<Tried>{{"2026-11-01", true},
                                                     {"2024-02-29", true},
                                                     {"2026-02-29", false},
                                                     {"last night", false},
                                                     {"2026-13-01", false}}) {
    INFO(text);
    Json document = Json::parse(bare);
    document["resin"]["opened"] = text;
    CHECK(parse_record(document.dump(), "").has_value() == fits);
    CHECK(reading_from({{"exposure_s", "2"}, {"look", "crisp"}, {"date", text}}).has_value() == fits);
    std::filesystem::remove(folder / "new.json");
    CHECK((hairline::test::hairline({"record", "new", "new.json", "--opened=" + text}, folder.path()).status == 0) ==
          fits);
  }
}
