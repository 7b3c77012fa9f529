#include "hairline/fit.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "evening.hpp"
#include "hairline/record_edit.hpp"

using namespace hairline;

namespace {

CureModel gallery_resin() {
  CureModel truth;
  truth.bond_time_s = 1.6;
  truth.fuse_time_s = 0.55;
  truth.blur_mm = 0.038;
  truth.penetration_depth_mm = 0.16;
  return truth;
}

// Readings without error at the given times.
ResinRecord exact(const CureModel& truth, const std::vector<double>& times) {
  ResinRecord record;
  record.printer.pitch_mm = 0.05;
  for (const double t : times) {
    BracketReading reading;
    reading.exposure_s = t;
    reading.thinnest_wall_mm = wall_limit_mm(truth, t);
    reading.narrowest_slot_mm = slot_limit_mm(truth, t);
    reading.narrowest_flat_slot_mm = flat_slot_limit_mm(truth, t);
    reading.reading_error_mm = 0.01;
    record.bracket.push_back(reading);
  }
  return record;
}

ResinRecord looks(const std::vector<std::pair<double, Look>>& list) {
  ResinRecord record;
  record.printer.pitch_mm = 0.05;
  for (const auto& [t, look] : list) {
    BracketReading reading;
    reading.exposure_s = t;
    reading.look = look;
    record.bracket.push_back(reading);
  }
  return record;
}

// A bracket as a person may read it (common practice, no source).
ResinRecord common_bracket() {
  return looks({{2.3, Look::under}, {2.4, Look::slightly_under}, {2.5, Look::crisp}, {2.6, Look::slightly_over}});
}

BracketReading wall_and_slot(double t, double wall, double slot) {
  BracketReading reading;
  reading.exposure_s = t;
  reading.thinnest_wall_mm = wall;
  reading.narrowest_slot_mm = slot;
  reading.reading_error_mm = 0.01;
  return reading;
}

}  // namespace

TEST_CASE("readings without error give back the resin they were made from") {
  const CureModel truth = gallery_resin();
  ResinRecord record = exact(truth, {1.8, 2.1, 2.5, 2.9, 3.4});
  for (auto& reading : record.bracket) reading.reading_error_mm = 0.002;
  const auto report = fit_record(record);
  REQUIRE(report);
  CHECK(report->converged);
  CHECK(report->undetermined.empty());
  CHECK_FALSE(report->weak);
  CHECK(report->model.bond_time_s == Approx(1.6).epsilon(0.005));
  CHECK(report->model.fuse_time_s == Approx(0.55).epsilon(0.01));
  CHECK(report->model.blur_mm == Approx(0.038).epsilon(0.005));
  CHECK(report->model.penetration_depth_mm == Approx(0.16).epsilon(0.01));
  CHECK(report->model.valid_from_s == Approx(1.8 / 1.1).epsilon(1e-5));
  CHECK(report->model.valid_to_s == Approx(3.4 * 1.1).epsilon(1e-5));
  CHECK(report->size_count == 15);
  CHECK(report->residuals.size() == 15);
}

TEST_CASE("the same readings give the same fit, in any order") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.2, 2.5, 3.0});
  const auto first = fit_record(record);
  std::reverse(record.bracket.begin(), record.bracket.end());
  const auto second = fit_record(record);
  REQUIRE(first);
  REQUIRE(second);
  CHECK(first->model.bond_time_s == Approx(second->model.bond_time_s).epsilon(2e-6));
  CHECK(first->model.fuse_time_s == Approx(second->model.fuse_time_s).epsilon(2e-6));
}

