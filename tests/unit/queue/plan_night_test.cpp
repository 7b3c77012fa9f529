// Plans by hand calculation. Clock changes: IANA time zone database; in Europe directive 2000/84/EC (the last Sundays
// of March and October, at 01:00 UTC): 2027-03-28 and 2027-10-31.
#include <catch2/catch.hpp>

#include "plan_support.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

const QueueTimes any_time;

NightPlan planned(const std::vector<QueuePrinter>& printers, const std::vector<QueueEntry>& entries,
                  const QueueTimes& times = any_time) {
  auto plan = plan_night(times, printers, entries);
  REQUIRE(plan);
  return std::move(*plan);
}

// The jobs of one printer, in order.
std::vector<std::uint32_t> jobs_on(const NightPlan& plan, std::uint32_t number) {
  std::vector<std::uint32_t> jobs;
  for (const PlannedPrint& print : plan.prints)
    if (print.printer == number) jobs.push_back(print.job);
  return jobs;
}

const PlannedPrint& print_of(const NightPlan& plan, std::uint32_t job, std::uint32_t copy = 1) {
  for (const PlannedPrint& print : plan.prints)
    if (print.job == job && print.copy == copy) return print;
  FAIL("job " << job << " is not planned");
  return plan.prints.front();
}

void check_left(const NotPlanned& left, std::uint32_t job, LeftOut why, double needed = 0, double available = 0) {
  INFO("job " << job);
  CHECK(left.job == job);
  CHECK(left.why == why);
  CHECK(left.needed == Approx(needed));
  CHECK(left.available == Approx(available));
}

using Jobs = std::vector<std::uint32_t>;

}  // namespace

TEST_CASE("a night of three printers, as planned by hand") {
  std::vector<QueuePrinter> printers{printer("quay bench"), printer("slipway bench"), printer("model loft")};
  printers[0].resin_ml = 480;
  printers[0].plate_mm = {{143, 89}};
  printers[0].changeover_min = 20;
  printers[1].resin_ml = 100;
  printers[1].changeover_min = 15;
  QueueRow hull = row(hour_s, 10);
  hull.size_mm = {150, 80};
  const std::vector<QueueEntry> jobs{
      entry(row(4 * hour_s, 60, {0})),       entry(row(3 * hour_s, 40, {1})),  // 0, 1
      entry(row(2 * hour_s, 30, {0, 1, 2})), entry(row(hour_s, 5, {0, 1, 2})),
      entry(row(3 * hour_s, 50, {1})),       entry(row(hour_s, 20, {1})),  // 4, 5: the resin ends
      entry(row(2 * hour_s, 5, {1})),        entry(row(5.5 * hour_s, 80, {0})),
      on_hold(row(hour_s, 10, {0})),         entry(hull),  // 8, 9
      entry(row(6 * hour_s, 90, {0, 1, 2})), not_checked({2})};
  const NightPlan plan = planned(printers, jobs, night("2026-11-26T22:00", "2026-11-27T07:30"));

  CHECK(jobs_on(plan, 0) == Jobs{0, 7});
  CHECK(jobs_on(plan, 1) == Jobs{1, 4, 6});
  CHECK(jobs_on(plan, 2) == Jobs{2, 3, 10});
  CHECK(print_of(plan, 7).start_s == (4 * 60 + 20) * minute_s);
  CHECK(print_of(plan, 7).end_s == (9 * 60 + 50) * minute_s);
  CHECK(print_of(plan, 4).start_s == (3 * 60 + 15) * minute_s);
  CHECK(print_of(plan, 6).start_s == (6 * 60 + 30) * minute_s);
  CHECK(print_of(plan, 6).end_s == (8 * 60 + 30) * minute_s);
  CHECK(print_of(plan, 10).start_s == 3 * hour_s);
  CHECK(print_of(plan, 10).end_s == 9 * hour_s);

  CHECK(print_of(plan, 7).resin_left_ml == 340.0);
  CHECK(print_of(plan, 4).resin_left_ml == 10.0);
  CHECK(print_of(plan, 6).resin_left_ml == 5.0);
  CHECK_FALSE(print_of(plan, 10).resin_left_ml);

  REQUIRE(plan.not_planned.size() == 4);
  check_left(plan.not_planned[0], 5, LeftOut::no_resin, 20, 10);
  check_left(plan.not_planned[1], 8, LeftOut::hold);
  check_left(plan.not_planned[2], 9, LeftOut::too_large, 150, 143);
  check_left(plan.not_planned[3], 11, LeftOut::not_checked);

  CHECK(plan.allowed_s == 9.5 * hour_s);
  for (const PlannedPrint& print : plan.prints) CHECK(print.late == (print.job == 7));
  CHECK(plan.duration_s == (9 * 60 + 50) * minute_s);
  CHECK(to_string(plan.latest_start.value()) == "2026-11-26T21:40");
}

