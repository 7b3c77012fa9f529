/// Tonight's queue as it lies in the folder, desk/night.json (formats/print-queue.md), and as the page has it: there
/// jobs and records have the names of files in the folder instead of paths.
#pragma once
#include "folder.hpp"
#include "hairline/night.hpp"

namespace hairline::desk {

struct NightFile {
  Queue queue;
  std::string version;  ///< of its text; changes with every change
};

/// An empty queue where there is none yet. Fails as read_queue does.
Result<NightFile> read_night(const Folder& folder);

/// How the page names a job or a record: the name of an entry of the folder, or a whole path for what lies elsewhere.
std::string shown_name(const Folder& folder, const std::string& path);

/// Writes the queue that the page wants (a text as formats/print-queue.md, with names) where nothing changed since
/// `version`; under a lock, so that of two desks none overwrites what it has not seen. Names have to be those of the
/// folder, or be in the queue already. Fails as parse_queue does, and with not_found (a name), mismatch (it changed
/// meanwhile), unwritable.
Result<NightFile> change_night(const Folder& folder, const std::string& version, const std::string& wanted);

}  // namespace hairline::desk