TEST_CASE("the covariance agrees with the profile likelihood") {
  // Least squares with normal errors and a nearly linear model: Hessian and profile must say the same; the profile is
  // walked here with the optimiser itself, one coordinate held fixed.
  const CureModel truth = gallery_resin();
  std::vector<std::pair<double, std::array<double, 3>>> readings;
  for (const double t : {1.9, 2.2, 2.6, 3.1, 3.7}) {
    readings.push_back({t, {wall_limit_mm(truth, t), slot_limit_mm(truth, t), flat_slot_limit_mm(truth, t)}});
  }
  const auto cost = [&](const std::vector<double>& logs) {
    CureModel m = truth;
    m.bond_time_s = std::exp(logs[0]), m.fuse_time_s = std::exp(logs[1]);
    m.blur_mm = std::exp(logs[2]), m.penetration_depth_mm = std::exp(logs[3]);
    double sum = 0;
    for (const auto& [t, sizes] : readings) {
      const double wall = std::min(10.0, wall_limit_mm(m, t));
      sum += std::pow((sizes[0] - wall) / 0.002, 2) / 2 + std::pow((sizes[1] - slot_limit_mm(m, t)) / 0.002, 2) / 2 +
             std::pow((sizes[2] - flat_slot_limit_mm(m, t)) / 0.002, 2) / 2;
    }
    return sum;
  };
  const auto found = minimise(cost, {0.4, -0.5, -3.3, -1.9}, 0.1);
  REQUIRE(found.converged);
  const double rise = 1.353;  // half of 1.645 squared
  const auto ranges = profile_ranges(cost, found, rise);
  for (std::size_t i = 0; i < 4; ++i) {
    INFO("parameter " << i);
    const double by_hessian = 1.645 * std::sqrt(found.covariance[i][i]);
    CHECK(ranges[i].below == Approx(by_hessian).epsilon(0.1));
    CHECK(ranges[i].above == Approx(by_hessian).epsilon(0.1));
    // And the profile itself: minimise over the other three with this one at its upper end.
    std::vector<double> others = found.at;
    others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
    const auto ridge = minimise(
        [&](std::vector<double> x) {
          x.insert(x.begin() + static_cast<std::ptrdiff_t>(i), found.at[i] + ranges[i].above);
          return cost(x);
        },
        others, 0.1);
    CHECK(ridge.value - found.value == Approx(rise).epsilon(0.05));
  }
}

TEST_CASE("the spread of a fit is the profile's, also where that is lopsided") {
  // Two-sided 90 % profile of the full posterior by brute force over the bond time, against the stored covariance.
  ResinRecord record = exact(gallery_resin(), {1.75, 2.2, 2.8});
  const auto report = fit_record(record);
  REQUIRE(report);
  const Estimate& bond = report->parameters[0];
  CHECK(bond.log_sd == Approx(std::sqrt((*report->model.log_covariance)[0][0])).epsilon(1e-4));
  // Squeezed against the shortest time from below, and never beyond it.
  CHECK(bond.high / bond.value < bond.value / bond.low);
  CHECK(bond.high < 1.75);
  CHECK(bond.log_sd >= std::log(bond.value / bond.low) / 1.645 * 0.6);
  apply_fit(record, *report, "2026-11-01");
  const auto again = estimates(record);
  REQUIRE(again.size() == 5);  // flat slots were read
  for (std::size_t i = 0; i < 5; ++i) {
    INFO(again[i].name);
    CHECK(again[i].log_sd == Approx(report->parameters[i].log_sd).epsilon(1e-4));
    CHECK(again[i].low == report->parameters[i].low);  // both sides, as the profile had them
    CHECK(again[i].high == report->parameters[i].high);
  }
  record.source.clear();  // as written by hand
  CHECK(estimates(record)[0].high == Approx(bond.value * std::exp(1.645 * bond.log_sd)).epsilon(1e-3));
}

TEST_CASE("a bracket that was only looked at is usable, centred on the crisp time, and says how weak it is") {
  const auto report = fit_record(common_bracket());
  REQUIRE(report);
  CHECK(report->converged);
  CHECK(report->look_count == 4);
  CHECK(report->size_count == 0);
  // A wall and a slot of one size fail together at the crisp time, whatever the blur.
  CHECK(even_time_s(report->model) == Approx(2.5).epsilon(0.01));
  const double size = even_size_mm(report->model);
  CHECK(size > 0.05);
  CHECK(size < 0.2);
  const Window w = window(report->model, size);
  CHECK(std::sqrt(w.from_s * w.to_s) == Approx(2.5).epsilon(0.01));
  // Nothing but 2.5 s is vouched for: half-way to the neighbours, so that a suggestion lands at 2.45 to 2.55 s.
  CHECK(report->model.valid_from_s == Approx(std::sqrt(2.4 * 2.5)).epsilon(1e-4));
  CHECK(report->model.valid_to_s == Approx(std::sqrt(2.5 * 2.6)).epsilon(1e-4));
  CHECK(report->weak);
  CHECK_THAT(report->weakness, Catch::Contains("This record is weak") && Catch::Contains("4 coupons"));
  CHECK(report->undetermined.size() >= 2);
  CHECK(report->parameters[1].log_sd > 0.4);  // visibly uncertain
  CHECK(report->priors.size() == 4);
  for (const auto& residual : report->residuals) CHECK(std::abs(residual.sigmas) < 1);
}

