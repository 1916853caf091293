// SPDX-License-Identifier: MIT
#include "prepared_designs.hpp"

#include <cmath>

#include <rewound/checks/design_match.hpp>
#include <rewound/machine/running_point.hpp>
#include <rewound/verdict/cause.hpp>
#include <rewound/verdict/cause_tables.hpp>

#include "kept_key.hpp"
#include "kept_values.hpp"

namespace rewound::job {

namespace {

/// Some hundred kilobytes each; a shop's models and the ranges of voltage it reads in are fewer.
constexpr std::size_t most_prepared = 96;

kept_values<prepared_designs>& kept_by_model() {
  static kept_values<prepared_designs> kept(most_prepared);
  return kept;
}

kept_values<prepared_designs>& kept_by_nameplate() {
  static kept_values<prepared_designs> kept(most_prepared);
  return kept;
}

/// Everything that designs depend on.
class design_key : public kept_key {
 public:
  design_key(const machine::machine_kind& kind, const std::vector<double>& currents) {
    add(static_cast<double>(kind.circuit));
    add(static_cast<double>(kind.control));
    add(static_cast<double>(kind.phases));
    add(kind.rated_voltage_V);
    add(kind.rated_frequency_Hz);
    add(static_cast<double>(kind.poles.value_or(0)));
    add(kind.fan_on ? 1.0 : 0.0);
    add(static_cast<double>(kind.speeds));
    add(currents);
  }

