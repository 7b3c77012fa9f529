#include "text_values.hpp"

#include <fmt/format.h>
#include <re2/re2.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>

#include "../base/ascii.hpp"
#include "../base/fields.hpp"
#include "hairline/files.hpp"
#include "key_words.hpp"

namespace hairline::archive {
namespace {

using Json = nlohmann::ordered_json;
constexpr std::size_t longest_list = 4;
constexpr std::size_t longest_value = 200;
using Parts = std::vector<std::string>;

const char* axis_name(std::size_t i) {
  static constexpr const char* names[] = {"x", "y", "z"};
  return i < 3 ? names[i] : "";
}

// ---- JSON ----

std::string escaped(std::string key) {  // RFC 6901, section 3
  std::string out;
  for (const char c : key) out += c == '~' ? "~0" : c == '/' ? "~1" : std::string(1, c);
  return out;
}

const std::string* text_member(const Json& object, std::initializer_list<const char*> keys) {
  for (const auto& [key, value] : object.items())
    for (const char* wanted : keys)
      if (words_of(key) == std::vector<std::string>{wanted} && value.is_string())
        return value.get_ptr<const std::string*>();
  return nullptr;
}

struct JsonWalk {
  const std::string& entry;
  std::vector<TextValue>& out;

  void see(const Json& value, const std::string& pointer, const Parts& parts, const std::string& unit) {
    if (out.size() >= most_values) return;
    if (value.is_object())
      object(value, pointer, parts);
    else if (value.is_array())
      list(value, pointer, parts, unit);
    else if (!value.is_null())
      out.push_back(
          {entry, Syntax::json, pointer, parts, value.is_string() ? value.get<std::string>() : json_text(value), unit});
  }

  void object(const Json& value, const std::string& pointer, Parts parts) {
    const std::string* unit = text_member(value, {"unit", "units"});
    const std::string* name = text_member(value, {"name", "key", "id", "label", "setting", "parameter"});
    const bool named = name != nullptr && value.contains("value");  // an object that says its name itself
    if (named) parts.push_back(*name);
    for (const auto& [key, member] : value.items()) {
      if (named && member.is_string() && member.get_ptr<const std::string*>() == name) continue;
      parts.push_back(key);
      see(member, pointer + "/" + escaped(key), parts, unit != nullptr ? *unit : "");
      parts.pop_back();
    }
  }

  void list(const Json& value, const std::string& pointer, Parts parts, const std::string& unit) {
    const bool numbers = std::none_of(value.begin(), value.end(), [](const Json& one) { return one.is_structured(); });
    if (numbers && value.size() > longest_list) return;
    for (std::size_t i = 0; i < value.size(); ++i) {
      if (!numbers && value[i].is_object() && value.size() > 1 && !value[i].contains("value")) continue;
      parts.push_back(numbers && value.size() > 1 ? axis_name(i) : "");
      see(value[i], fmt::format("{}/{}", pointer, i), parts, unit);
      parts.pop_back();
    }
  }
};

bool json_values(const std::string& text, const std::string& entry, std::vector<TextValue>& out) {
  const Json all = json_in(text);
  if (all.is_discarded() || !all.is_structured()) return false;
  JsonWalk{entry, out}.see(all, "", {}, "");
  return true;
}

// ---- XML ----

// A literal of XPath 1.0; a text with both kinds of quotes has none.
std::string literal(const std::string& text) {
  return text.find('\'') == std::string::npos ? "'" + text + "'" : "\"" + text + "\"";
}

bool plain_name(const char* name) {
  return std::string_view(name).find_first_not_of(
             "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-.") == std::string_view::npos;
}

pugi::xml_attribute attribute_of(const pugi::xml_node& node, std::initializer_list<const char*> names) {
  for (const pugi::xml_attribute attribute : node.attributes())
    for (const char* name : names)
      if (words_of(attribute.name()) == std::vector<std::string>{name}) return attribute;
  return {};
}

struct XmlWalk {
  const std::string& entry;
  std::vector<TextValue>& out;

  void see(const pugi::xml_node& node, const std::string& path, Parts parts, std::size_t depth) {
    if (out.size() >= most_values || depth > most_nesting) return;
    const std::string unit = attribute_of(node, {"unit", "units"}).value();
    const pugi::xml_attribute name = attribute_of(node, {"name", "key", "id", "setting", "parameter"});
    for (const pugi::xml_attribute attribute : node.attributes()) {
      if (!plain_name(attribute.name()) || attribute == name) continue;
      Parts own = parts;
      own.emplace_back(attribute.name());
      add(path + "/@" + attribute.name(), own, attribute.value(), unit);
    }
    add(path, parts, node.text().get(), unit);
    children(node, path, parts, depth);
  }

