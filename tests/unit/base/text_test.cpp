// Text helpers. UTF-8: Unicode Standard 15, table 3-7 and the worked example of section 3.9 (table 3-8, from memory).
#include <algorithm>
#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "base/percent.hpp"
#include "hairline/files.hpp"
#include "hairline/result.hpp"

using namespace hairline;

namespace {
const std::string replacement = "\xEF\xBF\xBD";
}

TEST_CASE("valid_utf8 keeps good text") {
  const std::string text = "plain, caf\xC3\xA9, \xE2\x82\xAC, \xF0\x9F\x9A\xA2";
  CHECK(valid_utf8(text) == text);
  CHECK(valid_utf8("").empty());
}

TEST_CASE("valid_utf8 replaces each bad stretch once") {
  CHECK(valid_utf8("a\xFFz") == "a" + replacement + "z");
  CHECK(valid_utf8("\xC0\xAF") == replacement + replacement);                    // overlong
  CHECK(valid_utf8("\xED\xA0\x80") == replacement + replacement + replacement);  // surrogate
  CHECK(valid_utf8("\xE2\x82") == replacement);                                  // cut off
  CHECK(valid_utf8("\xF4\x90\x80\x80").size() == 4 * replacement.size());        // above U+10FFFF
  // Section 3.9: 61 F1 80 80 E1 80 C2 62 80 63 80 BF 64 -> a FFFD FFFD FFFD b FFFD c FFFD FFFD d
  CHECK(valid_utf8("a\xF1\x80\x80\xE1\x80\xC2"
                   "b\x80"
                   "c\x80\xBF"
                   "d") ==
        "a" + replacement + replacement + replacement + "b" + replacement + "c" + replacement + replacement + "d");
}

TEST_CASE("beginning_of keeps characters whole") {
  const std::string text = "caf\xC3\xA9 \xF0\x9F\x9A\xA2";  // 5 bytes, a space, and one of 4
  CHECK(beginning_of(text, 3) == "caf");
  CHECK(beginning_of(text, 4) == "caf");
  CHECK(beginning_of(text, 5) == "caf\xC3\xA9");
  for (const std::size_t most : {6u, 7u, 8u, 9u}) CHECK(beginning_of(text, most) == "caf\xC3\xA9 ");
  CHECK(beginning_of(text, 10) == text);
  CHECK(beginning_of(text, 100) == text);
  CHECK(beginning_of("\xC3\xA9", 1).empty());
  CHECK(beginning_of("", 5).empty());
}

TEST_CASE("visible shows what a terminal would obey") {
  CHECK(visible("deck\x1B[31m") == "deck\\x1B[31m");
  CHECK(visible(std::string("a\0b", 3)) == "a\\x00b");
  CHECK(visible("a\nb\x7F") == "a\\x0Ab\\x7F");
  CHECK(visible("\xC2\x9B") == "\\xC2\\x9B");                 // C1 control
  CHECK(visible("\xE2\x80\xAEgpj") == "\\xE2\\x80\\xAEgpj");  // right-to-left override
  CHECK(visible("\xFE ok") == "\\xFE ok");
  CHECK(visible("caf\xC3\xA9") == "caf\xC3\xA9");
}

TEST_CASE("natural_less counts as people do") {
  CHECK(natural_less("2.png", "10.png"));
  CHECK_FALSE(natural_less("10.png", "2.png"));
  CHECK(natural_less("a2b3", "a2b10"));
  CHECK(natural_less("a", "a1"));
  CHECK_FALSE(natural_less("a", "a"));
  CHECK(natural_less("99999999999999999999998", "99999999999999999999999"));
  CHECK(natural_less("9", "99999999999999999999999"));
  CHECK(natural_less("a\x7F", "a\x80"));  // bytes are unsigned
}

TEST_CASE("natural_less is a strict order, whatever the input order") {
  std::vector<std::string> names = {"",  "0",  "00", "1",  "01",  "001", "1a",  "01a",
                                    "2", "10", "a",  "a0", "a00", "a1",  "a1b", "b"};
  for (const auto& a : names)
    for (const auto& b : names) {
      CHECK((natural_less(a, b) && natural_less(b, a)) == false);
      CHECK((a == b || natural_less(a, b) || natural_less(b, a)));
      for (const auto& c : names)
        if (natural_less(a, b) && natural_less(b, c)) CHECK(natural_less(a, c));
    }
  auto turned = names;
  std::sort(names.begin(), names.end(), natural_less);
  std::reverse(turned.begin(), turned.end());
  std::sort(turned.begin(), turned.end(), natural_less);
  CHECK(names == turned);
}

TEST_CASE("an error reads as one paragraph") {
  const Error error{ErrorKind::mismatch,       "deck.zip", "the mask is 10 x 10 pixels", "12 x 10 pixels",
                    "Export the layer again.", 12};
  CHECK(to_paragraph(error) ==
        "deck.zip, layer 12: the mask is 10 x 10 pixels; expected 12 x 10 pixels. Export the layer again.");
  Error odd = error;
  odd.layer.reset();
  odd.file = "two\nlines\r";
  odd.expected.clear();
  odd.advice = "Look";
  CHECK(to_paragraph(odd) == "two\\x0Alines\\x0D: the mask is 10 x 10 pixels. Look.");
  CHECK(to_paragraph({ErrorKind::usage, "", "no job was named"}) == "no job was named.");
}

