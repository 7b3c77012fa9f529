/// The files of src/desk/pages as they were built in.
#pragma once
#include <string_view>
#include <vector>

namespace hairline::desk {

struct PageFile {
  std::string_view name, text;  ///< "desk.js"
};
extern const std::vector<PageFile> page_files;

}  // namespace hairline::desk
