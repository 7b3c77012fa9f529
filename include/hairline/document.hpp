/// What is to be said, in blocks that carry meaning and little layout. Values are turned into documents once
/// (`say_report`, `say_queue`, `say_record` and others) and documents are shown in as many ways as are wanted
/// (`show_terminal`). All text is raw and may quote bytes from foreign files: whoever shows it escapes it.
#pragma once
#include <cstdint>
#include <string>
#include <variant>
#include <vector>

namespace hairline {

/// What a piece of text means; whoever shows it decides how that looks.
enum class Tone : std::uint8_t { plain, strong, quiet, good, doubtful, bad };

/// Begins a part of the document; without text the part has no title.
struct Heading {
  std::string text;
};

struct Paragraph {
  std::string text;
  Tone tone = Tone::plain;
  std::uint16_t indent = 0;  ///< terminal: columns
};

/// A sentence beside a short lead: "#3", "time", "why". Not shown without text.
struct Item {
  std::string lead, text;
  Tone lead_tone = Tone::quiet, tone = Tone::plain;
  std::uint32_t finding = 0;                   ///< id of the detail it is about (the worst of several); 0: of none
  std::uint32_t most_lines = UINT32_MAX;       ///< terminal: the rest is left out; 0: not shown there
  std::uint16_t lead_columns = 9, indent = 0;  ///< terminal: the lead's width, and columns before it
};

struct TableColumn {
  /// `remark` and `prose` come last in a row: cut at the line's end, or wrapped beneath itself and in no tone.
  enum class Kind : std::uint8_t { text, number, remark, prose };
  std::string title;
  Kind kind = Kind::number;
  std::uint16_t columns = 0, gap = 0;  ///< terminal: least width (of text also the most; 0: any), blanks before it
};
struct TableRow {
  std::vector<std::string> cells;  ///< one for each column
  Tone tone = Tone::plain;
  std::vector<Paragraph> notes = {};  ///< about this row, below it
};
struct Table {
  std::vector<TableColumn> columns;  ///< all without a title: a table without a head
  std::vector<TableRow> rows = {};
};

/// A picture by its name, for those who can draw it; a terminal has the same roughly, in characters, or nothing.
struct Picture {
  std::string name, caption;
  std::vector<std::string> drawing = {};
};

using DocumentBlock = std::variant<Heading, Paragraph, Item, Table, Picture>;
using Document = std::vector<DocumentBlock>;

struct TerminalStyle {
  bool colour = false;
  std::uint32_t columns = 80;  ///< wraps and aligns from 60 up, to 110 at most
  /// Groups of alike details listed at most; UINT32_MAX for all. Up to 10 a report is also held to 16 lines of answer
  /// and 60 lines below it.
  std::uint32_t details = 10;
  bool blocks = false;  ///< it shows block characters; else pictures are of plain ones
};
/// The document as text for a person, ending in a line break.
std::string show_terminal(const Document& document, const TerminalStyle& style);

}  // namespace hairline
