/// Percent-encoding (RFC 3986, section 2.1).
#pragma once
#include <optional>
#include <string>
#include <string_view>

namespace hairline {

/// All but unreserved characters as %XX: nothing in it can be read as a scheme, a host or a slash.
std::string percent_coded(std::string_view bytes);
/// The bytes; none where a % is not followed by two hexadecimal digits.
std::optional<std::string> percent_decoded(std::string_view text);

}  // namespace hairline
