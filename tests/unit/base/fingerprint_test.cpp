#include "base/fingerprint.hpp"

#include <catch2/catch.hpp>
#include <set>

using hairline::fingerprint;

TEST_CASE("fingerprints are those of the published hash, and tell texts apart") {
  // `xxhsum -H2` of xxHash 0.8, of an empty file.
  CHECK(fingerprint("") == "99aa06d3014798d86001c324468d497f");
  std::set<std::string> seen;
  std::string text;
  for (int i = 0; i < 2000; ++i) {
    seen.insert(fingerprint(text));
    text += i % 3 == 0 ? '\0' : 'x';
  }
  CHECK(seen.size() == 2000);
}