  void children(const pugi::xml_node& node, const std::string& path, const Parts& parts, std::size_t depth) {
    std::map<std::string, std::size_t> times;
    for (const pugi::xml_node& child : node.children()) ++times[child.name()];
    for (const pugi::xml_node& child : node.children()) {
      if (child.type() != pugi::node_element || !plain_name(child.name())) continue;
      std::string own = path + "/" + child.name();
      Parts named = parts;
      named.emplace_back(child.name());
      if (const auto name = attribute_of(child, {"name", "key", "id", "setting", "parameter"})) {
        own += fmt::format("[@{}={}]", name.name(), literal(name.value()));
        named.emplace_back(name.value());
      } else if (times[child.name()] > 1) {
        continue;  // a list, of layers most likely
      }
      see(child, own, named, depth + 1);
    }
  }

  void add(const std::string& key, const Parts& parts, const std::string& text, const std::string& unit) {
    const std::string_view bare = trimmed(text, " \t\r\n");
    if (!bare.empty()) out.push_back({entry, Syntax::xml, key, parts, std::string(bare), unit});
  }
};

bool xml_values(const std::string& text, const std::string& entry, std::vector<TextValue>& out) {
  const std::size_t begin = text.find_first_not_of(" \t\r\n");
  if (begin == std::string::npos || text[begin] != '<') return false;
  pugi::xml_document document;
  if (!document.load_buffer(text.data(), text.size())) return false;
  XmlWalk{entry, out}.children(document, "", {}, 0);
  return true;
}

// ---- all of them ----

// "1440 x 2560" as one value for each number, where there are two or three and no other word.
void split_pairs(std::vector<TextValue>& values) {
  static const RE2 pair(R"(^\s*[\[({]?\s*(\d[\d.]*)\s*(?:[a-z]{1,3})?\s*(?:[xX*,;/]|\s|\xC3\x97)\s*(\d[\d.]*)\D*)",
                        RE2::Latin1);
  std::vector<TextValue> out;
  for (TextValue& value : values) {
    std::string first, second;
    const bool is_pair = value.syntax != Syntax::text && RE2::PartialMatch(value.text, pair, &first, &second);
    // A decimal comma is no pair: "0,05", "12,0".
    const std::size_t comma = value.text.find(first + "," + second);
    if (!is_pair || (comma != std::string::npos && value.text[0] != '[' && value.text[0] != '(')) {
      out.push_back(std::move(value));
      continue;
    }
    TextValue other = value;
    value.parts.emplace_back("x");
    other.parts.emplace_back("y");
    other.text = second;
    if (value.syntax == Syntax::xml) {
      const std::size_t gap = value.text.find_first_not_of("0123456789. ", value.text.find(first));
      const std::string between = gap < value.text.find(second, gap) ? value.text.substr(gap, 1) : " ";
      if (between == "\xC3") {
        out.push_back(std::move(value));
        continue;
      }
      other.key = fmt::format("substring-after({}, {})", value.key, literal(between));
    } else {
      const std::string leaf = value.key.substr(value.key.find_last_of(value.syntax == Syntax::json ? '/' : '.') + 1);
      other.syntax = Syntax::text;
      other.key = RE2::QuoteMeta(leaf) + R"(["\s]*[:=]\s*[\["(]?\s*[\d.]+\s*[a-z]{0,3}[^\d\n]{1,4}(\d[\d.]*))";
    }
    out.push_back(std::move(value));
    out.push_back(std::move(other));
  }
  values = std::move(out);
}

// Keys that are the same but for their numbers, over and over, are lists.
void drop_lists(std::vector<TextValue>& values) {
  const auto shape = [](const TextValue& value) {
    std::string out;
    for (const std::string& part : value.parts) {
      out += '\n';
      for (const char c : part)
        if (c < '0' || c > '9')
          out += c;
        else if (out.back() != '#')
          out += '#';
    }
    return out;
  };
  std::map<std::string, std::size_t> times;
  for (const TextValue& value : values) ++times[shape(value)];
  std::erase_if(values, [&](const TextValue& value) {
    const std::string own = shape(value);
    return times[own] > longest_list && own.find('#') != std::string::npos;
  });
}

bool is_text(const std::string& text) {
  const std::size_t looked = std::min<std::size_t>(text.size(), 4096);
  return std::none_of(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(looked),
                      [](char c) { return c >= 0 && c < 32 && c != '\n' && c != '\r' && c != '\t' && c != '\f'; });
}

}  // namespace

std::vector<TextValue> values_in(const std::string& file_text, const std::string& entry) {
  const std::string text = without_byte_order_mark(file_text);
  std::vector<TextValue> out;
  if (!is_text(text)) return out;
  if (!json_values(text, entry, out) && !xml_values(text, entry, out)) line_values(text, entry, out);
  std::erase_if(out, [](const TextValue& value) { return value.text.size() > longest_value || value.text.empty(); });
  split_pairs(out);
  drop_lists(out);
  return out;
}

}  // namespace hairline::archive