TEST_CASE("looks at other times move the even time with them") {
  for (const double scale : {0.5, 2.0, 10.0}) {
    auto record = common_bracket();
    for (auto& reading : record.bracket) reading.exposure_s *= scale;
    const auto report = fit_record(record);
    REQUIRE(report);
    CHECK(even_time_s(report->model) == Approx(2.5 * scale).epsilon(0.01));
  }
}

TEST_CASE("looks without a crisp one still give a range") {
  const auto between = fit_record(looks({{2.0, Look::under}, {3.0, Look::over}}));
  REQUIRE(between);
  CHECK(between->model.valid_from_s == 2.0);
  CHECK(between->model.valid_to_s == 3.0);
  CHECK(even_time_s(between->model) > 2.0);
  CHECK(even_time_s(between->model) < 3.0);
  const auto one = fit_record(looks({{2.0, Look::slightly_under}}));
  REQUIRE(one);
  CHECK(one->model.valid_from_s < one->model.valid_to_s);
  CHECK(one->weak);
}

TEST_CASE("parameters the readings do not determine are named") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.3, 2.8, 3.4});
  for (auto& reading : record.bracket) reading.narrowest_flat_slot_mm.reset();
  const auto report = fit_record(record);
  REQUIRE(report);
  REQUIRE(report->undetermined.size() == 1);
  CHECK(report->undetermined[0] == "penetration_depth_mm");
  CHECK_FALSE(report->parameters[3].determined);
}

TEST_CASE("cure depths determine the penetration depth and give a gel time") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.3, 2.8, 3.4});
  for (auto& reading : record.bracket) reading.narrowest_flat_slot_mm.reset();
  for (const double t : {2.0, 4.0, 8.0, 16.0}) record.cure_depth.push_back({t, 0.16 * std::log(t / 1.1), "", {}});
  const auto report = fit_record(record);
  REQUIRE(report);
  CHECK(report->model.penetration_depth_mm == Approx(0.16).epsilon(0.03));
  REQUIRE(report->gel_time);
  CHECK(report->gel_time->value == Approx(1.1).epsilon(0.05));
  CHECK(report->cure_depth_count == 4);
}

TEST_CASE("the reading that fits worst is named") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.3, 2.8, 3.4});
  *record.bracket[2].narrowest_slot_mm += 0.03;
  const auto report = fit_record(record);
  REQUIRE(report);
  REQUIRE(report->worst);
  CHECK(report->residuals[*report->worst].what == "narrowest slot at 2.8 s");
  CHECK(report->residuals[*report->worst].sigmas > 1);
}

TEST_CASE("a residual is the log of read over predicted, its deviation the reading error over the size between them") {
  const CureModel truth = gallery_resin();
  for (const double ratio : {0.3, 0.8, 1.0, 1.2, 3.0}) {
    ResinRecord record = exact(truth, {2.5});
    BracketReading& reading = record.bracket[0];
    const double predicted = *reading.thinnest_wall_mm;
    *reading.thinnest_wall_mm *= ratio;
    const auto list = residuals(record, truth);
    REQUIRE(list.size() == 3);
    CHECK(list[0].sigmas == Approx(std::log(ratio) * predicted * (1 + ratio) / 2 / 0.01).margin(1e-5));
    CHECK(std::abs(list[1].sigmas) < 1e-5);
  }
}

TEST_CASE("a size where the model has none is as bad as a residual can be") {
  const CureModel truth = gallery_resin();
  ResinRecord record = exact(truth, {2.5});
  record.bracket[0].exposure_s = 0.5;  // under the bond time nothing stands, under the fuse time nothing closes
  const auto list = residuals(record, truth);
  REQUIRE(list.size() == 3);
  CHECK_FALSE(list[0].predicted_mm);
  CHECK(list[0].sigmas == -99);
  CHECK(list[1].sigmas == 99);
  CHECK(list[2].sigmas == 99);
}

