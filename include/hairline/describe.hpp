/// A draft of an archive description (formats/archive-description.md): every number in the texts of a foreign archive
/// whose key sounds like a setting, with its likely unit, and how sure that is.
#pragma once
#include "hairline/archive.hpp"

namespace hairline {

/// How sure a line of a draft is. `sure`: name and unit say it, or the masks agree; `likely`: the unit follows from the
/// value; `unsure`: a person should look.
enum class Sureness : std::uint8_t { sure, likely, unsure };

struct DraftSetting {
  SettingSource source;
  std::string found;  ///< as it stands in the archive ("2500 ms"); empty where it is asked for
  std::string value;  ///< in the setting's unit ("2.5"); empty where it is asked for
  std::string unit;   ///< recognised ("ms"); empty: none
  Sureness sureness = Sureness::sure;
  std::string why;  ///< as a clause
};

/// A number whose key sounds like the trade, but which is no setting of a job.
struct UnusedNumber {
  std::string entry, key, found, why;
};

struct DraftMasks {
  std::string files;  ///< with one star
  std::size_t count = 0;
  Size size;                               ///< of a mask, as stored
  std::vector<std::string> left_out;       ///< names of the other pictures
  std::string rival = {};                  ///< others that may be the masks, or layers too: asked; empty: none
  bool inverted = false;                   ///< they look it: asked, never assumed
  std::optional<std::uint32_t> subpixels;  ///< proposed, where channels differ or a key says so
  bool subpixels_sure = true;              ///< else red, green and blue differ, and nothing else is known
};

struct Draft {
  ArchiveDescription description;
  std::vector<DraftSetting> settings;  ///< in the order of setting_fields(); those to be asked for too
  std::vector<UnusedNumber> unused;    ///< in the order of the archive
  DraftMasks masks;
  std::vector<std::string> notes;  ///< what a person should know of the draft, as sentences
};

/// "a/*.png or b/*.png"; empty where one family of pictures can be the masks.
std::string masks_to_choose(const Draft& draft);

/// The masks look inverted, and nothing says whether they are.
bool asks_invert(const Draft& draft);

/// Walks all texts of an archive (JSON, XML, "key = value", plain lines) within `limits`; a text that is larger than a
/// manifest may be is named in the notes. Same archive, same draft. Fails as Archive::open does on a file that is no
/// archive or holds no masks, and with usage where it is a layer archive of our own.
Result<Draft> draft_description(const std::filesystem::path& path, const Limits& limits = {});

/// Puts a value in place of what the draft says of a path ("masks.invert" too), as a constant. Fails with usage where
/// there is no such path or the value does not fit it.
Result<void> answer(Draft& draft, const SettingValue& value);

}  // namespace hairline
