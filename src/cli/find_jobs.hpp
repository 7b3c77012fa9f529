// The jobs of a queue: archives, folders of archives, and lists of paths.
#pragma once
#include <string>
#include <vector>

#include "hairline/result.hpp"

namespace hairline::cli {

// In the order given; within a folder in natural order of names; a list (.txt) is relative to its own folder, its empty
// lines and lines that begin with # are skipped. A folder with a manifest.json is itself a job. Fails with not_found,
// unreadable, and invalid when nothing was found.
Result<std::vector<std::string>> find_jobs(const std::vector<std::string>& paths);

}  // namespace hairline::cli