TEST_CASE("readings that contradict the physics are refused by name") {
  ResinRecord record;
  const auto error_of = [&] {
    const auto report = fit_record(record);
    return report ? std::string("no error") : to_paragraph(report.error());
  };
  SECTION("a wall that gets thicker") {
    record.bracket = {wall_and_slot(2.3, 0.08, 0.08), wall_and_slot(2.6, 0.16, 0.1)};
    CHECK_THAT(error_of(),
               Catch::Contains("thinnest wall gets thicker with more time: 0.08 mm at 2.3 s, but 0.16 mm at 2.6 s"));
  }
  SECTION("in whatever order they were typed in") {
    record.bracket = {wall_and_slot(2.6, 0.16, 0.1), wall_and_slot(2.3, 0.08, 0.08)};
    CHECK_THAT(error_of(), Catch::Contains("0.08 mm at 2.3 s, but 0.16 mm at 2.6 s"));
  }
  SECTION("a slot that gets narrower") {
    record.bracket = {wall_and_slot(2.3, 0.1, 0.2), wall_and_slot(2.6, 0.09, 0.1)};
    CHECK_THAT(error_of(),
               Catch::Contains("narrowest slot gets narrower with more time: 0.2 mm at 2.3 s, but 0.1 mm at 2.6 s"));
  }
  SECTION("one exposure, two sizes") {
    record.bracket = {wall_and_slot(2.5, 0.08, 0.1), wall_and_slot(2.5, 0.2, 0.1)};
    CHECK_THAT(error_of(),
               Catch::Contains("two readings of the thinnest wall at 2.5 s contradict each other: 0.08 mm and 0.2 mm"));
  }
  SECTION("ladder steps") {
    for (const double t : {2.0, 3.0}) {
      BracketReading reading;
      reading.exposure_s = t;
      reading.thinnest_pin_mm = t == 2.0 ? 0.125 : 0.2;
      reading.ladder = true;
      record.bracket.push_back(reading);
    }
    CHECK_THAT(error_of(), Catch::Contains("thinnest pin gets thicker"));
  }
  SECTION("a coupon that is missing at more time than one that stood") {
    record.bracket = {wall_and_slot(2.3, 0.1, 0.1), {}};
    record.bracket[1].exposure_s = 2.6, record.bracket[1].look = Look::missing;
    CHECK_THAT(error_of(), Catch::Contains("the coupon of 2.3 s stood, but that of 2.6 s is missing"));
  }
  SECTION("looks that go backwards") {
    record = looks({{2.3, Look::over}, {2.6, Look::under}});
    CHECK_THAT(error_of(), Catch::Contains("the looks contradict each other: over at 2.3 s, but under at 2.6 s"));
  }
  SECTION("a cure depth that gets shallower") {
    record.cure_depth = {{4, 0.4, "", {}}, {8, 0.2, "", {}}};
    CHECK_THAT(error_of(), Catch::Contains("cure depth gets shallower"));
  }
  SECTION("nothing at all") {
    CHECK_THAT(error_of(), Catch::Contains("the record holds no reading to fit"));
  }
  SECTION("but not within the reading error") {
    record.bracket = {wall_and_slot(2.3, 0.08, 0.09), wall_and_slot(2.6, 0.09, 0.085)};
    CHECK(error_of() == "no error");
  }
}

TEST_CASE("sizes out of range are refused before any fit") {
  ResinRecord record;
  record.bracket = {wall_and_slot(2.3, -0.08, 0.1)};
  CHECK_FALSE(fit_record(record));
  record.bracket = {wall_and_slot(2.3, 5.1, 0.1)};
  const auto report = fit_record(record);
  REQUIRE_FALSE(report);
  CHECK(report.error().found == "readings.bracket[1]: thinnest_wall_mm is 5.1");
  record.bracket = {wall_and_slot(std::nan(""), 0.1, 0.1)};
  CHECK_FALSE(fit_record(record));
}

TEST_CASE("where no coupon stood there is no time to use") {
  ResinRecord record;
  BracketReading reading;
  reading.exposure_s = 2, reading.look = Look::missing;
  record.bracket = {reading};
  const auto report = fit_record(record);
  REQUIRE(report);
  CHECK_FALSE(report->use);
  CHECK(report->weak);
  reading.exposure_s = 3, reading.look = Look::slightly_under;
  record.bracket.push_back(reading);
  CHECK(fit_record(record)->use);
}

