/// What is asked about archives of other programs, and how each job is opened by what was answered.
#pragma once
#include "hairline/archive.hpp"
#include "shared.hpp"

namespace hairline::desk {

/// How the job of this name is opened: by what was answered about it on the desk, else by the descriptions the person
/// keeps (user_descriptions). A kept answer that cannot be read is as if it were not there.
OpenOptions open_options_for(const Folder& folder, const std::string& job);
/// Where the answers about a job are kept. Fails with unwritable.
Result<std::filesystem::path> answers_file(const Folder& folder, const std::string& job);

/// GET and POST /api/jobs/{}/asks.
void add_ask_routes(Routes& routes, Shared& shared);

}  // namespace hairline::desk
