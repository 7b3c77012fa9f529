// Times of the rows: multiples of 0.05 s about 5 % apart, at most thirteen, ends and the job's own time among them
// (docs/verdicts.md, "The time to set").
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "support.hpp"

using namespace hairline;

namespace {

CureModel covering(double from_s, double to_s) {
  CureModel m = plan_test::model();
  m.valid_from_s = from_s, m.valid_to_s = to_s;
  return m;
}
bool among(const std::vector<double>& times, double t) {
  return std::any_of(times.begin(), times.end(), [&](double one) { return std::abs(one - t) < 1e-9; });
}

struct Covered {
  double from_s, to_s;
};

}  // namespace

TEST_CASE("rows: ends, the job's own time, and multiples of 0.05 s between, for many ranges and times") {
  for (const Covered span : {Covered{1.8, 3.2}, Covered{1.83, 3.17}, Covered{2.449, 2.55}, Covered{0.3, 40},
                             Covered{2, 2.01}, Covered{1, 5}, Covered{0.2, 0.6}, Covered{10, 14}, Covered{2.5, 2.5}}) {
    for (const double job_s : {0.1, 0.55, 1.8, 1.81, 1.826, 2.0, 2.3, 2.349, 2.5, 3.2, 3.25, 12.0, 60.0}) {
      CAPTURE(span.from_s, span.to_s, job_s);
      const RowTimes rows = row_times({}, covering(span.from_s, span.to_s), job_s);
      CHECK(rows.times_s.size() <= 13);
      CHECK(among(rows.times_s, span.from_s));
      CHECK(among(rows.times_s, span.to_s));
      CHECK(std::count(rows.times_s.begin(), rows.times_s.end(), job_s) == 1);  // digit for digit
      for (std::size_t i = 1; i < rows.times_s.size(); ++i) CHECK(rows.times_s[i] - rows.times_s[i - 1] > 1e-9);
      for (const double t : rows.times_s) {
        const bool given = t == job_s || std::abs(t - span.from_s) < 1e-9 || std::abs(t - span.to_s) < 1e-9;
        CHECK((given || std::abs(20 * t - std::round(20 * t)) < 1e-9));
        CHECK((given || (t > span.from_s && t < span.to_s)));
      }
    }
  }
}

TEST_CASE("rows: a check at any of them has the same rows beside it") {
  for (const Covered span : {Covered{1.8, 3.2}, Covered{1.83, 3.17}, Covered{1, 5}}) {
    const CureModel model = covering(span.from_s, span.to_s);
    const std::vector<double> rows = row_times({}, model, span.from_s).times_s;
    for (const double at_s : rows) CHECK(row_times({}, model, at_s).times_s == rows);
    const std::vector<double> others = row_times({}, model, 2.333).times_s;
    CHECK(others.size() == rows.size() + 1);
    CHECK(std::includes(others.begin(), others.end(), rows.begin(), rows.end()));
  }
}

TEST_CASE("rows: about 5 % apart where that fits, coarser and said so where it does not") {
  for (const double job_s : {1.8, 1.82, 2.0, 2.2, 2.5, 3.1, 3.2}) {
    const RowTimes rows = row_times({}, plan_test::model(), job_s);
    CAPTURE(job_s);
    CHECK_FALSE(rows.coarse);
    // A multiple of 0.05 s may lie 0.025 s beside the place where it is wanted.
    for (std::size_t i = 1; i < rows.times_s.size(); ++i) CHECK(rows.times_s[i] / rows.times_s[i - 1] < 1.085);
    CHECK(rows.times_s.size() >= 10);
  }
  CHECK(row_times({}, covering(1, 5), 2.5).coarse);
  CHECK(row_times({}, covering(1, 5), 2.5).times_s.size() >= 11);
  // Short times: the multiples themselves are wider apart, which is no fault of the range.
  const RowTimes brief = row_times({}, covering(0.5, 0.8), 0.6);
  CHECK_FALSE(brief.coarse);
  CHECK(brief.times_s.size() == 7);  // 0.50, 0.55 ... 0.80
}

TEST_CASE("rows: the steps of a sweep are equal, and the job's own time is one more") {
  const RowTimes inside = row_times({2, 3, 5}, plan_test::model(), 2.6);
  CHECK(inside.times_s == std::vector<double>{2, 2.25, 2.5, 2.6, 2.75, 3});
  const RowTimes same = row_times({2, 3, 5}, plan_test::model(), 2.5);
  CHECK(same.times_s == std::vector<double>{2, 2.25, 2.5, 2.75, 3});
  const RowTimes outside = row_times({2, 3, 3}, plan_test::model(), 1.5);
  CHECK(outside.times_s == std::vector<double>{1.5, 2, 2.5, 3});
  CHECK_FALSE(outside.coarse);
  const RowTimes ends_of_record = row_times({0, 0, 3}, plan_test::model(), 2.5);
  CHECK(ends_of_record.times_s == std::vector<double>{1.8, 2.5, 3.2});
}
