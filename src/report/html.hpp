// Parts every page is made of: escaping, documents as HTML, pictures as data URIs, the template. Internal to
// src/report.
#pragma once
#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <string_view>

#include "hairline/document.hpp"
#include "hairline/pictures.hpp"

namespace hairline {

// A page's style and script, and their SHA-256 in hex.
struct PageCode {
  std::string_view css, css_sha256, js, js_sha256;
};
// The files of src/report/page as they were built in.
namespace page_files {
extern const std::string_view html, record_html, night_html;
extern const PageCode code, night_code;
}  // namespace page_files

// Text for element content and quoted attributes. Control characters, marks that turn the direction of writing and bad
// UTF-8 show as \xNN.
std::string html_text(std::string_view raw);
// JSON that may stand in a script element: '<' as \u003c, which only strings can hold.
std::string json_for_script(std::string_view json);
std::string base64(std::span<const std::uint8_t> bytes);

using PageFields = std::map<std::string, std::string, std::less<>>;
// The template with each {{name}} replaced by its field, which is HTML already; an unknown name by nothing.
std::string filled(std::string_view text, const PageFields& fields);
// "csp", "style" and "script": what every page has.
PageFields page_fields(const PageCode& code = page_files::code);

// A fact at the top of a page, with its path in the page's JSON.
std::string fact(const char* name, const char* path, const std::string& text);

// The blocks as HTML; drawings in characters are left out.
std::string html_of(const Document& document);

// A link to an image as a data URI. Values of `becomes_png` are `Becomes`, those of `depth_png` depths.
std::string becomes_png(const Raster& raster);
std::string depth_png(const Raster& raster);
// The same of depths as the bytes of a PNG file.
std::string depth_image(const Raster& raster);

}  // namespace hairline
