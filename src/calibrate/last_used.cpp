// When records were last used: one file of the user's, never the records themselves.
#include <fstream>
#include <sstream>

#include "../base/user_folder.hpp"
#include "hairline/files.hpp"
#include "hairline/record_edit.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t date_length = 10;

// One name for one file, as far as links and the current folder are concerned.
std::string full_path(const fs::path& path) {
  std::error_code error;
  const fs::path full = fs::weakly_canonical(fs::absolute(path, error), error);
  return error ? std::string() : full.string();
}

}  // namespace

fs::path user_uses() {
  const fs::path state = user_folder("XDG_STATE_HOME", ".local/state");
  return state.empty() ? state : state / "records-used";
}

LastUses read_uses(const fs::path& uses) {
  LastUses dates;
  const auto text = uses.empty() ? Result<std::string>() : read_text(uses);
  std::istringstream lines(text ? *text : std::string());
  for (std::string line; std::getline(lines, line);) {
    const bool whole = line.size() > date_length && line[date_length] == '\t';
    if (whole && day_number(line.substr(0, date_length)))
      dates[line.substr(date_length + 1)] = line.substr(0, date_length);
  }
  return dates;
}

std::string last_use(const LastUses& uses, const fs::path& record) {
  const auto at = uses.find(full_path(record));
  return at == uses.end() ? std::string() : at->second;
}

void note_use(const fs::path& uses, const fs::path& record, const std::string& today) {
  const std::string path = full_path(record);
  if (uses.empty() || path.empty() || path.find('\n') != std::string::npos) return;
  if (last_use(read_uses(uses), path) == today) return;
  std::error_code ignored;
  fs::create_directories(uses.parent_path(), ignored);
  if (fs::exists(uses, ignored) && !fs::is_regular_file(uses, ignored)) return;
  std::ofstream(uses, std::ios::binary | std::ios::app) << today + '\t' + path + '\n';
}

}  // namespace hairline
