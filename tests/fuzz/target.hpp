/// What the fuzz targets share. Each target defines `run`; a property that does not hold ends the process.
#pragma once
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>

#include "hairline/files.hpp"
#include "hairline/result.hpp"

namespace hairline::fuzz {

/// Reads one input and checks what must hold whatever it is.
void run(std::string_view input);

inline void expect(bool holds, const std::string& property) {
  if (holds) return;
  std::fprintf(stderr, "does not hold: %s\n", property.c_str());
  std::abort();
}

/// An error says what was found and what to do, in one paragraph that is safe on a terminal.
inline void expect_told(const Error& error) {
  const std::string text = visible(to_paragraph(error));
  expect(!error.found.empty() && !error.expected.empty() && !error.advice.empty(), "an error says all three: " + text);
  expect(std::none_of(text.begin(), text.end(), [](unsigned char c) { return c < 32 || c == 127; }),
         "no control characters in: " + text);
  expect(valid_utf8(text) == text, "UTF-8: " + text);
}

/// A private folder for the one target of this process, removed at its end.
inline const std::filesystem::path& folder() {
  struct Folder {
    std::filesystem::path path;
    Folder() {
      std::string name = (std::filesystem::temp_directory_path() / "hairline-fuzz-XXXXXX").string();
      expect(::mkdtemp(name.data()) != nullptr, "a folder for temporary files");
      path = name;
    }
    ~Folder() {
      std::error_code ignored;
      std::filesystem::remove_all(path, ignored);
    }
  };
  static const Folder made;
  return made.path;
}

inline void write_file(const std::filesystem::path& path, std::string_view bytes) {
  std::filesystem::create_directories(path.parent_path());
  expect(bool(std::ofstream(path, std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(bytes.size()))),
         "a temporary file");
}

}  // namespace hairline::fuzz
