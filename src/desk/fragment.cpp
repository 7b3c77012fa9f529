#include "fragment.hpp"

#include <algorithm>
#include <filesystem>
#include <utility>

#include "../report/html.hpp"

namespace hairline::desk {

namespace {

constexpr std::string_view command = "`hairline ";

std::string* text_in(DocumentBlock& block) {
  if (auto* const paragraph = std::get_if<Paragraph>(&block)) return &paragraph->text;
  if (auto* const item = std::get_if<Item>(&block)) return &item->text;
  return nullptr;
}

}  // namespace

std::string without_commands(std::string text) {
  for (std::size_t at = text.find(command); at != std::string::npos; at = text.find(command)) {
    const std::size_t before = text.rfind(". ", at), from = before == std::string::npos ? 0 : before + 1;
    const std::size_t behind = text.find(". ", std::min(text.find('`', at + 1), text.size()));
    text.erase(from, behind == std::string::npos ? behind : behind + (from == 0 ? 2 : 1) - from);
  }
  return text;
}

Error for_page(Error error) {
  constexpr std::pair<const char*, const char*> steps[] = {
      {"hairline describe", "Open the page of the job, and answer what is asked."},
      {"hairline record fit", "Go on with the evening of the record."},
      {"--record", "Make one on an evening (Records), or choose one of those that are there."}};
  for (const auto& [named, step] : steps)
    if (error.advice.find(named) != std::string::npos) error.advice = step;
  error.file = std::filesystem::path(error.file).filename().string();
  return error;
}

std::string fragment_of(const Document& document) {
  Document shown;
  for (DocumentBlock block : document) {
    std::string* const text = text_in(block);
    const bool named = text != nullptr && text->find(command) != std::string::npos;
    if (named) *text = without_commands(std::move(*text));
    if (!named || !text->empty()) shown.push_back(std::move(block));
  }
  return html_of(shown);
}

}  // namespace hairline::desk
