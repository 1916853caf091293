// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <sstream>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/job/simulate.hpp>
#include <rewound/job/whatif.hpp>
#include <rewound/machine/running_point.hpp>
#include <rewound/record/document.hpp>
#include <rewound/report/whatif.hpp>

namespace job = rewound::job;
namespace machines = rewound::machine;
namespace record = rewound::record;
namespace units = rewound::units;
using rewound::base::error_code;
using rewound::testing::near_relative;

namespace {

struct known_machine {
  record::visit_record record;
  machines::fan_design truth;
};

known_machine known(const std::string& model, std::uint64_t seed, bool all_read) {
  job::simulate_options options;
  options.seed = seed;
  options.watts = options.rpm = all_read;
  const auto from = job::simulated_machine_named(model);
  known_machine out{job::simulate(from, options), job::simulated_design(from, options)};
  // As warm as it was read: copper and a cast cage of aluminium from 20 degC (IEEE 112's constants).
  const double warm_C = *out.record.run_up.front().winding_C;
  auto& m = out.truth.machine;
  for (double* ohms : {&m.main_resistance_ohm, &m.auxiliary->resistance_ohm}) *ohms *= (234.5 + warm_C) / 254.5;
  m.rotor_resistance_ohm *= (225.0 + warm_C) / 245.0;
  return out;
}

using ratios = std::array<double, job::whatif_quantity_count>;

/// What warms the windings.
units::power heat(const machines::operating_point& at) {
  return at.losses.stator_copper + at.losses.rotor_copper + at.losses.core;
}

/// By the closed book: turns and area put into the design by hand, and the model solved.
ratios true_ratio(const machines::fan_design& design, const job::whatif_change& change, std::size_t speed,
                  double volts) {
  const double n = change.turns_factor, r = n / change.wire_area_factor;
  auto there = design;
  auto& m = there.machine;
  m.main_resistance_ohm *= r;
  for (double* seen : {&m.main_leakage_ohm, &m.rotor_resistance_ohm, &m.rotor_leakage_ohm, &m.magnetising_ohm})
    *seen *= n * n;
  m.saturation.knee_V *= n;
  m.core_loss_W /= n * n;
  m.auxiliary->resistance_ohm *= r;
  m.auxiliary->leakage_ohm *= n * n;
  const auto before = machines::running_point_when_turning(design, speed, units::volts(design.machine.rated_voltage_V));
  const auto after = machines::running_point_when_turning(there, speed, units::volts(volts));
  return {units::in_amperes(after.line_current) / units::in_amperes(before.line_current),
          units::in_watts(after.input) / units::in_watts(before.input),
          units::in_watts(after.losses.stator_copper) / units::in_watts(before.losses.stator_copper),
          after.flux_ratio / before.flux_ratio / n, units::in_watts(heat(after)) / units::in_watts(heat(before))};
}

const job::whatif_row& row_of(const job::whatif_result& in, job::whatif_case what, std::size_t speed) {
  std::size_t at = 0;
  for (const auto& row : in.rows)
    if (row.what == what && at++ == speed) return row;
  FAIL("no such row");
  return in.rows.front();
}

double amps(const job::whatif_row& row) { return row.values[0].ratio; }
double flux(const job::whatif_row& row) { return row.values[3].ratio; }
double width(const job::whatif_row& row) { return row.values[0].range.high - row.values[0].range.low; }

error_code refused(const record::visit_record& record, const job::whatif_change& change) {
  try {
    job::whatif(record, change);
  } catch (const rewound::base::error& trouble) {
    CHECK(std::string(trouble.what()).find('\n') == std::string::npos);
    return trouble.code();
  }
  FAIL("no error");
  return error_code::precondition;
}

}  // namespace

TEST_CASE("the same turns on the same voltage change nothing at all") {
  const auto here = known("circulator-40", 1, true);
  const auto result = job::whatif(here.record, {1.0, 1.0, here.record.machine.rated_voltage_V, {}});
  REQUIRE(result.rows.size() == 3);
  for (const auto& row : result.rows)
    for (const auto& value : row.values) {
      CHECK(value.ratio == 1.0);
      CHECK(value.range.low == 1.0);
      CHECK(value.range.high == 1.0);
    }
}

