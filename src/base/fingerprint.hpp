/// What tells one content from another: 128 bits of XXH3 (Debian's libxxhash-dev; the xxHash specification, doc/
/// xxhash_spec.md). It is no protection against content made on purpose to be mistaken for another.
#pragma once
#include <string>
#include <string_view>

namespace hairline {

/// 32 hexadecimal digits; the same on any machine.
std::string fingerprint(std::string_view bytes);

}  // namespace hairline
