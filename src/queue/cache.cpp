// Reports of earlier checks in one SQLite file, in WAL mode: readers and one writer do not wait for one another, and
// what a killed run leaves is whole. Each value is packed together with its key, so that one that comes back damaged,
// or under another key, is noticed.
#include <fmt/format.h>
#include <sqlite3.h>

#include <cstring>
#include <mutex>
#include <vector>

#include "../base/deflate.hpp"
#include "../base/user_folder.hpp"
#include "hairline/files.hpp"
#include "hairline/night.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

constexpr int our_version = 1;
constexpr int busy_ms = 10'000;
constexpr std::uint64_t most_value_bytes = 64u << 20;  // unpacked; a report of a hundred thousand details is longer

struct CloseDatabase {
  void operator()(sqlite3* database) const { sqlite3_close_v2(database); }
};
struct EndStatement {
  void operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
};
using Database = std::unique_ptr<sqlite3, CloseDatabase>;
using Statement = std::unique_ptr<sqlite3_stmt, EndStatement>;

// Eight bytes of length, then zlib's format, whose checksum tells a damaged value.
std::string packed(const std::string& text) {
  const Compressor tool = new_compressor(4);
  const std::uint64_t length = text.size();
  std::string out(sizeof length + libdeflate_zlib_compress_bound(tool.get(), length), '\0');
  std::memcpy(out.data(), &length, sizeof length);
  out.resize(sizeof length + libdeflate_zlib_compress(tool.get(), text.data(), length, out.data() + sizeof length,
                                                      out.size() - sizeof length));
  return out;
}

std::optional<std::string> unpacked(const std::string& bytes) {
  std::uint64_t length = 0;
  if (bytes.size() < sizeof length) return {};
  std::memcpy(&length, bytes.data(), sizeof length);
  if (length > most_value_bytes) return {};
  const Decompressor tool = new_decompressor();
  std::string text(length, '\0');
  if (libdeflate_zlib_decompress(tool.get(), bytes.data() + sizeof length, bytes.size() - sizeof length, text.data(),
                                 length, nullptr) != LIBDEFLATE_SUCCESS)
    return {};
  return text;
}

}  // namespace

struct ReportCache::State {
  mutable std::mutex mutex;
  fs::path file;
  std::uint64_t most_bytes = 0;
  Database database;  // null: nothing is kept or found, or no more
  bool writes = true;
  std::int64_t run = 0;
  std::vector<std::string> used;  // keys found, to be stamped with this run
  std::optional<Error> warning;

  void give_up(std::string found, std::string advice) {
    database.reset();
    warn(std::move(found), std::move(advice));
  }
  void warn(std::string found, std::string advice) {
    if (warning) return;
    warning = Error{ErrorKind::unreadable, file.string(), std::move(found), "",
                    "The jobs are checked all the same. " + std::move(advice)};
  }

  // What SQLite says of its last step, as a sentence, and the end of it.
  // `begins`: to write, so that there is nothing to take back, and what is there can still be read.
  void give_up(int code, bool begins = false) {
    const int kind = code & 0xff;
    if (kind == SQLITE_NOTADB || kind == SQLITE_CORRUPT)
      return give_up("the memory of earlier checks is damaged", "Delete the file; it holds nothing but their results.");
    if (kind == SQLITE_BUSY || kind == SQLITE_LOCKED) {
      if (!begins) database.reset();
      writes = false;
      return warn("another run has held the memory of earlier checks for too long", "Check that it is still alive.");
    }
    if (kind == SQLITE_FULL || kind == SQLITE_READONLY) {
      writes = false;
      sqlite3_exec(database.get(), "ROLLBACK", nullptr, nullptr, nullptr);
      return kind == SQLITE_FULL ? warn("the disk is full, no more results are kept", "Make room, or use --cache.")
                                 : warn("the memory of earlier checks may not be written, no more results are kept",
                                        "Check its rights, or use --cache.");
    }
    give_up(fmt::format("the memory of earlier checks cannot be used ({})", sqlite3_errstr(code)),
            "Check the folder and its rights, or use --cache.");
  }

