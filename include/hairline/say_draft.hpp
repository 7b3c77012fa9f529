/// A draft of an archive description for a person: what `describe` prints.
#pragma once
#include <string>

#include "hairline/describe.hpp"
#include "hairline/document.hpp"

namespace hairline {

/// Each setting with its value, how sure it is and where it is from; why it is not sure; numbers that were not used.
Document say_draft(const Draft& draft, const std::string& archive);
/// "sure", "likely", "unsure"; "ask" where nothing says it.
const char* sureness_word(const DraftSetting& setting);
/// What the archive is when it is read by the draft, or what is still missing.
Document say_trial(const Result<Archive>& tried);
/// How it goes on: the calls that keep the draft (empty: it is kept) and that check by it, each on a line as typed.
/// `own_numbers`: what stands in the check's call is an example.
Document say_next_calls(const std::string& keep, const std::string& check, bool own_numbers);

}  // namespace hairline
