#include <re2/re2.h>

#include <algorithm>
#include <set>

#include "../base/ascii.hpp"
#include "key_words.hpp"
#include "text_values.hpp"

namespace hairline::archive {
namespace {

constexpr std::size_t longest_line = 400, longest_key = 80;

bool has_letter(std::string_view text) {
  return std::any_of(text.begin(), text.end(), [](char c) { return is_letter(c) || (c & 0x80) != 0; });
}

// A number in a line: [begin, end).
struct Number {
  std::size_t begin, end;
};

std::vector<Number> numbers_in(std::string_view line) {
  std::vector<Number> out;
  for (std::size_t i = 0; i < line.size();) {
    const bool inside_word = i > 0 && (has_letter(line.substr(i - 1, 1)) || line[i - 1] == '_');
    if (!is_digit(line[i]) || inside_word) {
      ++i;
      continue;
    }
    std::size_t end = i;
    while (end < line.size() && (is_digit(line[end]) || line[end] == '.' || line[end] == ',')) ++end;
    while (end > i && !is_digit(line[end - 1])) --end;
    out.push_back({i, end});
    i = end;
  }
  return out;
}

// A piece of a line as a regular expression: numbers and blanks may be others.
std::string loosely(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size();) {
    std::size_t end = i;
    if (is_digit(text[i])) {
      while (end < text.size() && (is_digit(text[end]) || text[end] == '.' || text[end] == ',')) ++end;
      out += "[0-9.,]+";
    } else if (text[i] == ' ' || text[i] == '\t') {
      while (end < text.size() && (text[end] == ' ' || text[end] == '\t')) ++end;
      out += "[ \\t]+";
    } else {
      end = text.find_first_of("0123456789 \t", i);
      if (end == std::string_view::npos) end = text.size();
      out += RE2::QuoteMeta(std::string(text.substr(i, end - i)));
    }
    i = end;
  }
  return out;
}

class Lines {
 public:
  Lines(const std::string& entry, std::vector<TextValue>& out) : entry_(entry), out_(out) {}

  void see(std::string_view line) {
    const std::string_view shown = trimmed(line);
    if (shown.empty() || line.size() > longest_line || out_.size() >= most_values) return;
    const bool remark = shown.front() == ';' || shown.front() == '#' || shown.starts_with("//");
    if (!remark && shown.front() == '[' && shown.find(']') != std::string_view::npos) {
      section_ = trimmed(shown.substr(1, shown.find(']') - 1));
      parents_.clear();
      return;
    }
    if (remark || !pair(line, shown)) plain(line, remark);
  }

 private:
  struct Parent {
    std::size_t indent;
    std::string name;
  };

  bool pair(std::string_view line, std::string_view shown) {
    const std::size_t equals = shown.find_first_of("=:");
    if (equals == std::string_view::npos || equals > longest_key) return false;
    const std::string own(trimmed(shown.substr(0, equals)));
    const std::string_view value = trimmed(shown.substr(equals + 1));
    if (!has_letter(own) || own.find(',') != std::string::npos) return false;
    const std::size_t indent = line.find_first_not_of(" \t");
    while (!parents_.empty() && parents_.back().indent >= indent) parents_.pop_back();
    if (value.empty()) {
      parents_.push_back({indent, own});
      return true;
    }
    const std::string key = section_.empty() ? own : section_ + "." + own;
    if (!parents_.empty() || !known_.insert(key).second) {  // the syntax has no parents, and knows the first one only
      nested(own, value);
      return true;
    }
    const auto found =
        find_value(std::string(shown.substr(0, equals + 1)) + std::string(value), entry_, Syntax::ini, own);
    TextValue one{entry_, Syntax::ini, key, parts_of(own), found && *found ? **found : std::string(value), ""};
    if (value.size() > one.text.size()) one.behind = trimmed(value.substr(one.text.size()));
    while (!one.behind.empty() && std::string_view(";#/\"' ").find(one.behind.front()) != std::string_view::npos)
      one.behind.erase(0, 1);
    out_.push_back(std::move(one));
    return true;
  }

  // Below "parent:" lines, by a pattern over several lines.
  void nested(const std::string& own, std::string_view value) {
    std::string key = "^";
    for (const Parent& parent : parents_)
      key += R"([ \t]*)" + RE2::QuoteMeta(parent.name) + R"([ \t]*:[ \t]*\r?\n(?:[ \t]+[^\n]*\n)*?)";
    if (parents_.empty()) return;
    key += R"([ \t]+)" + RE2::QuoteMeta(own) + R"([ \t]*[:=][ \t]*([^\r\n]+))";
    out_.push_back({entry_, Syntax::text, key, parts_of(own), std::string(value), ""});
  }