TEST_CASE("sizes typed tenfold make the record weak, and name the decimal point") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.2, 2.5, 2.8, 3.2});
  for (BracketReading& reading : record.bracket)
    for (auto* size : {&reading.thinnest_wall_mm, &reading.narrowest_slot_mm, &reading.thinnest_pin_mm,
                       &reading.smallest_hole_mm, &reading.narrowest_flat_slot_mm})
      if (*size) **size *= 10;
  const auto report = fit_record(record);
  REQUIRE(report);
  CHECK(report->weakness.find("decimal point of the sizes") != std::string::npos);
}

TEST_CASE("a reading that does not agree makes the record weak until it is left out") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.2, 2.5, 2.8, 3.2});
  for (BracketReading& reading : record.bracket) reading.reading_error_mm = 0.006;
  REQUIRE_FALSE(fit_record(record)->weak);
  *record.bracket[2].thinnest_wall_mm += 0.05;
  record.bracket[1].thinnest_wall_mm.reset();  // thicker than this it would be refused
  FitSettings settings;
  for (const bool leave_out : {false, true}) {
    settings.leave_out_odd = leave_out;
    const auto report = fit_record(record, settings);
    REQUIRE(report);
    REQUIRE(report->odd.size() == 1);
    CHECK(report->weak == !leave_out);
    apply_fit(record, *report, "2026-11-25");
    const auto back = parse_record(write_record(record), "");
    REQUIRE(back);
    CHECK(weakness(*back) == (leave_out ? ""
                                        : "This record is weak: the thinnest wall at 2.5 s does not agree with the "
                                          "others. Read it again."));
  }
}

TEST_CASE("readings far from their time are named by it, and left out they do not stretch the range") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.0, 2.2, 2.4, 2.5, 2.8, 3.2});
  for (BracketReading& reading : record.bracket) reading.reading_error_mm = 0.006;
  record.bracket.back().exposure_s = 32;
  FitSettings settings;
  for (const bool leave_out : {false, true}) {
    settings.leave_out_odd = leave_out;
    const auto report = fit_record(record, settings);
    REQUIRE(report);
    CHECK(report->odd.size() > 1);
    CHECK(report->model.valid_to_s == Approx((leave_out ? 2.8 : 32) * 1.1));
    if (!leave_out)
      CHECK_THAT(report->weakness, Catch::Contains(" readings at 32 s do not agree") && Catch::Contains("--take-back"));
  }
}

TEST_CASE("odd readings are kept with any fit that was there") {
  // Some members of a fit are there before, some come with it.
  for (const char* more :
       {"", R"(, "method": "by hand")", R"(, "odd": ["one"])", R"(, "odd": [], "weak": "", "x": 1)"}) {
    ResinRecord record = exact(gallery_resin(), {1.9, 2.2, 2.5, 2.8, 3.2});
    for (BracketReading& reading : record.bracket) reading.reading_error_mm = 0.006;
    *record.bracket[2].thinnest_wall_mm += 0.05;
    record.bracket[1].thinnest_wall_mm.reset();
    record.source = R"({"fit": {"bond_time_s": 1, "fuse_time_s": 1, "blur_mm": 0.1, "penetration_depth_mm": 0.1)" +
                    std::string(more) + "}}";
    const auto report = fit_record(record);
    REQUIRE(report);
    apply_fit(record, *report, "2026-11-25");
    const auto back = parse_record(write_record(record), "");
    REQUIRE(back);
    CHECK(odd_readings(*back) == std::vector<std::string>{"thinnest wall at 2.5 s"});
  }
}

TEST_CASE("a record whose readings changed after its fit is weak until it is fitted again") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.2, 2.5, 2.8, 3.2});
  for (BracketReading& reading : record.bracket) reading.reading_error_mm = 0.006;
  CHECK(fit_age(record) == FitAge::unknown);
  const auto refit = [&] {
    const auto report = fit_record(record);
    REQUIRE(report);
    apply_fit(record, *report, "2026-11-25");
    record = parse_record(write_record(record), "").value();
  };
  refit();
  CHECK(fit_age(record) == FitAge::of_these_readings);
  CHECK(weakness(record).empty());
  *record.bracket[0].thinnest_wall_mm += 0.002;
  CHECK(fit_age(record) == FitAge::of_other_readings);
  CHECK_THAT(weakness(record), Catch::Contains("its readings changed after its fit"));
  refit();
  CHECK(weakness(record).empty());
  record.bracket.pop_back();
  CHECK(fit_age(record) == FitAge::of_other_readings);
}

