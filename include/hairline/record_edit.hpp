/// A folder of records, and the making and editing of one.
#pragma once
#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "hairline/fit.hpp"
#include "hairline/progress.hpp"
#include "hairline/record.hpp"
#include "hairline/result.hpp"

namespace hairline {

/// One record file of a folder. `problem` is set where it cannot be read; `record` is then empty.
struct FoundRecord {
  std::string file;
  ResinRecord record;
  std::optional<Error> problem;
};

/// Every *.json file of a folder (not of its sub-folders) that is a resin record or tries to be one, in natural name
/// order; JSON files of other formats are passed over. Fails with not_found, unreadable.
Result<std::vector<FoundRecord>> find_records(const std::filesystem::path& folder);

/// The record to use of those `found` in `folder`. `asked` is a file's name or a resin label (case and surrounding
/// spaces do not matter); empty: the one whose resin and printer are the job's. A label the job or a record leaves
/// empty matches anything, but a record that matches by name goes before one that only leaves its name out. Of several
/// of one resin on one printer it is the newest that has a fit (by `made_on`; undated ones are the oldest), and its
/// remarks name the others. Fails with the problem of the record asked for, or with not_found / mismatch (several that
/// are not of one resin and printer, or equally new) and a list of what the folder holds.
Result<ResinRecord> pick_record(const std::string& asked, const std::filesystem::path& folder,
                                const std::vector<FoundRecord>& found, const std::string& resin_label,
                                const std::string& printer_label);

/// Where it is noted when records were last used: hairline/records-used in the user's state folder ($XDG_STATE_HOME,
/// else
/// ~/.local/state); empty when neither is known. Lines of date, tab and path; a later line of a path counts.
std::filesystem::path user_uses();
/// Notes in the file `uses` that a job was held against `record` on `today` (YYYY-MM-DD), once a day. A line is added
/// in one write, so several runs may do it at once. Where that cannot be done nothing is noted: it is no reason to
/// fail.
void note_use(const std::filesystem::path& uses, const std::filesystem::path& record, const std::string& today);
/// The date of last use of each record, by its full path without links.
using LastUses = std::map<std::string, std::string>;
LastUses read_uses(const std::filesystem::path& uses);
/// That of one record; empty when no use of it is known.
std::string last_use(const LastUses& uses, const std::filesystem::path& record);

/// The file name of a record by its resin's label: "Harbour grey" gives "harbour-grey.json"; "record.json" where the
/// label holds no letters or digits of ASCII.
std::string record_file_name(const std::string& label);

/// A record without readings. Facts are checked like those of a file; `today` (YYYY-MM-DD) becomes conditions.date
/// where the facts give none. Fails with invalid.
Result<ResinRecord> new_record(const ResinRecord& facts, const std::string& today);

/// A record as it was written, and whether a lock kept other runs away meanwhile.
struct EditedRecord {
  ResinRecord record;
  bool guarded = true;
};
/// Reads a record, lets `change` change it, and writes it where that says true; all of it while FILE.lock beside it is
/// held, so that nothing another run writes is lost. Another run is waited for up to 10 s. Fails as read_record,
/// `change` and save_record do, with unwritable where the lock cannot be had, and cancelled.
Result<EditedRecord> edit_record(const std::filesystem::path& path,
                                 const std::function<Result<bool>(ResinRecord& record)>& change,
                                 const Progress* progress = nullptr);

/// Writes a new record under the same lock, so that of several runs that make it one does. Fails as edit_record does,
/// and with usage where the file exists and shall not be replaced.
Result<EditedRecord> add_record(ResinRecord record, const std::filesystem::path& path, bool replace = false,
                                const Progress* progress = nullptr);

enum class Added : std::uint8_t {
  added,          ///< a new entry (also a second coupon printed at a time that was read before and agrees)
  merged,         ///< completed an entry of the same exposure that lacked these sizes
  replaced,       ///< put in the place of an entry, which is kept under readings.superseded
  already_there,  ///< the same reading is in the record; nothing changed
};
enum class IfThere : std::uint8_t {
  keep,    ///< refuse a reading that contradicts one of the same exposure
  replace  ///< replace the reading of the same exposure
};

using AnyReading = std::variant<BracketReading, CureDepthReading, BaseReading>;

/// Adds one reading. On failure (out of range; contradicts another reading or the physics: both are named) the record
/// is unchanged. With IfThere::replace an entry of the same exposure (same base time and layers) that says something
/// else is copied to `superseded`; what the new reading does not say anew of that coupon stays.
Result<Added> add_reading(ResinRecord& record, const AnyReading& reading, const std::string& today,
                          IfThere if_there = IfThere::keep, const FitSettings& settings = {});

/// What a record holds of the coupon of a reading and this does not say anew, by options: "--slot 0.11, --look crisp".
std::string kept_beside(const ResinRecord& record, const BracketReading& reading);

/// Readings as CSV: a header line with field names of formats/resin-record.md, then one reading a line. A line with
/// `base_s` is a base reading, one with `depth_mm` a cure depth, any other a bracket reading. Comma, semicolon (then a
/// decimal comma is understood) or tab; `#` starts a comment line; empty cells are unread. Fails with invalid, naming
/// line and column.
Result<std::vector<AnyReading>> parse_readings_csv(const std::string& text, const std::string& file);

/// All of them or none: on failure the record is unchanged. Returns how many changed the record.
Result<std::uint32_t> add_readings(ResinRecord& record, const std::vector<AnyReading>& readings,
                                   const std::string& today, IfThere if_there = IfThere::keep,
                                   const FitSettings& settings = {});

/// Takes what was read at one exposure, s, out of bracket and cure depths; it stays under `superseded`. How many
/// entries: 0 where nothing was read at it.
std::uint32_t take_back(ResinRecord& record, double exposure_s, const std::string& today);

/// What came of readings that were added to a file.
struct TakenReadings {
  EditedRecord edited;
  std::uint32_t changed = 0;      ///< how many changed the record
  std::vector<std::string> kept;  ///< what it keeps beside what was replaced, as sentences
};
/// Adds all of them or none to the record in a file. Fails as edit_record and add_readings do.
Result<TakenReadings> take_readings(const std::filesystem::path& path, const std::vector<AnyReading>& readings,
                                    const std::string& today, IfThere if_there, const Progress* progress = nullptr);

}  // namespace hairline