  std::vector<std::string> parts_of(std::string own) const {
    static const RE2 unit(R"([._](mm|um|cm|g|kg)[._](per[._])?(min|sec|s|ml|l)$)");  // "speed.mm.per.min"
    std::string first, per, second;
    if (RE2::PartialMatch(own, unit, &first, &per, &second))
      own.resize(own.size() - first.size() - per.size() - second.size() - 2), own += "_" + first + "_per_" + second;
    std::vector<std::string> out;
    if (!section_.empty()) out.push_back(section_);
    for (const Parent& parent : parents_) out.push_back(parent.name);
    for (std::string& part : cut_at(own, '.')) out.push_back(std::move(part));
    return out;
  }

  // "Base exposure 30 s for 4 base layers": the words before a number are its key; where there are none, those behind.
  void plain(std::string_view line, bool remark) {
    const std::vector<Number> numbers = numbers_in(line);
    for (std::size_t i = 0; i < numbers.size(); ++i) {
      const Number number = numbers[i];
      const std::size_t clause = clause_before(line, number.begin);
      const std::size_t from = std::max(clause, i == 0 ? 0 : numbers[i - 1].end);
      const std::size_t until =
          std::min(clause_end(line, number.end), i + 1 < numbers.size() ? numbers[i + 1].begin : line.size());
      std::string_view before = line.substr(from, number.begin - from);
      if (i > 0 && from == numbers[i - 1].end && unit_at(before) != nullptr) {  // of the number before this one
        before = trimmed(before);
        before.remove_prefix(std::min(before.find(' '), before.size()));
      }
      const std::string_view behind = trimmed(line.substr(number.end, until - number.end));
      TextValue one{entry_,
                    Syntax::text,
                    "",
                    {},
                    std::string(line.substr(number.begin, number.end - number.begin)),
                    std::string(behind),
                    remark};
      const std::string digits = "([0-9.,]+)";
      one.key = "^" + loosely(line.substr(0, number.begin)) + digits;
      one.parts = {std::string(line.substr(clause, from - clause)), std::string(before)};
      if (!has_letter(line.substr(0, number.begin))) {
        one.key += loosely(line.substr(number.end, until - number.end));
        while (one.key.ends_with("[ \\t]+")) one.key.resize(one.key.size() - 6);
      }
      if (after_counts(before, behind)) one.parts.push_back(std::string(behind));
      if (one.key.size() <= 900) out_.push_back(std::move(one));
    }
  }

  // A full stop or a semicolon before a blank ends what is said of a number.
  static std::size_t clause_end(std::string_view line, std::size_t at) {
    for (; at + 1 < line.size(); ++at)
      if ((line[at] == '.' || line[at] == ';') && line[at + 1] == ' ') return at;
    return line.size();
  }
  static std::size_t clause_before(std::string_view line, std::size_t at) {
    for (; at >= 2; --at)
      if ((line[at - 2] == '.' || line[at - 2] == ';') && line[at - 1] == ' ' && at >= 3 && line[at - 3] != '.')
        return at;
    return 0;
  }

  // "for 4 base layers", "12 layers": a word of joining, or none, stands before the number.
  static bool after_counts(std::string_view before, std::string_view behind) {
    std::string_view word = trimmed(before);
    while (!word.empty() && (word.back() == ',' || word.back() == ';' || word.back() == '#' || word.back() == '/'))
      word = trimmed(word.substr(0, word.size() - 1));
    const std::size_t space = word.find_last_of(" ,;");
    if (space != std::string_view::npos) word.remove_prefix(space + 1);
    static const std::set<std::string_view> joining{"",     "for", "on",  "and",  "with", "by",  "of", "in",
                                                    "over", "the", "has", "each", "is",   "are", "a",  "first"};
    return joining.contains(word) && has_letter(behind);
  }

  const std::string& entry_;
  std::vector<TextValue>& out_;
  std::string section_;
  std::vector<Parent> parents_;
  std::set<std::string> known_;
};

}  // namespace

void line_values(const std::string& text, const std::string& entry, std::vector<TextValue>& out) {
  Lines lines(entry, out);
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    lines.see(std::string_view(text).substr(at, end - at));
    at = end + 1;
  }
}

}  // namespace hairline::archive
