// Text helpers. UTF-8: Unicode Standard 15, table 3-7 and the worked example of section 3.9 (table 3-8, from memory).
#include <algorithm>
#include <catch2/catch.hpp>
#include <string>
#include <vector>

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
  const Error error{.kind = ErrorKind::mismatch,
                    .file = "deck.zip",
                    .layer = 12,
                    .found = "the mask is 10 x 10 pixels",
                    .expected = "12 x 10 pixels",
                    .advice = "Export the layer again."};
  CHECK(to_paragraph(error) ==
        "deck.zip, layer 12: the mask is 10 x 10 pixels; expected 12 x 10 pixels. Export the layer again.");
  Error odd = error;
  odd.layer.reset();
  odd.file = "two\nlines\r";
  odd.expected.clear();
  odd.advice = "Look";
  CHECK(to_paragraph(odd) == "two\\x0Alines\\x0D: the mask is 10 x 10 pixels. Look.");
  CHECK(to_paragraph({.kind = ErrorKind::usage,
                      .file = "",
                      .layer = {},
                      .found = "no job was named",
                      .expected = "",
                      .advice = ""}) == "no job was named.");
}

TEST_CASE("kinds have fixed names") {
  CHECK(to_string(ErrorKind::usage) == "usage");
  CHECK(to_string(ErrorKind::not_found) == "not_found");
  CHECK(to_string(ErrorKind::unwritable) == "unwritable");
  CHECK(to_string(ErrorKind::limit) == "limit");
}

TEST_CASE("nesting_depth counts brackets outside strings") {
  CHECK(nesting_depth("") == 0);
  CHECK(nesting_depth("7") == 0);
  CHECK(nesting_depth("{\"a\": [1, {}], \"b\": []}") == 3);
  CHECK(nesting_depth("[\"[[[[\"]") == 1);
  CHECK(nesting_depth("[\"\\\"[[\"]") == 1);  // an escaped quote does not end the string
  CHECK(nesting_depth("]]]][") == 1);
  CHECK(nesting_depth(std::string(1000, '[')) == 1000);
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