TEST_CASE("on the night of the spring change an hour is missing, on that of the autumn change one is won") {
  struct Night {
    const char *start, *ready_by;
    double allowed_h, print_h;
    const char *ends, *latest_start;
  };
  for (const Night& n :
       {Night{"2027-03-27T22:00", "2027-03-28T07:30", 8.5, 8, "2027-03-28T07:00", "2027-03-27T22:30"},
        Night{"2027-03-27T22:00", "2027-03-28T07:30", 8.5, 9, "2027-03-28T08:00", "2027-03-27T21:30"},
        Night{"2027-10-30T22:00", "2027-10-31T07:30", 10.5, 10, "2027-10-31T07:00", "2027-10-30T22:30"},
        Night{"2027-10-30T22:00", "2027-10-31T07:30", 10.5, 6, "2027-10-31T03:00", "2027-10-31T02:30"},
        Night{"2027-01-10T22:00", "2027-01-11T07:30", 9.5, 9, "2027-01-11T07:00", "2027-01-10T22:30"}}) {
    INFO(n.start << ", " << n.print_h << " h");
    const QueueTimes times = night(n.start, n.ready_by);
    const NightPlan plan = planned({printer("quay bench")}, {entry(row(n.print_h * hour_s, 10))}, times);
    CHECK(plan.allowed_s == n.allowed_h * hour_s);
    CHECK(plan.prints.at(0).late == (n.print_h > n.allowed_h));
    const Instant end = instant_of(*times.start, times.zone).value() +
                        std::chrono::seconds(static_cast<std::int64_t>(plan.prints.at(0).end_s));
    CHECK(to_string(local_of(end, times.zone).value()) == n.ends);
    CHECK(to_string(plan.latest_start.value()) == n.latest_start);
  }
}

TEST_CASE("a latest start in the hour that clocks show twice is safe when read as the first") {
  // 5 h before 07:30 is 02:30 winter time, shown second.
  const QueueTimes times = night("", "2027-10-31T07:30");
  const NightPlan plan = planned({printer("quay bench")}, {entry(row(5 * hour_s, 10))}, times);
  CHECK(to_string(plan.latest_start.value()) == "2027-10-31T02:30");
  CHECK(instant_of(*plan.latest_start, times.zone).value() + std::chrono::hours(5) <=
        instant_of(*times.ready_by, times.zone).value());
  CHECK_FALSE(plan.allowed_s);
}

TEST_CASE("a latest start is a whole minute, and what ends on the minute is in time") {
  const QueueTimes times = night("2026-11-26T22:00", "2026-11-27T00:00");
  CHECK(to_string(planned({printer("a")}, {entry(row(hour_s + 1, 1))}, times).latest_start.value()) ==
        "2026-11-26T22:59");
  const NightPlan exact = planned({printer("a")}, {entry(row(2 * hour_s, 1))}, times);
  CHECK_FALSE(exact.prints.at(0).late);
  CHECK(exact.latest_start == times.start);
  CHECK(planned({printer("a")}, {entry(row(2 * hour_s + 1, 1))}, times).prints.at(0).late);
  const NightPlan nothing = planned({printer("a")}, {}, times);
  CHECK(nothing.latest_start == times.ready_by);
  CHECK(nothing.duration_s == 0);
  CHECK_FALSE(planned({printer("a")}, {entry(row(hour_s, 1))}).latest_start);
}

TEST_CASE("an unknown zone is a failure where a time is stated") {
  for (const auto& times : {night("2026-11-26T22:00", "", "Europe/Harbour"), night("", "2026-11-26T22:00", "")}) {
    const auto plan = plan_night(times, {printer("a")}, {entry(row(hour_s, 1))});
    REQUIRE_FALSE(plan);
    CHECK(plan.error().kind == ErrorKind::invalid);
  }
  CHECK(plan_night(night("", "", "Europe/Harbour"), {printer("a")}, {}));
}

