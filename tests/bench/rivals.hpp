/// The same work done by others: decoding alone, and the measures done densely, pixel by pixel.
#pragma once
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "plate_archive.hpp"

namespace hairline::bench {

using Files = std::vector<std::vector<std::byte>>;  ///< PNG files, layer by layer, upwards

/// Pixels of one 8-bit grey PNG; empty when it cannot be decoded.
std::vector<std::uint8_t> decode_by_stb(const std::vector<std::byte>& png);
std::vector<std::uint8_t> decode_by_libpng(const std::vector<std::byte>& png);

/// Decodes every file with stb_image / libpng and drops the pixels.
nlohmann::json time_stb(const Files& files);
nlohmann::json time_libpng(const Files& files);

/// The dense version with OpenCV, on one thread, top layer down: decode, threshold, connectedComponentsWithStats and
/// overlap, exact distance transform of the solid, blur with the engine's weights, settled light, largest light within
/// 3 blur. Spared to it, and so to its time: gaps (a second transform), narrow and flat gaps, the smallest settled
/// light, details, the report. `layer_ms`: all steps of one layer but the first, which has nothing above it; `steps_ms`
/// by name.
nlohmann::json time_opencv(const Files& files, const Plate& plate);

/// What is wrong with our answer by these rivals, on every file: decoded pixels equal by stb_image, libpng and OpenCV;
/// solid area, number of pieces and overlap equal; light within 1e-4, settled light within 1e-4 of the exposure.
/// Nothing: all is well.
std::optional<std::string> fault_by_rivals(const Files& files, const Plate& plate);

}  // namespace hairline::bench
