#include "html.hpp"

#include <fmt/format.h>

#include <vector>

#include "../base/ascii.hpp"
#include "hairline/files.hpp"

namespace hairline {
namespace {

const char* class_of(Tone tone) {
  constexpr const char* classes[] = {"", "strong", "quiet", "good", "doubtful", "bad"};
  return classes[static_cast<std::size_t>(tone)];
}

std::vector<std::uint8_t> bytes_of_hex(std::string_view hex) {
  std::vector<std::uint8_t> bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2)
    bytes.push_back(static_cast<std::uint8_t>(std::stoul(std::string(hex.substr(i, 2)), nullptr, 16)));
  return bytes;
}

class Html {
 public:
  void operator()(const Heading& heading) {
    end_list();
    heading_ = heading.text;
    if (!heading.text.empty()) text_ += fmt::format("<h3>{}</h3>\n", html_text(heading.text));
  }
  void operator()(const Paragraph& paragraph) {
    end_list();
    text_ += fmt::format("<p class=\"{}\">{}</p>\n", class_of(paragraph.tone), html_text(paragraph.text));
  }
  void operator()(const Item& item) {
    if (item.text.empty()) return;
    if (!in_list_) text_ += "<ul class=\"items\">\n";
    in_list_ = true;
    text_ += fmt::format("<li><span class=\"lead\">{}</span> <span>{}</span></li>\n", html_text(item.lead),
                         html_text(item.text));
  }
  void operator()(const Table& table) {
    end_list();
    text_ += fmt::format("<div class=\"scroll\" role=\"region\" aria-label=\"{}\" tabindex=\"0\"><table>\n<thead><tr>",
                         heading_.empty() ? "Table" : "Table: " + html_text(heading_));
    for (const TableColumn& column : table.columns)
      text_ += column.title.empty() ? "<td></td>" : fmt::format("<th scope=\"col\">{}</th>", html_text(column.title));
    text_ += "</tr></thead>\n<tbody>\n";
    for (const TableRow& row : table.rows) write(row, table.columns);
    text_ += "</tbody></table></div>\n";
  }
  void operator()(const Picture&) {}

  std::string take() {
    end_list();
    return std::move(text_);
  }

 private:
  void end_list() {
    if (in_list_) text_ += "</ul>\n";
    in_list_ = false;
  }
  void write(const TableRow& row, const std::vector<TableColumn>& columns) {
    text_ += fmt::format("<tr class=\"{}\">", class_of(row.tone));
    for (std::size_t i = 0; i < columns.size(); ++i)
      text_ += fmt::format("<td{}>{}</td>", columns[i].kind == TableColumn::Kind::number ? " class=\"number\"" : "",
                           html_text(row.cells[i]));
    text_ += "</tr>\n";
    for (const Paragraph& note : row.notes)
      text_ += fmt::format("<tr><td colspan=\"{}\">{}</td></tr>\n", columns.size(), html_text(note.text));
  }

  std::string text_, heading_;
  bool in_list_ = false;
};

}  // namespace

std::string html_text(std::string_view raw) {
  std::string text;
  for (const char c : visible(raw)) text += c == '\'' ? "&#39;" : escaped_for_html(c);
  return text;
}

std::string json_for_script(std::string_view json) {
  std::string text;
  text.reserve(json.size());
  for (const char c : json) c == '<' ? text += "\\u003c" : text += c;
  return text;
}

std::string base64(std::span<const std::uint8_t> bytes) {
  constexpr char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  text.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t three = 0;
    for (std::size_t k = i; k < i + 3; ++k) three = three << 8 | (k < bytes.size() ? bytes[k] : 0u);
    for (int shift = 18; shift >= 0; shift -= 6) text += digits[three >> shift & 63];
  }
  const std::size_t filler = (3 - bytes.size() % 3) % 3;
  return text.replace(text.size() - filler, filler, filler, '=');
}

std::string filled(std::string_view text, const PageFields& fields) {
  std::string page;
  for (std::size_t at = 0;;) {
    const std::size_t open = text.find("{{", at), close = text.find("}}", open);
    page += text.substr(at, open - at);
    if (open == std::string_view::npos || close == std::string_view::npos) return page;
    const auto field = fields.find(text.substr(open + 2, close - open - 2));
    if (field != fields.end()) page += field->second;
    at = close + 2;
  }
}

PageFields page_fields(const PageCode& code) {
  const std::string csp = fmt::format(
      "default-src 'none'; img-src data:; style-src 'sha256-{}'; script-src 'sha256-{}'; base-uri 'none'; "
      "form-action 'none'",
      base64(bytes_of_hex(code.css_sha256)), base64(bytes_of_hex(code.js_sha256)));
  return {{"csp", csp}, {"style", std::string(code.css)}, {"script", std::string(code.js)}};
}

std::string fact(const char* name, const char* path, const std::string& text) {
  return fmt::format("<div class=\"fact\"><dt>{}</dt><dd data-json=\"{}\">{}</dd></div>\n", name, path,
                     html_text(text));
}

std::string html_of(const Document& document) {
  Html html;
  for (const DocumentBlock& block : document) std::visit(html, block);
  return html.take();
}

}  // namespace hairline