TEST_CASE(
    "fewer turns: more amps and more flux on the fastest speed, more turns the contrary, and the truth lies within") {
  std::size_t within = 0, asked = 0;
  for (const auto& model : job::simulated_models())
    for (std::uint64_t seed = 1; seed <= 4; ++seed) {
      const auto here = known(model, seed, true);
      const job::whatif_change change{
          seed % 2 == 0 ? 0.93 : 1.08, seed < 3 ? 1.0 : 0.9, 1.04 * here.record.machine.rated_voltage_V, {}};
      const auto result = job::whatif(here.record, change);
      const auto& fastest = row_of(result, job::whatif_case::new_winding, 0);
      CHECK((amps(fastest) > 1.0) == (change.turns_factor < 1.0));
      CHECK((flux(fastest) > 1.0) == (change.turns_factor < 1.0));
      for (std::size_t speed = 0; speed < here.truth.steps.size(); ++speed) {
        const auto& row = row_of(result, job::whatif_case::new_winding_on_mains, speed);
        const auto truth = true_ratio(here.truth, change, speed, *change.supply_voltage_V);
        for (std::size_t q = 0; q < truth.size(); ++q, ++asked)
          within += truth[q] >= row.values[q].range.low && truth[q] <= row.values[q].range.high;
      }
    }
  MESSAGE("truth within the 95 % interval " << within << " times of " << asked);
  CHECK(within >= asked * 88 / 100);
}

TEST_CASE("thinner wire at the same turns heats more copper; the mains alone scale flux with the voltage, about") {
  const auto here = known("blower-60", 5, true);
  const auto thin = job::whatif(here.record, {1.0, 0.8, here.record.machine.rated_voltage_V, {}});
  for (std::size_t speed = 0; speed < 3; ++speed) CHECK(thin.rows[speed].values[2].range.low > 1.1);
  const auto mains = job::whatif(here.record, {1.0, 1.0, 1.05 * here.record.machine.rated_voltage_V, {}});
  REQUIRE(mains.rows.size() == 3);
  CHECK(mains.rows.front().what == job::whatif_case::mains);
  CHECK(flux(mains.rows.front()) > 1.02);
  CHECK(flux(mains.rows.front()) < 1.08);
  CHECK(amps(mains.rows.front()) > 1.0);
}

TEST_CASE("the less is read the wider the answer, and it says what it rests on") {
  const auto all = known("desk-25", 3, true);
  const auto amps_alone = known("desk-25", 3, false);
  auto none = amps_alone.record;
  none.resistance.clear();
  for (auto& run : none.run_up)
    for (auto& row : run.rows) row.turning = false;
  const job::whatif_change change{0.95, 1.0, {}, {}};
  const auto whole = job::whatif(all.record, change), some = job::whatif(amps_alone.record, change),
             marked = job::whatif(none, change);
  CHECK(whole.basis.read == std::vector<std::string>{"current", "power", "rotation"});
  CHECK(some.basis.read == std::vector<std::string>{"current"});
  CHECK(some.basis.nameplate_power);
  CHECK(marked.basis.read.empty());
  CHECK(marked.basis.nameplate_current);
  CHECK(width(whole.rows.front()) < width(some.rows.front()));
  CHECK(width(some.rows.front()) < width(marked.rows.front()));
  CHECK(rewound::report::whatif_json(marked).find("with the nameplate alone the intervals are wide") !=
        std::string::npos);
}

TEST_CASE("poles are told from rpm, a tachometer a little above the synchronous speed included") {
  job::simulate_options options;
  options.rpm = true;
  options.shaft = record::shaft_condition::bare;
  auto unmarked = job::simulate(job::simulated_machine_named("circulator-40"), options);
  double fastest = 0.0;
  for (const auto& run : unmarked.run_up)
    for (const double rpm : run.column(&record::run_up_row::speed_rpm)) fastest = std::max(fastest, rpm);
  for (auto& run : unmarked.run_up)
    for (auto& row : run.rows) *row.speed_rpm *= 1501.0 / fastest;
  unmarked.machine.poles.reset();
  auto four = unmarked, two = unmarked;
  four.machine.poles = 4;
  two.machine.poles = 2;
  const auto ratio = [](const record::visit_record& in) {
    return amps(job::whatif(in, {0.95, 1.0, {}, {}}).rows.front());
  };
  CHECK(ratio(unmarked) == ratio(four));
  CHECK(ratio(unmarked) != ratio(two));
}

TEST_CASE("a machine that is like no design is said to be so, and answered with less certainty") {
  const auto healthy = known("wall-30", 4, true);
  auto off = healthy.record;
  for (auto& run : off.run_up)
    for (auto& row : run.rows) row.current_A *= 10.0;
  const job::whatif_change change{0.95, 1.0, {}, {}};
  const auto sound = job::whatif(healthy.record, change), odd = job::whatif(off, change);
  CHECK(sound.basis.misfit == 1.0);  // never below: designs are not trusted more than their uncertainties
  CHECK(odd.basis.misfit > 2.0);
  CHECK(rewound::report::whatif_json(sound).find("no simulated design agrees well") == std::string::npos);
  CHECK(rewound::report::whatif_json(odd).find("no simulated design agrees well") != std::string::npos);
}

