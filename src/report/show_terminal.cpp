// A document as plain text for a terminal: wrapped to a width, aligned, coloured only when asked.
#include <algorithm>
#include <utility>

#include "hairline/files.hpp"
#include "lines.hpp"

namespace hairline {
namespace {

const char* code_of(Tone tone) {
  constexpr const char* codes[] = {"", "\x1b[1m", "\x1b[2m", "\x1b[1;32m", "\x1b[1;33m", "\x1b[1;31m"};
  return codes[static_cast<std::size_t>(tone)];
}

// What stands beside the text of an item; there is always a blank between them.
std::string lead_of(const Item& item) {
  const std::string lead = visible(item.lead);
  const std::size_t columns = std::max<std::size_t>(item.lead_columns, lead.empty() ? 0 : width_of(lead) + 1);
  return std::string(item.indent, ' ') + padded(lead, columns);
}

std::vector<std::string> lines_beside(const std::string& lead, const Item& item, const TerminalStyle& style) {
  const std::size_t columns = columns_of(style) - width_of(lead);
  std::vector<std::string> lines = wrapped(visible(item.text), columns);
  if (lines.size() > item.most_lines) {
    lines.resize(item.most_lines);
    lines.back() = shortened(lines.back() + " ...", columns);
  }
  return lines;
}

// One block after the other; text is made safe here and nowhere else.
class Terminal {
 public:
  explicit Terminal(const TerminalStyle& style) : style_(style), columns_(columns_of(style)) {}

  void operator()(const Heading& heading) {
    text_ += '\n';
    if (!heading.text.empty()) (*this)(Paragraph{heading.text, Tone::strong});
  }

  void operator()(const Paragraph& paragraph) {
    for (const std::string& line : wrapped(visible(paragraph.text), columns_ - paragraph.indent))
      text_ += std::string(paragraph.indent, ' ') + toned(line, paragraph.tone) + '\n';
  }

  void operator()(const Item& item) {
    if (item.text.empty() || item.most_lines == 0) return;
    const std::string lead = lead_of(item);
    beside(lead, item.lead_tone, lines_beside(lead, item, style_), item.tone);
  }

  void operator()(const Table& table) {
    const auto titled = [](const TableColumn& column) { return !column.title.empty(); };
    if (std::any_of(table.columns.begin(), table.columns.end(), titled)) {
      std::string head;
      for (const TableColumn& column : table.columns) head += cell(column.title, column);
      line(head, Tone::quiet);
    }
    for (const TableRow& row : table.rows) write(row, table.columns);
  }

  void operator()(const Picture& picture) {
    if (picture.drawing.empty()) return;
    text_ += '\n';
    for (const std::string& drawn : picture.drawing) line(drawn, Tone::plain);
    (*this)(Paragraph{picture.caption, Tone::quiet, 8});
  }

  std::string take() { return std::move(text_); }

 private:
  std::string toned(const std::string& text, Tone tone) const {
    return !style_.colour || tone == Tone::plain || text.empty() ? text : code_of(tone) + text + "\x1b[0m";
  }
  void line(const std::string& text, Tone tone) { text_ += toned(text, tone) + '\n'; }

  // `lead` once, and the lines beside it, below each other.
  void beside(std::string lead, Tone lead_tone, const std::vector<std::string>& lines, Tone tone) {
    for (const std::string& text : lines) {
      text_ += toned(lead, lead_tone) + toned(text, tone) + '\n';
      lead.assign(width_of(lead), ' ');
      lead_tone = Tone::plain;
    }
  }

  static std::string cell(const std::string& raw, const TableColumn& column) {
    const std::string text = visible(raw), gap(column.gap, ' ');
    if (column.kind == TableColumn::Kind::number) return gap + padded_left(text, column.columns);
    if (column.kind == TableColumn::Kind::text && column.columns > 0)
      return gap + padded(shortened(text, column.columns), column.columns);
    return text.empty() ? text : gap + text;
  }

  void write(const TableRow& row, const std::vector<TableColumn>& columns) {
    std::string text;
    for (std::size_t i = 0; i + 1 < columns.size(); ++i) text += cell(row.cells[i], columns[i]);
    const TableColumn& last = columns.back();
    if (last.kind == TableColumn::Kind::prose) {
      text.append(last.gap, ' ');
      beside(text, row.tone, wrapped(visible(row.cells.back()), columns_ - width_of(text)), Tone::plain);
    } else {
      text += cell(row.cells.back(), last);
      line(last.kind == TableColumn::Kind::remark ? shortened(text, columns_) : text, row.tone);
    }
    for (const Paragraph& note : row.notes) (*this)(note);
  }

  const TerminalStyle& style_;
  std::size_t columns_;
  std::string text_;
};

std::string shown(const Document& part, const TerminalStyle& style) {
  Terminal terminal(style);
  for (const DocumentBlock& block : part) std::visit(terminal, block);
  return terminal.take();
}

}  // namespace

std::size_t columns_of(const TerminalStyle& style) {
  return std::clamp<std::size_t>(style.columns, 60, 110);  // longer lines are hard to read
}

std::size_t lines_of(const Item& item, const TerminalStyle& style) {
  return item.text.empty() || item.most_lines == 0 ? 0 : lines_beside(lead_of(item), item, style).size();
}

std::size_t lines_of(const Document& part, const TerminalStyle& style) {
  const std::string text = shown(part, style);
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

std::string show_terminal(const Document& document, const TerminalStyle& style) {
  std::string text = shown(document, style);
  if (!text.empty() && text.front() == '\n') text.erase(0, 1);  // a heading has a blank line before it, but not on top
  return text;
}

}  // namespace hairline
