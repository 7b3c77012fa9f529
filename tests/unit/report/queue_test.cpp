// The queue: clock arithmetic by hand, sums over checked jobs only.
#include "hairline/queue.hpp"

#include <catch2/catch.hpp>
#include <sstream>

#include "report/lines.hpp"
#include "sample.hpp"

using namespace hairline;

namespace {

QueueRow job(const std::string& file, double duration_s, Verdict verdict = Verdict::clear) {
  Report report = sample::gallery();
  report.job.file = file;
  report.job.duration_s = duration_s;
  report.job.resin_ml = 10;
  report.job.resin_g = 11;
  report.job.resin_cost = std::nullopt;
  report.verdict = verdict;
  return queue_row(report);
}

QueueRow broken(const std::string& file) {
  return queue_row(file, Error{.kind = ErrorKind::broken,
                               .file = file,
                               .layer = {},
                               .found = "it is not a ZIP",
                               .expected = "a ZIP or a folder",
                               .advice = "Export it again."});
}

constexpr double hour_s = 3600;

}  // namespace

TEST_CASE("clock times are read and written") {
  CHECK(parse_clock("00:00").value() == 0);
  CHECK(parse_clock("7:30").value() == 450);
  CHECK(parse_clock("23:59").value() == 1439);
  CHECK(clock_text(450) == "07:30");
  for (const char* wrong : {"", ":", "24:00", "7", "7:3", "7:60", "a:bc", "-1:30", "07:30 ", "123:00", "7:3x"}) {
    INFO(wrong);
    REQUIRE_FALSE(parse_clock(wrong));
    CHECK(parse_clock(wrong).error().kind == ErrorKind::usage);
  }
}

TEST_CASE("sums leave out what was not checked") {
  const QueueTotals totals =
      add_up({job("a", hour_s, Verdict::hold), broken("b"), job("c", 2 * hour_s, Verdict::caution)}, {});
  CHECK(totals.checked == 2);
  CHECK(totals.not_checked == 1);
  CHECK(totals.hold == 1);
  CHECK(totals.caution == 1);
  CHECK(totals.clear == 0);
  CHECK(totals.duration_s == 3 * hour_s);
  CHECK(totals.resin_ml == 20);
  CHECK(totals.resin_g == 22);
  CHECK(totals.ends_after_s == std::vector<double>{hour_s, hour_s, 3 * hour_s});
  CHECK_FALSE(totals.late_s);
  CHECK_FALSE(totals.latest_start);
}

TEST_CASE("cost is added up where a price is known, and said nowhere else") {
  QueueRow dear = job("dear.zip", hour_s), cheap = job("cheap.zip", hour_s), unknown = job("unknown.zip", hour_s);
  dear.resin_cost = 1234.5;
  cheap.resin_cost = 0.004;
  unknown.resin_cost = std::nullopt;
  const QueueTotals some = add_up({dear, broken("b"), cheap, unknown}, {});
  CHECK(some.resin_cost.value() == Approx(1234.504));
  CHECK(some.without_price == 1);
  CHECK_FALSE(add_up({unknown}, {}).resin_cost);
  const auto said = [](const std::vector<QueueRow>& rows) { return show_terminal(say_queue(rows, {}), {}); };
  const std::string text = said({dear, broken("b"), cheap, unknown});
  CHECK(text.find("  10.0 ml   1234.50") != std::string::npos);
  CHECK(text.find("under 0.01") != std::string::npos);
  CHECK(text.find("cost 1234.50, without 1 job whose price is not known.") != std::string::npos);
  CHECK(said({dear, cheap}).find("without") == said({dear, cheap}).find("without the pauses"));
  CHECK(said({unknown, broken("b")}).find("cost") == std::string::npos);
}

TEST_CASE("ready by the morning: over midnight, in time and too late") {
  const std::vector<QueueRow> rows = {job("a", 8 * hour_s), job("b", 5 * hour_s)};
  const QueueTotals late = add_up(rows, {.start = 20 * 60, .ready_by = 7 * 60 + 30});  // 11.5 h allowed, 13 h needed
  CHECK(late.late_s.value() == Approx(1.5 * hour_s));
  CHECK(late.in_time == 1);
  CHECK(clock_text(late.latest_start.value()) == "18:30");
  CHECK(late.latest_start_days_before == 1);
  const QueueTotals ready = add_up(rows, {.start = 18 * 60, .ready_by = 7 * 60 + 30});
  CHECK(ready.late_s.value() == 0);
  CHECK(ready.in_time == 2);
  const QueueTotals same_day = add_up(rows, {.start = {}, .ready_by = 20 * 60});
  CHECK(clock_text(same_day.latest_start.value()) == "07:00");
  CHECK(same_day.latest_start_days_before == 0);
  CHECK(add_up({job("long", 60 * hour_s)}, {.start = {}, .ready_by = 12 * 60}).latest_start_days_before == 2);
}

TEST_CASE("a row names another time only where one is to be set, and the gravest reason") {
  const QueueRow set = queue_row(sample::gallery());
  CHECK(set.suggested_s.value() == 2.65);
  CHECK(set.exposure_s == 2.3);
  CHECK(set.first_reason == sample::gallery().reasons[0]);
  CHECK_FALSE(queue_row(sample::cottage()).suggested_s);
  CHECK(queue_row(sample::cottage()).first_reason.empty());
  CHECK_FALSE(queue_row(sample::under_bond()).suggested_s);
  CHECK_FALSE(queue_row(sample::measured_only()).suggested_s);
  const std::string text = show_terminal(say_queue({set, queue_row(sample::cottage())}, {}), {});
  CHECK(text.find("Set 2.65 s a layer instead of 2.30 s.") != std::string::npos);
  CHECK(text.find("2.50 s") == std::string::npos);
}

TEST_CASE("columns of the table do not run into each other") {
  QueueRow row = job("speck.zip", 113);
  row.resin_ml = 0.0004;
  CHECK(show_terminal(say_queue({row}, {}), {}).find(" 1 min 53 s  under 0.001 ml ") != std::string::npos);
}

TEST_CASE("the table names every job, its end, and the totals, within the width") {
  const std::vector<QueueRow> rows = {job("night/a.zip", 8 * hour_s, Verdict::hold), broken("night/b.zip"),
                                      job(std::string(200, 'c'), 5 * hour_s)};
  for (const std::uint32_t columns : {60u, 80u, 120u}) {
    const std::string text = show_terminal(say_queue(rows, {.start = 20 * 60, .ready_by = 450}),
                                           {.colour = false, .columns = columns, .details = 10});
    CHECK(text.find("night/a.zip") != std::string::npos);
    CHECK(text.find("BROKEN") != std::string::npos);
    CHECK(text.find("it is not a ZIP") != std::string::npos);
    CHECK(text.find("04:00 +1d") != std::string::npos);
    CHECK(text.find("2 jobs: 1 clear, 0 caution, 1 hold; 1 not checked") != std::string::npos);
    CHECK(text.find("Latest start to be ready by 07:30: 18:30 the day before.") != std::string::npos);
    std::istringstream stream(text);
    for (std::string line; std::getline(stream, line);) CHECK(width_of(line) <= columns);
  }
}