TEST_CASE("no line of the text is wider than 79 characters, and the JSON has every row") {
  const auto here = known("circulator-40", 9, false);
  const auto result = job::whatif(here.record, {0.9, 1.1, {}, 60.0});
  std::istringstream text(rewound::report::whatif_text(result));
  for (std::string line; std::getline(text, line);) CHECK_MESSAGE(line.size() <= 79, line);
  const auto json = rewound::report::whatif_json(result);
  std::size_t cases = 0;
  for (auto at = json.find("\"case\""); at != std::string::npos; at = json.find("\"case\"", at + 1)) ++cases;
  CHECK(cases == result.rows.size());
  CHECK(result.rows.size() == 9);
}

TEST_CASE("what the model cannot answer is refused") {
  const auto here = known("circulator-40", 2, false);
  CHECK(refused(here.record, {0.2, 1.0, {}, {}}) == error_code::usage);
  CHECK(refused(here.record, {1.0, std::nan(""), {}, {}}) == error_code::usage);
  CHECK(refused(here.record, {1.0, 1.0, 5000.0, {}}) == error_code::usage);
  CHECK(refused(here.record, {1.0, 1.0, {}, -60.0}) == error_code::usage);
  auto poles = here.record;
  poles.machine.speed_control = record::speed_control::pole_change;
  CHECK(refused(poles, {0.95, 1.0, {}, {}}) == error_code::out_of_range);
  auto nothing = here.record;
  nothing.machine.rated_current_A.reset();
  for (auto& run : nothing.run_up)
    for (auto& row : run.rows) row.turning = false;
  CHECK(refused(nothing, {0.95, 1.0, {}, {}}) == error_code::missing_key);
}

TEST_CASE("the turns for a wanted current take it: the truth lies within, and asking back gives the current") {
  std::size_t within = 0, asked = 0;
  for (const auto& model : job::simulated_models())
    for (std::uint64_t seed = 1; seed <= 6; ++seed) {
      const auto here = known(model, seed, true);
      const double volts = 1.05 * here.record.machine.rated_voltage_V;
      const double turns = seed % 2 == 0 ? 0.93 : 1.1;
      const auto present = machines::running_point_when_turning(here.truth, 0, units::volts(volts));
      const auto before =
          machines::running_point_when_turning(here.truth, 0, units::volts(here.record.machine.rated_voltage_V));
      const double wanted =
          units::in_amperes(before.line_current) * true_ratio(here.truth, {turns, 1.0 / turns, {}, {}}, 0, volts)[0];
      const auto result = job::whatif_for_current(here.record, wanted, volts, {});
      REQUIRE(result.wanted);
      CHECK((result.wanted->turns.ratio < 1.0) == (wanted > units::in_amperes(present.line_current)));
      within += turns >= result.wanted->turns.range.low && turns <= result.wanted->turns.range.high;
      ++asked;
      CHECK(result.wanted->turns.range.low >= 0.5);
      CHECK(result.wanted->turns.range.high <= 2.0);
      CHECK(near_relative(result.change.turns_factor * result.change.wire_area_factor, 1.0, 1e-12));
      const auto& back = row_of(result, job::whatif_case::new_winding_on_mains, 0);
      const double amperes = units::in_amperes(before.line_current) * amps(back);
      CHECK(near_relative(amperes, wanted, 0.05));
    }
  MESSAGE("true turns within the 95 % interval " << within << " times of " << asked);
  CHECK(within >= asked * 85 / 100);
}

TEST_CASE("the current that was read asks for the turns that are there") {
  for (const auto& model : job::simulated_models())
    for (std::uint64_t seed = 1; seed <= 4; ++seed) {
      const auto here = known(model, seed, seed % 2 == 0);
      const auto& run = here.record.run_up.front();
      const double rated = here.record.machine.rated_voltage_V;
      const auto nearest = std::min_element(run.rows.begin(), run.rows.end(), [&](const auto& a, const auto& b) {
        return std::abs(a.voltage_V - rated) < std::abs(b.voltage_V - rated);
      });
      const auto result = job::whatif_for_current(here.record, nearest->current_A, nearest->voltage_V, {});
      CHECK(near_relative(result.wanted->turns.ratio, 1.0, 1e-6));
    }
}

TEST_CASE("a current that no turns give is refused; bounds against physics are not told") {
  const auto here = known("circulator-40", 2, false);
  CHECK_THROWS_AS(job::whatif_for_current(here.record, 100.0, {}, {}), rewound::base::error);
  CHECK_THROWS_AS(job::whatif_for_current(here.record, 1e-4, {}, {}), rewound::base::error);
  for (const double turns : {0.98, 1.02}) {
    const auto result = job::whatif(here.record, {turns, 1.0, here.record.machine.rated_voltage_V, {}});
    const auto& row = result.rows.front();
    for (const std::size_t q : {0U, 3U}) {
      CHECK((turns < 1.0 ? row.values[q].range.low >= 1.0 : row.values[q].range.high <= 1.0));
    }
  }
}