TEST_CASE("resin that runs out in the third job leaves it out; a smaller one later still goes") {
  QueuePrinter bench = printer("quay bench");
  bench.resin_ml = 100;
  const NightPlan plan = planned(
      {bench}, {entry(row(hour_s, 40)), entry(row(hour_s, 40)), entry(row(hour_s, 40)), entry(row(hour_s, 20))});
  CHECK(jobs_on(plan, 0) == Jobs{0, 1, 3});
  REQUIRE(plan.not_planned.size() == 1);
  check_left(plan.not_planned[0], 2, LeftOut::no_resin, 40, 20);
  CHECK(plan.not_planned[0].printer == 0u);
  CHECK(print_of(plan, 3).resin_left_ml == 0.0);
}

TEST_CASE("copies are prints of their own, each on the printer where it ends first") {
  std::vector<QueuePrinter> two{printer("quay bench"), printer("slipway bench")};
  two[0].resin_ml = 20;
  two[1].resin_ml = 10;
  const NightPlan plan = planned(two, {entry(row(hour_s, 10, {0, 1}), 5)});
  REQUIRE(plan.prints.size() == 3);
  CHECK(print_of(plan, 0, 1).printer == 0);
  CHECK(print_of(plan, 0, 2).printer == 1);
  CHECK(print_of(plan, 0, 3).printer == 0);
  CHECK(print_of(plan, 0, 3).start_s == hour_s);
  REQUIRE(plan.not_planned.size() == 1);
  check_left(plan.not_planned[0], 0, LeftOut::no_resin, 10, 0);
  CHECK(plan.not_planned[0].copies == 2);
  CHECK(planned(two, {on_hold(row(hour_s, 10))}).not_planned.at(0).copies == 1);
  // Of two printers with too little the one that lacks less is named.
  std::swap(two[0], two[1]);
  const NightPlan none = planned(two, {entry(row(hour_s, 50, {0, 1}))});
  check_left(none.not_planned.at(0), 0, LeftOut::no_resin, 50, 20);
  CHECK(none.not_planned.at(0).printer == 1u);
}

TEST_CASE("on a printer those of one resin follow one another") {
  QueuePrinter bench = printer("quay bench");
  bench.changeover_min = 30;
  const NightPlan plan =
      planned({bench}, {of_resin("grey"), of_resin("clear"), of_resin("grey"), of_resin("clear"), of_resin("grey")});
  CHECK(jobs_on(plan, 0) == Jobs{0, 2, 4, 1, 3});
  for (const PlannedPrint& print : plan.prints) CHECK(print.resin_change == (print.job == 1));
  CHECK(print_of(plan, 1).start_s == 4.5 * hour_s);
}

TEST_CASE("a print of no known resin has that of the one before it") {
  const NightPlan first =
      planned({printer("a")}, {of_resin(""), of_resin("grey"), of_resin("clear"), of_resin("grey")});
  CHECK(jobs_on(first, 0) == Jobs{0, 1, 3, 2});
  for (const PlannedPrint& print : first.prints) CHECK(print.resin_change == (print.job == 2));
  const NightPlan between =
      planned({printer("a")}, {of_resin("grey"), of_resin("clear"), of_resin(""), of_resin("grey")});
  CHECK(jobs_on(between, 0) == Jobs{0, 3, 1, 2});
  const NightPlan none = planned({printer("a")}, {of_resin(""), of_resin("")});
  CHECK(jobs_on(none, 0) == Jobs{0, 1});
  for (const PlannedPrint& print : none.prints) CHECK_FALSE(print.resin_change);
}