TEST_CASE("a fit put into the record is what is read back") {
  ResinRecord record = exact(gallery_resin(), {1.9, 2.3, 2.8, 3.4});
  const auto report = fit_record(record);
  REQUIRE(report);
  apply_fit(record, *report, "2026-11-25");
  const auto back = parse_record(write_record(record), "");
  REQUIRE(back);
  const auto model = fitted_model(*back);
  REQUIRE(model);
  CHECK(model->bond_time_s == report->model.bond_time_s);
  CHECK(*model->log_covariance == *report->model.log_covariance);
  CHECK(model->valid_to_s == report->model.valid_to_s);
  CHECK(back->fitted_at == "2026-11-25");
  CHECK(weakness(*back) == report->weakness);
}

TEST_CASE("the window of a size is where its wall stands and its slot stays open") {
  CureModel model = gallery_resin();
  model.log_covariance = LogCovariance{{{0.01, 0, 0, 0}, {0, 0.04, 0, 0}, {0, 0, 0, 0}, {0, 0, 0, 0}}};
  const Window w = window(model, 0.1);
  const double share = std::erf(0.1 / (2 * std::sqrt(2.0) * 0.038));
  CHECK(w.from_s == Approx(1.6 / share));
  CHECK(w.to_s == Approx(0.55 / (1 - share)));
  CHECK(w.from_log_sd == Approx(0.1));
  CHECK(w.to_log_sd == Approx(0.2));
  // At the even time both limits are one size, for both shapes.
  for (const BlurShape shape : {BlurShape::gaussian, BlurShape::lorentzian}) {
    model.blur_shape = shape;
    CHECK(wall_limit_mm(model, even_time_s(model)) == Approx(slot_limit_mm(model, even_time_s(model))));
    CHECK(pin_limit_mm(model, even_time_s(model)) == Approx(hole_limit_mm(model, even_time_s(model))));
  }
}

TEST_CASE("a curve table holds the limits, and nothing where nothing stands") {
  const auto table = curve_table(gallery_resin(), 1.0, 3.0, 4);
  REQUIRE(table);
  REQUIRE(table->size() == 5);
  CHECK_FALSE((*table)[0].wall_mm);
  CHECK((*table)[0].slot_mm);
  CHECK((*table)[4].exposure_s == 3.0);
  CHECK(*(*table)[4].wall_mm == wall_limit_mm(gallery_resin(), 3.0));
  CHECK_FALSE(curve_table(gallery_resin(), 3, 2, 4));
  CHECK_FALSE(curve_table(gallery_resin(), 0, 2, 4));
  CHECK_FALSE(curve_table(gallery_resin(), 1, 2, 0));
}

TEST_CASE("planned times shrink the window's spread about as much as they promise") {
  const CureModel truth = gallery_resin();
  ResinRecord record = exact(truth, {2.3, 2.5, 2.7});
  auto report = fit_record(record);
  REQUIRE(report);
  apply_fit(record, *report, "2026-11-25");
  const auto plan = next_prints(record);
  REQUIRE(plan);
  REQUIRE(plan->size() >= 1);
  REQUIRE(plan->size() <= 3);
  const auto spread = [&](const CureModel& model, double size) {
    const Window w = window(model, size);
    return std::sqrt((w.from_log_sd * w.from_log_sd + w.to_log_sd * w.to_log_sd) / 2);
  };
  const double size = even_size_mm(report->model);
  CHECK((*plan)[0].log_sd_before == Approx(spread(report->model, size)).epsilon(0.01));
  const auto printed_too = [&](double t) {
    ResinRecord more = record;
    more.bracket.push_back(exact(truth, {t}).bracket[0]);
    const auto refit = fit_record(more);
    REQUIRE(refit);
    return spread(refit->model, size);
  };
  const double promised = (*plan)[0].log_sd_after, got = printed_too((*plan)[0].exposure_s);
  CHECK(got < (*plan)[0].log_sd_before);
  CHECK(got == Approx(promised).epsilon(0.35));
  CHECK(got <= printed_too(2.5) * 1.05);  // about as good as printing the middle again, which is never proposed
  for (std::size_t i = 1; i < plan->size(); ++i) CHECK((*plan)[i].log_sd_after < (*plan)[i - 1].log_sd_after);
}

TEST_CASE("a plan needs a fit that knows how sure it is") {
  ResinRecord record;
  CHECK_FALSE(next_prints(record));
  record.fit = gallery_resin();
  const auto plan = next_prints(record);
  REQUIRE_FALSE(plan);
  CHECK(plan.error().found == "the fit has no log_covariance");
}