TEST_CASE("kinds have fixed names") {
  CHECK(to_string(ErrorKind::usage) == "usage");
  CHECK(to_string(ErrorKind::not_found) == "not_found");
  CHECK(to_string(ErrorKind::unwritable) == "unwritable");
  CHECK(to_string(ErrorKind::limit) == "limit");
}

TEST_CASE("the nearest name is found over any one difference, and over two only in a long word") {
  const std::vector<std::string> names = {"check", "measure", "--lamp-hours", "harbour grey"};
  for (const std::string& name : names) {
    for (std::size_t i = 0; i < name.size(); ++i) {
      std::string without = name, other = name, more = name, swapped = name;
      without.erase(i, 1);
      other[i] = '~';
      more.insert(i, 1, '~');
      if (i + 1 < name.size()) std::swap(swapped[i], swapped[i + 1]);
      for (const std::string& asked : {without, other, more, swapped}) {
        INFO(asked);
        CHECK(nearest_name(asked, names) == name);
      }
    }
  }
  CHECK(nearest_name("HARBOR GRAY", names) == "harbour grey");
  CHECK(nearest_name("chk", names).empty());  // two of three letters
  CHECK(nearest_name("meazurre", names) == "measure");
  CHECK(nearest_name("sweep", names).empty());
  CHECK(nearest_name("", names).empty());
  CHECK(nearest_name("check", {}).empty());
  // The textbook pair: three differences (kitten, sittn, sittin, sitting), one more than a third of six letters.
  CHECK(nearest_name("kitten", {"sitting"}).empty());
  CHECK(nearest_name("kittens", {"sittens", "kitteny"}) == "sittens");                // the first of two as near
  CHECK(nearest_name(std::string(100000, 'a'), {std::string(100000, 'a')}).empty());  // too long to be a slip
}

TEST_CASE("visible shows what is not seen or turns the direction of writing") {
  // Bidi_Control and Default_Ignorable_Code_Point of the Unicode Standard 15, from memory.
  for (const char* unseen :
       {"\u061C", "\u200B",     "\u200D",     "\u200E",     "\u200F",     "\u2028", "\u2029",    "\u202A",
        "\u202E", "\u2060",     "\u2066",     "\u2069",     "\u00AD",     "\u034F", "\u180E",    "\uFEFF",
        "\uFFF9", "\U000E0001", "\U000E0041", "\U000E007F", "\U000E0100", "\uFFFE", "\U0010FFFF"}) {
    const std::string shown = visible(std::string("a") + unseen + "b");
    CHECK(shown.rfind("a\\x", 0) == 0);
    CHECK(shown.size() == 2 + 4 * std::string(unseen).size());
  }
  for (const char* seen : {"\u00A0", "\u0627", "\u05D0", "\u2010", "\u2030", "\u2764\uFE0F", "\u4E2D", "\U0001F6A2"})
    CHECK(visible(seen) == seen);
}

TEST_CASE("a text in short keeps its beginning and its end") {
  CHECK(in_short("harbour", 7) == "harbour");
  CHECK(in_short("harbour wall", 9) == "harb...ll");
  CHECK(in_short("", 0).empty());
  CHECK(in_short(std::string(6, '\x01'), 24) == std::string(6, '\x01'));  // \x01 is shown in four columns
  CHECK(in_short(std::string(7, '\x01'), 24) == std::string(3, '\x01') + "..." + '\x01');
  std::string letters;
  for (int i = 0; i < 300; ++i) letters += "\xC3\xA4";  // whole letters stay, whatever the width
  for (std::size_t most = 3; most < 300; ++most) {
    const std::string text = in_short(letters, most);
    CHECK(valid_utf8(text) == text);
    CHECK(text.size() == 2 * (most - 3) + 3);
  }
  CHECK(in_short(std::string(1'000'000, '\xFF'), 40).size() < 40);
}

TEST_CASE("an error stays short whatever it quotes") {
  const std::string word(100'000, 'w');
  std::string words;
  while (words.size() < 100'000) words += "words of no end ";
  for (const std::string& foreign : {word, words, std::string(100'000, '\x1B'), std::string(100'000, '\xFF')}) {
    const Error error{ErrorKind::invalid, foreign, "the key \"" + foreign + "\" is left", foreign, "Correct it."};
    CHECK(visible(to_paragraph(error)).size() < 850);
  }
  const Error error{ErrorKind::invalid, "a.zip", "the key \"" + word + "\" is odd", "an even one", "Correct it."};
  const std::string said = to_paragraph(error);
  CHECK(said.size() < 200);
  CHECK(said.rfind("a.zip: the key \"www", 0) == 0);
  CHECK(said.find("...www") != std::string::npos);
  CHECK(said.find("\" is odd; expected an even one. Correct it.") != std::string::npos);
}

TEST_CASE("percent-encoding as RFC 3986 has it, and back") {
  CHECK(percent_coded("quay bench/50 %.html") == "quay%20bench%2F50%20%25.html");
  CHECK(percent_coded("Az09-._~\xC3\xA4:") == "Az09-._~%C3%A4%3A");
  std::string all;
  for (int c = 0; c < 256; ++c) all += static_cast<char>(c);
  CHECK(percent_decoded(percent_coded(all)) == all);
  CHECK(percent_decoded("a%2fB%2F") == "a/B/");
  for (const char* broken : {"%", "%4", "%4g", "%g4", "% 4", "%+4", "%-4", "a%"}) {
    INFO(broken);
    CHECK_FALSE(percent_decoded(broken));
  }
}