TEST_CASE("a job without a printer ends first, of equal ones the first; resins already loaded count") {
  const std::vector<QueuePrinter> two{printer("quay bench"), printer("slipway bench")};
  CHECK(print_of(planned(two, {entry(row(hour_s, 1, {0, 1}))}), 0).printer == 0);
  CHECK(print_of(planned(two, {entry(row(hour_s, 1, {0})), entry(row(hour_s, 1, {0, 1}))}), 1).printer == 1);
  // Printed behind its own resin, before the long one of another, it ends after two hours and not after five.
  QueueEntry grey = of_resin("grey");
  grey.rows[0].printers = {0, 1};
  std::vector<QueueEntry> jobs{of_resin("grey"), of_resin("clear", 3 * hour_s), of_resin("clear", 2 * hour_s), grey};
  jobs[2].rows[0].printers = {1};
  const NightPlan plan = planned(two, jobs);
  CHECK(print_of(plan, 3).printer == 0);
  CHECK(print_of(plan, 3).end_s == 2 * hour_s);
}

TEST_CASE("a job held against several records goes where its row allows it") {
  const std::vector<QueuePrinter> three{printer("a"), printer("b"), printer("c")};
  QueueEntry job = not_checked({0});
  job.rows.push_back(row(hour_s, 1, {1}));
  job.rows.back().verdict = Verdict::hold;
  job.rows.push_back(row(2 * hour_s, 1, {2}));
  const NightPlan plan = planned(three, {job});
  CHECK(print_of(plan, 0).printer == 2);
  CHECK(print_of(plan, 0).row == 2);
  job.rows[2].verdict = Verdict::hold;
  job.rows[2].size_mm = {1000, 60};
  std::vector<QueuePrinter> small = three;
  small[2].plate_mm = {{143, 89}};
  const NightPlan none = planned(small, {job});  // nearest: b, where only the verdict is in the way
  check_left(none.not_planned.at(0), 0, LeftOut::hold);
  CHECK(none.not_planned.at(0).printer == 1u);
  CHECK(none.not_planned.at(0).row == 1);
}

TEST_CASE("masks may reach a millimetre over the plate, and no more") {
  QueuePrinter bench = printer("quay bench");
  bench.plate_mm = {{143, 89}};
  QueueRow job = row(hour_s, 1);
  job.size_mm = {144, 90};
  CHECK(planned({bench}, {entry(job)}).prints.size() == 1);
  job.size_mm = {89, 143};  // masks are not turned
  const NightPlan plan = planned({bench}, {entry(job)});
  CHECK(plan.prints.empty());
  check_left(plan.not_planned.at(0), 0, LeftOut::too_large, 143, 89);
}

TEST_CASE("a record of other pixels means another printer, where printers are named") {
  QueueRow job = row(hour_s, 1);
  job.pitch = {0.05, 0.05};
  job.record.pitch_mm = 0.0505;
  CHECK(planned({printer("quay bench")}, {entry(job)}).prints.size() == 1);
  job.record.pitch_mm = 0.035;
  const NightPlan plan = planned({printer("quay bench")}, {entry(job)});
  check_left(plan.not_planned.at(0), 0, LeftOut::other_pixels, 0.05, 0.035);
  CHECK(planned({printer("")}, {entry(job)}).prints.size() == 1);
  job.pitch = {0.035, 0.05};
  check_left(planned({printer("quay bench")}, {entry(job)}).not_planned.at(0), 0, LeftOut::other_pixels, 0.05, 0.035);
}

TEST_CASE("more than the vat holds is planned and marked") {
  QueuePrinter bench = printer("quay bench");
  bench.vat_ml = 250;
  const NightPlan plan = planned({bench}, {entry(row(hour_s, 250)), entry(row(hour_s, 251))});
  CHECK_FALSE(print_of(plan, 0).over_vat);
  CHECK(print_of(plan, 1).over_vat);
}

TEST_CASE("a job that no printer fits is named") {
  const NightPlan plan = planned({printer("a")}, {entry(row(hour_s, 1, {}), 3)});
  check_left(plan.not_planned.at(0), 0, LeftOut::no_such_printer);
  CHECK(plan.not_planned.at(0).copies == 3);
  CHECK_FALSE(plan.not_planned.at(0).printer);
}

TEST_CASE("5000 jobs keep their order") {
  std::vector<QueueEntry> jobs(5000, entry(row(10, 1)));
  const NightPlan plan = planned({printer("a")}, jobs);
  REQUIRE(plan.prints.size() == jobs.size());
  for (std::uint32_t i = 0; i < jobs.size(); ++i) CHECK(plan.prints[i].job == i);
  CHECK(plan.duration_s == 50000);
}
