// The records of the folder, one record's page, its fit, and what came out of its prints.
#include "evening.hpp"
#include "fragment.hpp"
#include "hairline/page.hpp"
#include "hairline/say_record.hpp"
#include "history.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

const char* soundness(const ResinRecord& record) {
  return !record.fit ? "none" : weakness(record).empty() ? "sound" : "weak";
}

Json row_of_record(const FoundRecord& found, const LastUses& uses, const std::string& today) {
  const std::string file = fs::path(found.file).filename().string();
  if (found.problem) return {{"file", file}, {"problem", to_paragraph(*found.problem)}};
  const ResinRecord& record = found.record;
  const auto use = time_to_use(record);
  return {{"file", file},
          {"resin", record.resin.label},
          {"printer", record.printer.label},
          {"age_days", or_null(age_days(record, today))},
          {"fit", soundness(record)},
          {"use_s", use ? Json(use->exposure_s) : Json()},
          {"used", last_use(uses, found.file)}};
}

Answer list(Shared& shared) {
  const auto found = shared.folder.records();
  if (!found) return refusal(found.error());
  const LastUses uses = read_uses(user_uses());
  Json rows = Json::array();
  for (const FoundRecord& one : *found) rows.push_back(row_of_record(one, uses, shared.today()));
  return json_answer({{"records", rows}});
}

Result<ResinRecord> record_in(Shared& shared, const Call& call) {
  const auto path = shared.folder.record(call.names[0]);
  return path ? read_record(*path) : tl::unexpected(path.error());
}

Answer one(Shared& shared, const Call& call) {
  const auto record = record_in(shared, call);
  const auto found = outcomes_in(shared.folder);
  const auto coupons = record ? coupons_of(shared.folder, record->file) : tl::unexpected(record.error());
  if (!coupons) return refusal(coupons.error());
  if (!found) return refusal(found.error());
  const OutcomeSummary outcomes = weigh_outcomes(*record, sound_ones(*found));
  const auto next = next_prints(*record);
  Json prints = Json::array();
  for (const FoundOutcome& print : *found)
    if (print.problem || print.outcome.record.file == call.names[0]) prints.push_back(row_of(print));
  Json answer = row_of_record({record->file, *record, {}}, read_uses(user_uses()), shared.today());
  answer["weakness"] = without_commands(weakness(*record));
  answer["step"] = evening_step(*record, *coupons);
  answer["next"] = next ? fragment_of(say_next_prints(*record, *next)) : "";
  answer["outcomes"] = fragment_of(say_outcomes(outcomes));
  answer["new_coupon"] = outcomes.new_coupon != NewCoupon::no;
  answer["coupon_s"] = or_null(outcomes.coupon_s);
  answer["prints"] = prints;
  return json_answer(answer);
}

Answer page(Shared& shared, const Call& call) {
  const auto record = record_in(shared, call);
  if (!record) return refusal(record.error());
  return {.type = "text/html; charset=utf-8", .body = show_record_html(*record, shared.today())};
}

Answer fit(Shared& shared, const Call& call) {
  const auto path = shared.folder.record(call.names[0]);
  if (!path) return refusal(path.error());
  FitReport fitted;
  FitSettings settings;
  settings.leave_out_odd = call.asked("leave_out") == "yes";
  const auto change = [&](ResinRecord& record) -> Result<bool> {
    auto found = fit_record(record, settings);
    if (!found) return tl::unexpected(found.error());
    apply_fit(record, *found, shared.today());
    fitted = std::move(*found);
    return true;
  };
  const auto edited = edit_record(*path, change);
  if (!edited) return refusal(edited.error());
  const auto coupons = coupons_of(shared.folder, *path);
  Json answer = coupons ? evening_of(edited->record, *coupons) : Json::object();
  answer["said"] = fragment_of(say_fit(edited->record, fitted));
  answer["odd"] = !fitted.odd.empty() && !fitted.left_out;
  return json_answer(answer);
}

}  // namespace

void add_record_routes(Routes& routes, Shared& shared) {
  add_evening_routes(routes, shared);
  routes.push_back({"GET", "/api/records", [&shared](const Call&) { return list(shared); }});
  routes.push_back({"GET", "/api/records/{}", with(shared, one)});
  routes.push_back({"GET", "/api/records/{}/page", with(shared, page)});
  routes.push_back({"POST", "/api/records/{}/fit", with(shared, fit)});
}

}  // namespace hairline::desk