  using kept_key::add;
  void add(const std::vector<checks::curve_probe>& probes) {
    add(static_cast<double>(probes.size()));
    for (const auto& probe : probes) {
      add(static_cast<double>(probe.step));
      add(probe.log_x);
      add(static_cast<double>(probe.channels.size()));
      for (const auto what : probe.channels) add(static_cast<double>(what));
    }
  }
};

std::size_t index_of_cause(verdict::cause cause) { return static_cast<std::size_t>(cause); }

std::vector<checks::weighed_fault> faults_for(const machine::machine_kind& kind) {
  std::vector<checks::weighed_fault> out;
  for (const auto& row : verdict::cause_tables::fault_severity)
    for (const auto fault : machine::all_faults) {
      if (machine::name(fault) != row.fault) continue;
      const auto cause = index_of_cause(verdict::cause_named(row.fault).value());
      if (fault != machine::fault::speed_leads_exchanged) out.push_back({cause, fault, row.least, row.most});
      else
        for (std::size_t n = 1; n < kind.speeds; ++n)
          out.push_back({cause, fault, static_cast<double>(n), static_cast<double>(n)});
    }
  // The other of the two mains frequencies there are.
  const double other = kind.rated_frequency_Hz < 55.0 ? 60.0 / 50.0 - 1.0 : 50.0 / 60.0 - 1.0;
  out.push_back({index_of_cause(verdict::cause::wrong_frequency), machine::fault::wrong_frequency, other, other});
  return out;
}

/// Amperes read on another range than was thought, on all speeds or on one, about each healthy alternative.
void add_meter_ranges(const std::vector<checks::curve_probe>& probes, const std::vector<checks::alternative>& healthy,
                      std::vector<checks::alternative>& out) {
  for (const auto& about : healthy)
    for (const double decades : {-3.0, -1.0, 1.0, 3.0}) {
      Eigen::VectorXd all = about.mean;
      Eigen::Index level = 0;
      for (const auto& probe : probes)
        for (const auto what : probe.channels) {
          if (what == fit::channel::current) {
            Eigen::VectorXd one = about.mean;
            one[level] += decades * std::log(10.0);
            all[level] += decades * std::log(10.0);
            out.push_back({index_of_cause(verdict::cause::meter_range), about.weight, std::move(one)});
          }
          level += fit::parabola_terms;
        }
      out.push_back({index_of_cause(verdict::cause::meter_range), about.weight, std::move(all)});
    }
}

/// Readings that no fan shows may be matched best by a design that stalls; its faults have no meaning.
bool runs_when_rated(const machine::fan_design& design) {
  const auto rated = machine::running_point_when_turning(design, 0, units::volts(design.machine.rated_voltage_V));
  return rated.state == machine::running_state::runs;
}

/// What was solved, with readings on a wrong range added to the faults.
void keep_solved(const std::vector<checks::curve_probe>& looked_at, std::vector<checks::alternative> healthy,
                 checks::fault_signatures_result signatures, prepared_designs& out) {
  add_meter_ranges(looked_at, healthy, signatures.faulty);
  out.healthy = std::move(healthy);
  out.faulty = std::move(signatures.faulty);
  out.healthy_covariance = std::move(signatures.healthy_covariance);
  out.healthy_values = std::move(signatures.healthy_values);
}

prepared_designs prepare_beside(const known_model& in) {
  prepared_designs out;
  const auto matched = checks::design_match(
      {machine::fan_population(in.kind, in.currents), in.known, in.log_values, in.uncertainty, in.main_resistance_ohm});
  if (matched.empty()) return out;
  out.misfit = matched.front().misfit;
  std::vector<machine::fan_design> designs;
  constexpr double worth_weighing =
      0.03;  // of a design's share, since each costs some hundred solves (project's choice)
  for (const auto& each : matched) {
    if (each.weight < worth_weighing || !runs_when_rated(each.design)) continue;
    designs.push_back(each.design);
    out.weights.push_back(each.weight);
  }
  if (designs.empty()) return out;
  auto signatures = checks::fault_signatures(
      {designs, out.weights, in.looked_at, faults_for(in.kind), checks::healthy_spreads(), out.misfit, in.kind.fan_on});
  std::vector<checks::alternative> healthy{{0, 1.0, Eigen::VectorXd::Zero(signatures.healthy_covariance.rows())}};
  keep_solved(in.looked_at, std::move(healthy), std::move(signatures), out);
  return out;
}

prepared_designs prepare_by_nameplate(const known_nameplate& in) {
  prepared_designs out;
  auto designs = checks::scaled_designs(
      {machine::fan_population(in.kind, in.currents), in.rated_current_A, in.rated_power_W, in.kind.fan_on});
  if (designs.empty()) return out;
  out.weights.assign(designs.size(), 1.0 / static_cast<double>(designs.size()));
  auto signatures = checks::fault_signatures({std::move(designs), out.weights, in.looked_at, faults_for(in.kind),
                                              checks::population_spreads(), 1.0, in.kind.fan_on});
  std::vector<checks::alternative> healthy;
  for (auto& values : signatures.healthy_values) {
    values.tail(checks::resistance_entries).setZero();
    healthy.push_back({0, 1.0, values});
  }
  // A signature is a deviation from its own design.
  for (auto& each : signatures.faulty) each.mean += signatures.healthy_values[each.design];
  keep_solved(in.looked_at, std::move(healthy), std::move(signatures), out);
  return out;
}

}  // namespace

std::shared_ptr<const prepared_designs> designs_beside(known_model in) {
  constexpr double steps_per_log = 50.0;  // moves a reading that is trusted to 8 % by 1 % at most (project's choice)
  if (in.main_resistance_ohm)
    in.main_resistance_ohm = std::exp(std::round(steps_per_log * std::log(*in.main_resistance_ohm)) / steps_per_log);
  design_key key(in.kind, in.currents);
  key.add(in.known);
  key.add(in.looked_at);
  key.add(in.log_values);
  key.add(in.uncertainty);
  key.add(in.main_resistance_ohm);
  return kept_by_model().get(key.numbers(), [&] { return prepare_beside(in); });
}

std::shared_ptr<const prepared_designs> designs_by_nameplate(const known_nameplate& in) {
  design_key key(in.kind, in.currents);
  key.add(in.looked_at);
  key.add(in.rated_current_A);
  key.add(in.rated_power_W);
  return kept_by_nameplate().get(key.numbers(), [&] { return prepare_by_nameplate(in); });
}

void forget_prepared_designs() {
  kept_by_model().clear();
  kept_by_nameplate().clear();
}

}  // namespace rewound::job
