// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/verdict/rules/heat_run.hpp>
#include <told.hpp>

// What a heat run comes to, each limit a hair to either side. The runs are handed over as they would be projected.
namespace heat_rules {

using namespace rewound;
using record::appliance_class;
using record::insulation_class;
using testing::near_relative;
using testing::saying;
using testing::told_number;
using testing::told_text;
using verdict::bearing;
using verdict::outcome;
using verdict::statement;

/// A machine of 230 V and 100 W, class 130, run at its rating.
record::visit_record heated() {
  record::visit_record in;
  in.machine.rated_voltage_V = 230.0;
  in.machine.rated_power_W = 100.0;
  in.machine.insulation_class = insulation_class::class_130;
  in.visit.supply_voltage_V = 240.0;
  in.heat_run.emplace();
  in.heat_run->ambient_C = 25.0;
  in.heat_run->resistance_ohm = {1.0};
  return in;
}

/// A run to its end: 1.2 time constants of 30 min, six readings.
verdict::rules::heat_results projected(double kelvins, double u = 1e-9) {
  verdict::rules::heat_results out;
  auto& run = out.heating;
  run.status = checks::heat_run_status::projected;
  run.final_rise.parts = {{kelvins, u, 1.0}};
  run.remainder.parts = {{0.0, u, 1.0}};
  run.time_constants = {units::seconds(1800.0)};
  run.slow_time_constant = units::seconds(1800.0);
  run.length = units::seconds(2160.0);
  run.readings = 6;
  run.change_in_30_min = units::kelvins(0.25);
  run.steady_after = run.known_after = units::seconds(0.0);
  return out;
}

std::vector<verdict::finding> found_of(const record::visit_record& in, const verdict::rules::heat_results& results) {
  return verdict::rules::heat_run(in, results, verdict::policy{});
}

verdict::finding rise_of(const record::visit_record& in, const verdict::rules::heat_results& results) {
  const auto all = found_of(in, results);
  const auto* f = saying(all, statement::heat_run_final_rise);
  REQUIRE(f != nullptr);
  return *f;
}

TEST_CASE("the rise is held against its class's limit, of machines by their watts, of appliances over 25 degC") {
  struct {
    std::optional<insulation_class> stated;
    std::optional<double> watts;
    std::optional<appliance_class> appliance;
    double limit_K, base_C;
  } const rows[] = {
      // IEC 60034-1 temperature-rise table over 40 degC, IEC 60335-1 Table 3 over 25 degC (from memory, unverified)
      {insulation_class::class_130, 599.9, {}, 85.0, 40.0},
      {insulation_class::class_130, 600.0, {}, 80.0, 40.0},
      {insulation_class::class_130, {}, {}, 85.0, 40.0},
      {insulation_class::class_130, 600.0, appliance_class::class_I, 95.0, 25.0},
      {insulation_class::class_155, 100.0, {}, 110.0, 40.0},
      {insulation_class::class_105, 700.0, {}, 60.0, 40.0},
      {{}, 100.0, {}, 65.0, 40.0},
  };
  for (const auto& row : rows) {
    CAPTURE(row.limit_K);
    auto in = heated();
    in.machine.insulation_class = row.stated;
    in.machine.rated_power_W = row.watts;
    in.machine.appliance_class = row.appliance;
    const auto below = rise_of(in, projected(row.limit_K - 0.01)), above = rise_of(in, projected(row.limit_K + 0.01));
    CHECK(below.outcome == outcome::conforms);
    // What is not stated never fails a machine.
    CHECK(above.outcome == (row.stated ? outcome::fails : outcome::undecided));
    CHECK(*below.limit_high == row.limit_K);
    CHECK(told_number(below, "base").value == row.base_C);
    CHECK(told_number(below, "class_C").value == (row.stated ? static_cast<double>(*row.stated) : 105.0));
    CHECK(told_text(below, "thermal_class") == (row.stated ? "stated" : "unstated"));
    CHECK(told_text(above, "heat_settle") == (row.stated ? "meters" : "class"));
  }
}

TEST_CASE("a thermometer on the outside lowers the limit by what it reads less, unless cooling readings decide") {
  auto in = heated();
  in.heat_run->resistance_ohm.clear();
  CHECK(*rise_of(in, projected(50.0)).limit_high == 75.0);
  CHECK(told_text(rise_of(in, projected(50.0)), "rise_from") == "thermometer");
  CHECK(rise_of(in, projected(74.99)).outcome == outcome::conforms);
  CHECK(rise_of(in, projected(75.01)).outcome == outcome::fails);
  auto cooled = projected(50.0);
  cooled.at_switch_off = {50.0, 1e-9};
  CHECK(*rise_of(in, cooled).limit_high == 85.0);
  CHECK(told_text(rise_of(in, cooled), "rise_from") == "switch_off");
  CHECK(told_text(rise_of(heated(), projected(50.0)), "rise_from") == "resistance");
}

TEST_CASE("a run 5 % below the rated voltage cannot conform, one 5 % above it cannot fail") {
  for (const auto& [volts, cool, hot] : {std::tuple{218.49, outcome::undecided, outcome::fails},
                                         {218.51, outcome::conforms, outcome::fails},
                                         {241.49, outcome::conforms, outcome::fails},
                                         {241.51, outcome::conforms, outcome::undecided}}) {
    const auto volts_shown = volts;
    CAPTURE(volts_shown);
    auto in = heated();
    in.heat_run->voltage_V = volts;
    const auto low = rise_of(in, projected(50.0)), high = rise_of(in, projected(100.0));
    CHECK(low.outcome == cool);
    CHECK(high.outcome == hot);
    CHECK((told_text(low, "heat_settle") == "voltage") == (cool == outcome::undecided));
    CHECK((told_number(high, "run_V").value == volts) == (hot == outcome::undecided));
  }
}

TEST_CASE("a rise that looks allowed waits for 1.2 time constants, and for six readings; one that fails does not") {
  auto results = projected(50.0);
  CHECK(told_number(rise_of(heated(), results), "more").value == 0.0);
  CHECK(told_number(rise_of(heated(), results), "slow").value == 30.0);
  results.heating.length = units::seconds(2159.0);
  CHECK(rise_of(heated(), results).outcome == outcome::undecided);
  CHECK(told_text(rise_of(heated(), results), "heat_settle") == "length");
  CHECK(told_number(rise_of(heated(), results), "more").value == 1.0);
  results.heating.length = units::seconds(2160.0 - 61.0);
  CHECK(told_number(rise_of(heated(), results), "more").value == 2.0);
  results.heating.known_after = units::seconds(121.0);  // the later of the two
  CHECK(told_number(rise_of(heated(), results), "more").value == 3.0);
  results = projected(50.0);
  results.heating.readings = 5;
  CHECK(rise_of(heated(), results).outcome == outcome::undecided);
  CHECK(told_text(rise_of(heated(), results), "heat_settle") == "readings");
  results.heating.final_rise.parts = {{100.0, 1e-9, 1.0}};
  CHECK(rise_of(heated(), results).outcome == outcome::fails);
  CHECK(told_text(rise_of(heated(), results), "heat_settle") == "meters");
}

TEST_CASE("what settles a rise is running on while it is not known, else better meters") {
  auto results = projected(84.0, 2.0);
  CHECK(rise_of(heated(), results).outcome == outcome::undecided);
  CHECK(told_text(rise_of(heated(), results), "heat_settle") == "meters");
  results.heating.known_after = units::seconds(1.0);
  CHECK(told_text(rise_of(heated(), results), "heat_settle") == "run");
  results.heating.known_after.reset();
  CHECK(told_text(rise_of(heated(), results), "heat_settle") == "meters");
}

TEST_CASE("the interval of the rise is that of the projection and of what all readings share") {
  auto results = projected(50.0, 3.0);
  results.common_uncertainty = 4.0;  // together 5
  const auto f = rise_of(heated(), results);
  CHECK(near_relative(*f.value, 50.0, 1e-9));
  CHECK(near_relative(*f.low, 50.0 - 1.959964 * 5.0, 1e-6));
  CHECK(near_relative(*f.high, 50.0 + 1.959964 * 5.0, 1e-6));
  // 35 K to the limit are 7 standard deviations; at 76.78 K they are 1.6449, a probability of 0.95.
  results.heating.final_rise.parts[0].value = 85.0 - 1.64485 * 5.0 - 0.01;
  CHECK(rise_of(heated(), results).outcome == outcome::conforms);
  results.heating.final_rise.parts[0].value = 85.0 - 1.64485 * 5.0 + 0.01;
  CHECK(rise_of(heated(), results).outcome == outcome::undecided);
}

TEST_CASE("the hottest winding stands 40 degC above the rise; air of 10 to 40 degC is within what the standard takes") {
  for (const auto& [ambient, range] :
       {std::pair{9.9, "outside"}, {10.0, "inside"}, {40.0, "inside"}, {40.1, "outside"}}) {
    auto in = heated();
    in.heat_run->ambient_C = ambient;
    const auto all = found_of(in, projected(50.0, 2.0));
    const auto* f = saying(all, statement::heat_run_hottest);
    REQUIRE(f != nullptr);
    CHECK(near_relative(*f->value, 90.0, 1e-9));
    CHECK(near_relative(*f->low, 90.0 - 1.959964 * 2.0, 1e-6));
    CHECK(near_relative(*f->high, 90.0 + 1.959964 * 2.0, 1e-6));
    CHECK(told_text(*f, "ambient_range") == range);
    CHECK(told_number(*f, "ambient").value == ambient);
  }
}

TEST_CASE("readings of a cooling winding give the rise at switch-off, and the run adds what was still to come") {
  auto results = projected(0.0);
  results.at_switch_off = {60.0, 3.0};
  results.heating.remainder.parts = {{10.0, 4.0, 1.0}};
  auto f = rise_of(heated(), results);
  CHECK(near_relative(*f.value, 70.0, 1e-9));
  CHECK(near_relative(*f.high - *f.low, 2.0 * 1.959964 * 5.0, 1e-6));
  // Without a projection the rise at switch-off stands alone, and does not release.
  results.heating.status = checks::heat_run_status::too_few_readings;
  f = rise_of(heated(), results);
  CHECK(near_relative(*f.value, 60.0, 1e-9));
  CHECK(near_relative(*f.high - *f.low, 2.0 * 1.959964 * 3.0, 1e-6));
  CHECK(f.outcome == outcome::undecided);
  CHECK(told_text(f, "heat_settle") == "readings");
  CHECK(told_number(f, "more").value == 0.0);
}

TEST_CASE("the rise on today's mains goes with the losses") {
  auto in = heated();
  in.heat_run->voltage_V = 235.0;
  auto results = projected(50.0, 2.0);
  results.on_mains = verdict::rules::losses_on_mains{1.2, true};
  const auto all = found_of(in, results);
  const auto* f = saying(all, statement::heat_run_on_mains);
  REQUIRE(f != nullptr);
  CHECK(near_relative(*f->value, 60.0, 1e-9));
  CHECK(near_relative(*f->low, 1.2 * (50.0 - 1.959964 * 2.0), 1e-6));
  CHECK(near_relative(*f->high, 1.2 * (50.0 + 1.959964 * 2.0), 1e-6));
  CHECK(told_number(*f, "supply_V").value == 240.0);
  CHECK(told_number(*f, "run_V").value == 235.0);
  CHECK(told_text(*f, "losses_by") == "watts");
}

TEST_CASE("the course of a run is told in minutes, rounded up, and says whether one body or two warm") {
  auto results = projected(50.0);
  auto& run = results.heating;
  run.time_constants = {units::seconds(2400.0), units::seconds(180.0)};
  run.steady_after = units::seconds(601.0);
  run.known_after.reset();
  auto all = found_of(heated(), results);
  const auto* f = saying(all, statement::heat_run_course);
  REQUIRE(f != nullptr);
  CHECK(f->bearing == bearing::informs);
  CHECK(*f->value == 0.25);
  CHECK(*f->limit_high == 1.0);  // K in half an hour
  CHECK(told_number(*f, "tau").value == 40.0);
  CHECK(told_number(*f, "tau_fast").value == 3.0);
  CHECK(told_number(*f, "until_steady").value == 11.0);
  CHECK(told_number(*f, "change").value == 0.25);
  CHECK(told_number(*f, "change").standard_uncertainty == 0.05);
  CHECK(told_number(*f, "until_known").value == 0.0);
  CHECK(told_text(*f, "heat_parts") == "two");
  CHECK(told_text(*f, "steady") == "some");
  CHECK(told_text(*f, "known") == "unknown");
  all = found_of(heated(), projected(50.0));
  CHECK(told_text(*saying(all, statement::heat_run_course), "heat_parts") == "one");
  CHECK(told_text(*saying(all, statement::heat_run_course), "known") == "none");
}

TEST_CASE("a run without a projection is open, and says why") {
  for (const auto& [status, says] : {std::pair{checks::heat_run_status::too_few_readings, statement::heat_run_too_few},
                                     {checks::heat_run_status::not_heating, statement::heat_run_falling},
                                     {checks::heat_run_status::not_moving, statement::heat_run_not_moving}}) {
    verdict::rules::heat_results results;
    results.heating.status = status;
    const auto all = found_of(heated(), results);
    REQUIRE(all.size() == 1);
    CHECK(all.front().says == says);
    CHECK(all.front().outcome == outcome::undecided);
    CHECK(all.front().bearing == bearing::decides);
  }
}

}  // namespace heat_rules