  Statement prepare(const char* sql) {
    sqlite3_stmt* statement = nullptr;
    const int code = sqlite3_prepare_v2(database.get(), sql, -1, &statement, nullptr);
    if (code != SQLITE_OK) give_up(code);
    return Statement(statement);
  }
  bool execute(const char* sql) {
    const int code = sqlite3_exec(database.get(), sql, nullptr, nullptr, nullptr);
    if (code != SQLITE_OK) give_up(code);
    return code == SQLITE_OK;
  }
  // The one number that a statement gives; 0 where it gives none.
  std::int64_t number(const char* sql) {
    const Statement statement = prepare(sql);
    if (!statement) return 0;
    const int code = sqlite3_step(statement.get());
    if (code == SQLITE_ROW) return sqlite3_column_int64(statement.get(), 0);
    if (code != SQLITE_DONE) give_up(code);
    return 0;
  }
  // A statement with a key, and perhaps a value, to its end.
  bool run_with(const Statement& statement, const std::string& key, const std::string* value = nullptr) {
    sqlite3_bind_text(statement.get(), 1, key.data(), static_cast<int>(key.size()), SQLITE_STATIC);
    sqlite3_bind_int64(statement.get(), 2, run);
    if (value != nullptr) sqlite3_bind_blob64(statement.get(), 3, value->data(), value->size(), SQLITE_STATIC);
    const int code = sqlite3_step(statement.get());
    sqlite3_reset(statement.get());
    if (code != SQLITE_DONE) give_up(code);
    return code == SQLITE_DONE;
  }

  void open() {
    sqlite3* opened = nullptr;
    const int code = sqlite3_open_v2(file.c_str(), &opened,
                                     SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX, nullptr);
    database.reset(opened);
    if (code != SQLITE_OK) return give_up(code);
    sqlite3_busy_timeout(database.get(), busy_ms);
    if (number("PRAGMA user_version") == 0 && database && is_empty()) make();
    if (database && number("PRAGMA user_version") != our_version)
      give_up("it is of another version of the program, or of another program",
              "Delete it if it is a memory of earlier checks, or use --cache.");
    if (database) run = number("SELECT coalesce(max(used), 0) + 1 FROM reports");
    // Of two runs that begin at once one may be refused this; the other then does it.
    if (database) sqlite3_exec(database.get(), "PRAGMA journal_mode = WAL", nullptr, nullptr, nullptr);
    if (database) execute("PRAGMA synchronous = NORMAL; PRAGMA journal_size_limit = 16777216");
    if (database && held() > most_bytes) write([this] { make_room(); });
  }

  bool is_empty() { return number("SELECT count(*) FROM sqlite_schema") == 0; }

  // Another run may do the same at this moment.
  void make() {
    if (!execute("PRAGMA auto_vacuum = INCREMENTAL")) return;
    write([this] {
      if (is_empty() && database)
        execute(
            "CREATE TABLE reports(key TEXT PRIMARY KEY, used INTEGER NOT NULL, value BLOB NOT NULL);"
            "CREATE INDEX reports_by_use ON reports(used);"
            "PRAGMA user_version = 1");
    });
  }

  // One transaction: all of it, or nothing.
  template <class Change>
  void write(const Change& change) {
    const int code = sqlite3_exec(database.get(), "BEGIN IMMEDIATE", nullptr, nullptr, nullptr);
    if (code != SQLITE_OK) return give_up(code, true);
    change();
    if (database && writes) execute("COMMIT");
  }

  std::uint64_t held() {
    const std::int64_t pages = number("PRAGMA page_count");
    const std::int64_t free = database ? number("PRAGMA freelist_count") : 0;
    const std::int64_t page_bytes = database ? number("PRAGMA page_size") : 0;
    return static_cast<std::uint64_t>((pages - free) * page_bytes);
  }

