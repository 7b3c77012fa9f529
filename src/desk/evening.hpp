/// The evening step by step, from a bottle to the time to use; where it stopped is seen by the files.
#pragma once
#include "json.hpp"
#include "shared.hpp"

namespace hairline::desk {

/// The folder of a record's coupons in desk/coupons. Fails with unwritable.
Result<std::filesystem::path> coupons_of(const Folder& folder, const std::filesystem::path& record);
/// "facts", "times", "readings", "fit" or "done".
const char* evening_step(const ResinRecord& record, const std::filesystem::path& coupons);
/// Its fields, coupons and readings as they are known, and what is to be done next.
Json evening_of(const ResinRecord& record, const std::filesystem::path& coupons);

void add_evening_routes(Routes& routes, Shared& shared);

}  // namespace hairline::desk
