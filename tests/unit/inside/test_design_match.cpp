// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/design_match.hpp>

namespace checks = rewound::checks;
namespace machine = rewound::machine;
namespace record = rewound::record;
namespace units = rewound::units;
using Eigen::VectorXd;
using machine::design_parameter;
using rewound::fit::channel;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

constexpr std::size_t made_of = 7;  // place of the start that the machine to be found is moved from
constexpr double reading_error = 0.01;

std::vector<machine::fan_design> starts_of(std::size_t speeds = 2) {
  machine::machine_kind kind;
  kind.circuit = record::running_circuit::permanent_capacitor;
  kind.control = record::speed_control::tapped_winding;
  kind.speeds = speeds;
  return machine::fan_population(kind, speeds == 1 ? std::vector{1.0} : std::vector{1.0, 0.75});
}

std::vector<checks::curve_probe> all_channels(std::size_t speeds = 2) {
  std::vector<checks::curve_probe> out;
  for (std::size_t step = 0; step < speeds; ++step)
    out.push_back({step, {0.0, std::log(0.85), std::log(0.7)}, {channel::current, channel::power, channel::rotation}});
  return out;
}

VectorXd true_change(const machine::fan_design& start) {
  VectorXd out = VectorXd::Zero(static_cast<Eigen::Index>(machine::design_parameter_count + start.steps.size() - 1));
  const auto put = [&](design_parameter which, double by) { out[static_cast<Eigen::Index>(which)] = by; };
  put(design_parameter::impedance, 0.7);
  put(design_parameter::main_resistance, -0.1);
  put(design_parameter::rotor_resistance, 0.15);
  put(design_parameter::magnetising, 0.1);
  put(design_parameter::core_loss, -0.2);
  put(design_parameter::fan, -0.2);
  put(design_parameter::friction, 0.3);
  if (start.steps.size() > 1) out[out.size() - 1] = 0.25;
  return out;
}

/// Readings of a design at probes, as they are; the starts to find it from.
checks::design_match_input design_readings(const machine::fan_design& truth, std::vector<machine::fan_design> starts) {
  checks::design_match_input in;
  in.starts = std::move(starts);
  in.probes = all_channels(truth.steps.size());
  in.log_values = checks::detail::solve_probes(truth, in.probes).values;
  in.uncertainty = VectorXd::Constant(in.log_values.size(), reading_error);
  in.main_resistance_ohm = truth.machine.main_resistance_ohm;
  in.main_resistance_uncertainty = 0.02;
  return in;
}

double farthest(const checks::matched_design& found, const checks::design_match_input& in) {
  return ((checks::detail::solve_probes(found.design, in.probes).values - in.log_values).array() /
          in.uncertainty.array())
      .abs()
      .maxCoeff();
}

machine::fan_design stalling(machine::fan_design design) {
  design.load.square_Nm_s2 *= 1e3;
  design.load.friction_Nm *= 1e2;
  return design;
}

}  // namespace

TEST_CASE("the design that made the readings is found: its curves, and what of its parameters the readings tell") {
  const auto start = starts_of()[made_of];
  const VectorXd change = true_change(start);
  const auto truth = checks::moved_design(start, change);
  const auto in = design_readings(truth, {start});
  const auto found = checks::design_match(in);
  REQUIRE(found.size() == 1);
  CHECK(found[0].weight == 1.0);
  CHECK(found[0].misfit == 1.0);
  CHECK(farthest(found[0], in) < 0.5);
  REQUIRE(found[0].log_change.size() == static_cast<std::size_t>(change.size()));
  int told = 0;
  for (Eigen::Index i = 0; i < change.size(); ++i) {
    CAPTURE(i);
    const double deviation = std::sqrt(found[0].covariance(i, i));
    const bool is_step = i >= static_cast<Eigen::Index>(machine::design_parameter_count);
    const double prior = is_step ? checks::detail::step_spread : checks::design_spread[static_cast<std::size_t>(i)];
    CHECK(deviation <= prior * (1.0 + 1e-9));  // readings never make a parameter less sure
    CHECK(near_absolute(found[0].log_change[static_cast<std::size_t>(i)], change[i], 3.0 * deviation));
    told += deviation < 0.5 * prior ? 1 : 0;
  }
  CHECK(told >= 4);
  CHECK(near_relative(found[0].design.machine.main_resistance_ohm, truth.machine.main_resistance_ohm, 0.03));
}

TEST_CASE("among the whole population designs are found whose curves lie within the readings' uncertainty") {
  for (const std::size_t which : {made_of, std::size_t{40}, std::size_t{101}}) {
    CAPTURE(which);
    const auto starts = starts_of();
    const auto in = design_readings(checks::moved_design(starts[which], true_change(starts[which])), starts);
    const auto found = checks::design_match(in);
    REQUIRE(found.size() == 5);
    CHECK(farthest(found[0], in) < 1.0);
    double sum = 0.0;
    for (std::size_t i = 0; i < found.size(); ++i) {
      sum += found[i].weight;
      if (i > 0) CHECK(found[i].chi2 >= found[i - 1].chi2);
      if (i > 0) CHECK(found[i].weight <= found[i - 1].weight);
    }
    CHECK(near_absolute(sum, 1.0, 1e-12));
  }
}

TEST_CASE("a start that is the machine itself is left where it is") {
  const auto start = starts_of(1)[3];
  const auto found = checks::design_match(design_readings(start, {start}));
  CHECK(found[0].chi2 < 1e-12);
  for (const double change : found[0].log_change) CHECK(std::abs(change) < 1e-6);
}

TEST_CASE("more uncertain readings leave parameters less sure") {
  const auto start = starts_of()[made_of];
  auto in = design_readings(start, {start});
  const auto sure = checks::design_match(in);
  in.uncertainty *= 5.0;
  const auto unsure = checks::design_match(in);
  for (Eigen::Index i = 0; i < sure[0].covariance.rows(); ++i)
    CHECK(unsure[0].covariance(i, i) > sure[0].covariance(i, i));
}

TEST_CASE("starts that stall where the machine runs do no harm, alone or among others") {
  const auto start = starts_of()[made_of];
  const auto truth = checks::moved_design(start, true_change(start));
  const auto alone = checks::design_match(design_readings(truth, {stalling(start)}));
  REQUIRE(alone.size() == 1);
  CHECK(std::isfinite(alone[0].chi2));
  CHECK(alone[0].misfit > 10.0);
  auto in = design_readings(truth, {stalling(start), start, stalling(starts_of()[3])});
  const auto found = checks::design_match(in);
  CHECK(farthest(found[0], in) < 0.5);
  CHECK(found[0].weight > 0.99);
}

TEST_CASE("readings of a machine that stalls on its slower speed do not throw either") {
  auto truth = starts_of()[made_of];
  truth.steps[1].speed_turns = 6.0;
  const auto found = checks::design_match(design_readings(truth, starts_of()));
  CHECK(std::isfinite(found[0].chi2));
}

TEST_CASE("what does not fit together is refused by the search for designs") {
  const auto start = starts_of()[made_of];
  const auto good = design_readings(start, {start});
  const auto refuses = [&](auto change) {
    auto in = good;
    change(in);
    CHECK_THROWS_AS(checks::design_match(in), rewound::base::error);
  };
  refuses([](auto& in) { in.starts.clear(); });
  refuses([](auto& in) { in.probes.clear(); });
  refuses([](auto& in) { in.log_values.conservativeResize(4); });
  refuses([](auto& in) { in.uncertainty.conservativeResize(4); });
  refuses([](auto& in) { in.log_values[0] = std::nan(""); });
}