  // The longest unused go, until what is left fits.
  void make_room() {
    stamp();
    while (database && writes && held() > most_bytes && number("SELECT EXISTS(SELECT 1 FROM reports)") > 0)
      execute("DELETE FROM reports WHERE rowid = (SELECT rowid FROM reports ORDER BY used, rowid LIMIT 1)");
    if (database && writes) execute("PRAGMA incremental_vacuum");
  }

  void stamp() {
    const Statement statement =
        database && !used.empty() ? prepare("UPDATE reports SET used = ?2 WHERE key = ?1") : nullptr;
    for (const std::string& key : used)
      if (statement && !run_with(statement, key)) break;
    used.clear();
  }

  // Read-only, or held by others: then the order in which values go is a little less true.
  void close() {
    if (!database || !writes || used.empty()) return;
    sqlite3_busy_timeout(database.get(), 100);
    write([this] { stamp(); });
  }
};

ReportCache::ReportCache() : state_(std::make_unique<State>()) {}
ReportCache::ReportCache(ReportCache&&) noexcept = default;
ReportCache& ReportCache::operator=(ReportCache&&) noexcept = default;
ReportCache::~ReportCache() {
  if (state_) state_->close();
}

ReportCache ReportCache::open(const fs::path& folder, std::uint64_t most_bytes) {
  ReportCache cache;
  State& state = *cache.state_;
  state.file = folder / "reports.sqlite";
  state.most_bytes = most_bytes;
  if (const auto made = make_folder(folder); !made)
    state.give_up(made.error().found, "Check the folder and its rights, or use --cache.");
  else
    state.open();
  return cache;
}

std::optional<Error> ReportCache::warning() const {
  const std::lock_guard lock(state_->mutex);
  return state_->warning;
}

std::optional<std::string> ReportCache::find(const std::string& key) {
  std::string bytes;
  {
    const std::lock_guard lock(state_->mutex);
    if (!state_->database) return {};
    const Statement statement = state_->prepare("SELECT value FROM reports WHERE key = ?1");
    if (!statement) return {};
    sqlite3_bind_text(statement.get(), 1, key.data(), static_cast<int>(key.size()), SQLITE_STATIC);
    const int code = sqlite3_step(statement.get());
    if (code != SQLITE_ROW && code != SQLITE_DONE) state_->give_up(code);
    if (code != SQLITE_ROW) return {};
    const void* blob = sqlite3_column_blob(statement.get(), 0);
    const int length = sqlite3_column_bytes(statement.get(), 0);
    if (blob != nullptr) bytes.assign(static_cast<const char*>(blob), static_cast<std::size_t>(length));
    state_->used.push_back(key);
  }
  auto text = unpacked(bytes);
  if (text && text->starts_with(key)) return text->substr(key.size());
  const std::lock_guard lock(state_->mutex);
  state_->give_up(SQLITE_CORRUPT);
  return {};
}

void ReportCache::keep(const std::string& key, const std::string& value) {
  State& state = *state_;
  const auto may_write = [&state] {
    const std::lock_guard lock(state.mutex);
    return state.database && state.writes;
  };
  if (key.size() + value.size() > most_value_bytes || !may_write()) return;
  const std::string bytes = packed(key + value);
  const std::lock_guard lock(state.mutex);
  if (!state.database || !state.writes || bytes.empty() || bytes.size() > state.most_bytes) return;
  state.write([&] {
    const Statement statement = state.prepare("INSERT OR REPLACE INTO reports VALUES(?1, ?2, ?3)");
    if (statement && state.run_with(statement, key, &bytes) && state.held() > state.most_bytes) state.make_room();
  });
}

fs::path user_cache() {
  return user_folder("XDG_CACHE_HOME", ".cache");
}

}  // namespace hairline