TEST_CASE("a look-only record gets a plan of two or three times near its bracket") {
  ResinRecord record = common_bracket();
  const auto report = fit_record(record);
  REQUIRE(report);
  apply_fit(record, *report, "2026-11-25");
  const auto plan = next_prints(record);
  REQUIRE(plan);
  CHECK(plan->size() >= 2);
  for (const auto& time : *plan) {
    CHECK(time.exposure_s > 1.8);
    CHECK(time.exposure_s < 3.3);
    CHECK(time.log_sd_after < time.log_sd_before);
  }
}

TEST_CASE("the time to use is the even time to 0.05 s, good where no limit is more than a quarter larger") {
  // bond 1.6 + fuse 0.55 = 2.15 s; there a wall of 2 sqrt2 0.038 erfinv(1.6 / 2.15) = 0.0863 mm stands (closed form).
  ResinRecord record;
  record.fit = gallery_resin();
  record.fit->valid_from_s = 1.8, record.fit->valid_to_s = 3.2;
  const auto use = time_to_use(record);
  REQUIRE(use);
  CHECK(use->exposure_s == 2.15);
  const double quarter_more = 1.25 * wall_limit_mm(*record.fit, 2.15);
  CHECK(use->from_s == Approx(1.6 / std::erf(quarter_more / (2 * std::sqrt(2.0) * 0.038))).margin(0.01));
  CHECK(use->to_s <= 3.2);
  CHECK(slot_limit_mm(*record.fit, use->to_s) <= 1.25 * slot_limit_mm(*record.fit, 2.15) + 1e-9);
  // Where hardly any light fuses, bulk decides: exp(3.0902 x 5 %) bond times (0.1 % of a normal).
  record.fit->fuse_time_s = 0.1;
  CHECK(time_to_use(record)->exposure_s == Approx(1.9));
  CHECK(1.6 * std::exp(3.0902 * 0.05) <= 1.9);
}

TEST_CASE("flat slots give flat gaps a time of their own, and leave the others alone") {
  CureModel truth = gallery_resin();
  truth.flat_time_s = 0.25;
  const auto own = fit_record(exact(truth, {1.8, 2.1, 2.5, 2.9, 3.4}));
  ResinRecord unread = exact(truth, {1.8, 2.1, 2.5, 2.9, 3.4});
  for (auto& reading : unread.bracket) reading.narrowest_flat_slot_mm.reset();
  const auto none = fit_record(unread);
  REQUIRE(own);
  REQUIRE(none);
  REQUIRE(own->model.flat_time_s);
  CHECK(own->parameters[4].low < 0.25);
  CHECK(own->parameters[4].high > 0.25);
  CHECK_FALSE(none->model.flat_time_s);
  // The prior ties it to the fuse time, loosely.
  CHECK(own->parameters[1].low < none->model.fuse_time_s);
  CHECK(own->parameters[1].high > none->model.fuse_time_s);
}

TEST_CASE("a looked-at bracket: use 2.5 s, and read the same coupons to make it sound") {
  ResinRecord record = common_bracket();
  const auto report = fit_record(record);
  REQUIRE(report);
  apply_fit(record, *report, "2026-11-25");
  REQUIRE(record.use);
  CHECK(record.use->exposure_s == 2.5);
  CHECK(record.use->from_s >= record.fit->valid_from_s);
  CHECK(record.use->to_s <= record.fit->valid_to_s);
  const auto plan = next_prints(record);
  REQUIRE(plan);
  REQUIRE(plan->size() >= 2);
  CHECK_THAT((*plan)[0].read, Catch::Contains("thinnest wall") && Catch::Contains("narrowest slot"));
  for (std::size_t i = 0; i < plan->size(); ++i) {
    const NextPrint& one = (*plan)[i];
    CHECK(std::lround(100 * one.log_sd_after) < std::lround(100 * one.log_sd_before));
    CHECK(one.exposure_s > record.fit->bond_time_s);
    if (!one.read.empty()) continue;
    for (const BracketReading& printed : record.bracket)
      CHECK(std::abs(std::log(one.exposure_s / printed.exposure_s)) >= 0.05 - 1e-6);
    for (std::size_t k = 0; k < i; ++k)
      CHECK(std::abs(std::log(one.exposure_s / (*plan)[k].exposure_s)) >= 0.05 - 1e-6);
  }
}
