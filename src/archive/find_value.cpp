// Values in the settings files of other programs, in four general syntaxes. Text is untrusted: no syntax here takes
// more than linear time and memory of the file, but for XPath, which is held to most_steps.
#include <fmt/format.h>
#include <re2/re2.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>
#include <sstream>

#include "../base/ascii.hpp"
#include "../base/fields.hpp"
#include "hairline/files.hpp"
#include "hairline/foreign.hpp"

namespace hairline {
namespace {

using Found = Result<std::optional<std::string>>;

Error no_such_syntax(const std::string& name, const char* syntax, const std::string& why) {
  return {ErrorKind::broken, "", fmt::format("\"{}\" in the archive is not {}{}", name, syntax, why),
          fmt::format("a text in {}", syntax), "Correct the archive description."};
}

Found in_json(const std::string& text, const std::string& name, const std::string& key) {
  using Json = nlohmann::ordered_json;
  Json all;
  if (parse_json(text, all).fault == JsonFault::deep)
    return tl::unexpected(no_such_syntax(name, "JSON", ": nested too deep"));
  if (all.is_discarded()) return tl::unexpected(no_such_syntax(name, "JSON", ""));
  try {
    const Json::json_pointer pointer(key);
    if (!all.contains(pointer)) return std::nullopt;
    const Json& value = all.at(pointer);
    if (value.is_null() || value.is_structured()) return std::nullopt;
    return value.is_string() ? value.get<std::string>() : json_text(value);
  } catch (const Json::exception&) {  // an index that is no number
    return std::nullopt;
  }
}

// The value without the quotes around it, or without the comment behind it.
std::string ini_value(std::string_view text) {
  text = trimmed(text);
  if (text.size() >= 2 && (text.front() == '"' || text.front() == '\''))
    if (const std::size_t end = text.find(text.front(), 1); end != std::string_view::npos)
      return std::string(text.substr(1, end - 1));
  for (std::size_t i = 0; i < text.size(); ++i)
    if ((text[i] == ';' || text[i] == '#') && (i == 0 || text[i - 1] == ' ' || text[i - 1] == '\t'))
      return std::string(trimmed(text.substr(0, i)));
  return std::string(text);
}

Found in_ini(const std::string& text, const std::string& key) {
  std::istringstream lines(text);
  std::string line, section;
  while (std::getline(lines, line)) {
    const std::string_view shown = trimmed(line);
    if (shown.empty() || shown.front() == ';' || shown.front() == '#') continue;
    if (shown.front() == '[') {
      section = trimmed(shown.substr(1, shown.find(']') - 1));
      continue;
    }
    const std::size_t equals = shown.find_first_of("=:");
    if (equals == std::string_view::npos) continue;
    const std::string own(trimmed(shown.substr(0, equals)));
    if (key == (section.empty() ? own : section + "." + own)) return ini_value(shown.substr(equals + 1));
  }
  return std::nullopt;
}

// ---- XML ----

constexpr int most_depth = 100;
constexpr double most_steps = 1e7;

// Whether a comparison at `at` has a literal on one side; `end` is behind the operator.
bool beside_literal(std::string_view key, char before, std::size_t end) {
  const char after = end < key.size() ? key[end] : '\0';
  return before == '"' || before == '\'' || after == '"' || after == '\'' || is_digit(after);
}

// Whether a / behind this goes on with a path, and does not begin one at the root.
bool goes_on(std::string_view key) {
  constexpr std::string_view letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_";
  const std::string_view word = key.substr(key.find_last_not_of(letters) + 1);
  if (word.empty()) return key.ends_with(')') || key.ends_with(']') || key.ends_with('.');
  return word != "and" && word != "or" && word != "div" && word != "mod";
}

// An expression takes at most as many steps as a file has nodes to the power of this. What may look at many nodes for
// each one that is looked at counts once: an axis by its name, a // behind another, a comparison without a literal, and
// in a predicate //, .., a path from the root and a second . (the text of all that is within).
int degree_of(std::string_view key) {
  int degree = 1, predicates = 0;
  bool descended = false, told = false;
  char before = '\0';
  for (std::size_t at = 0; at < key.size(); before = key[at] == ' ' ? before : key[at], ++at) {
    const char c = key[at];
    const bool twice = key.substr(at + 1).starts_with(c);
    if (c == '"' || c == '\'') at = std::min(key.find(c, at + 1), key.size() - 1);
    if (c == '[') ++predicates;
    if (c == ']') --predicates;
    if (c == '/' && twice) {
      degree += predicates > 0 || descended ? 1 : 0;
      descended = true;
      ++at;
    } else if (c == '/') {
      degree += predicates > 0 && !goes_on(key.substr(0, at)) ? 1 : 0;
    } else if (c == '.' && twice) {
      degree += predicates > 0 ? 1 : 0;
      ++at;
    } else if (c == '.' && predicates > 0 && !is_digit(before)) {
      degree += told ? 1 : 0;
      told = true;
    } else if (c == ':' && twice) {
      ++degree;
      ++at;
    } else if (c == '=' || c == '<' || c == '>' || c == '!') {
      const std::size_t end = std::min(key.find_first_not_of("=<>! \t\r\n", at), key.size());
      degree += beside_literal(key, before, end) ? 0 : 1;
      at = end - 1;
    }
  }
  return degree;
}

struct Depth : pugi::xml_tree_walker {
  bool for_each(pugi::xml_node&) override { return depth() < most_depth; }
};

// Every node and attribute has one of these signs.
std::optional<Error> too_much_work(const std::string& text, const std::string& name, const std::string& key) {
  const auto nodes = std::count(text.begin(), text.end(), '<') + std::count(text.begin(), text.end(), '=');
  const int degree = degree_of(key);
  if (degree == 1 || std::pow(static_cast<double>(nodes), degree) <= most_steps) return {};
  return Error{ErrorKind::limit, "",
               fmt::format("\"{}\" may take {} steps in \"{}\" to the power of {}", key, nodes, name, degree),
               fmt::format("at most {:.0f} steps", most_steps),
               "Name the way to the value in the archive description, such as /job/layer/@height."};
}

Found in_xml(const std::string& text, const std::string& name, const std::string& key) {
  pugi::xml_document document;  // knows no entities but those of the standard, and opens no other file
  const auto parsed = document.load_buffer(text.data(), text.size());
  if (!parsed) return tl::unexpected(no_such_syntax(name, "XML", fmt::format(" ({})", parsed.description())));
  Depth depth;
  if (!document.traverse(depth)) return tl::unexpected(no_such_syntax(name, "XML", ": nested too deep"));
  if (auto much = too_much_work(text, name, key)) return tl::unexpected(std::move(*much));
  const pugi::xpath_query query(key.c_str());
  if (!query) return std::nullopt;
  if (query.return_type() != pugi::xpath_type_node_set) return query.evaluate_string(document);
  const pugi::xpath_node node = query.evaluate_node(document);
  if (!node) return std::nullopt;
  return std::string(trimmed(node.attribute() ? node.attribute().value() : node.node().text().get()));
}

Found in_text(const std::string& text, const std::string& key) {
  RE2::Options options;
  options.set_log_errors(false);
  const RE2 pattern("(?m)" + key, options);
  std::string found;
  if (!pattern.ok() || pattern.NumberOfCapturingGroups() != 1 || !RE2::PartialMatch(text, pattern, &found))
    return std::nullopt;
  return std::string(trimmed(found));
}

}  // namespace

Found find_value(const std::string& file_text, const std::string& name, Syntax syntax, const std::string& key) {
  const std::string text = without_byte_order_mark(file_text);
  if (syntax == Syntax::json) return in_json(text, name, key);
  if (syntax == Syntax::ini) return in_ini(text, key);
  return syntax == Syntax::xml ? in_xml(text, name, key) : in_text(text, key);
}

std::optional<double> leading_number(std::string_view text) {
  std::string digits(trimmed(text));
  if (digits.starts_with('+')) digits.erase(0, 1);
  const std::size_t end = digits.find_first_not_of("0123456789.,eE+-");
  const std::string number = digits.substr(0, end);
  if (number.find('.') == std::string::npos)
    if (const std::size_t comma = number.find(','); comma != std::string::npos) digits[comma] = '.';
  double value = 0;
  const auto [stop, problem] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (problem != std::errc() || stop == digits.data() || !std::isfinite(value)) return std::nullopt;
  return value;
}

}  // namespace hairline
