// SPDX-License-Identifier: MIT
#include <rewound/job/parameters.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include <rewound/checks/capacitor.hpp>
#include <rewound/measurement/normal.hpp>
#include <rewound/record/validate.hpp>

#include "analysis/machine_kind_of.hpp"
#include "designs/known_design.hpp"

namespace rewound::job {

namespace {

using machine::design_parameter;

struct shown_parameter {
  design_parameter which;
  std::string_view name;
  std::string_view unit;
  double widening = 1.0;         ///< of the spread
  double widening_unread = 1.0;  ///< further, where the start winding stays in circuit and its ohms were not read
};

/// The widening brings the intervals of simulated machines, and of machines spread half as widely as the population
/// about them, to hold the truth 90 times of 100 and more (project's choice;
/// tests/laws/report/test_parameter_laws.cpp).
constexpr std::array<shown_parameter, 11> shown_parameters{
    {{design_parameter::main_resistance, "main_resistance", "ohm"},
     {design_parameter::leakage, "main_leakage", "ohm", 1.5},
     {design_parameter::rotor_resistance, "rotor_resistance", "ohm"},
     {design_parameter::magnetising, "magnetising_reactance", "ohm", 1.05, 1.7},
     {design_parameter::knee, "knee_voltage", "V"},
     {design_parameter::core_loss, "core_loss", "W"},
     {design_parameter::turns_ratio, "turns_ratio", "1", 1.4},
     {design_parameter::auxiliary_resistance, "start_winding_resistance", "ohm", 1.4, 2.5},
     {design_parameter::capacitance, "capacitance", "uF", 1.4, 1.25},
     {design_parameter::fan, "fan_torque_coefficient", "N m s2", 1.5},
     {design_parameter::friction, "friction_torque", "N m", 1.25}}};

/// Absent where the design has no such part.
std::optional<double> value_of(const machine::fan_design& design, design_parameter which) {
  const auto& m = design.machine;
  switch (which) {
    case design_parameter::main_resistance: return m.main_resistance_ohm;
    case design_parameter::leakage: return m.main_leakage_ohm;
    case design_parameter::rotor_resistance: return m.rotor_resistance_ohm;
    case design_parameter::magnetising: return m.magnetising_ohm;
    case design_parameter::knee: return m.saturation.knee_V;
    case design_parameter::core_loss: return m.core_loss_W;
    case design_parameter::fan: return design.load.square_Nm_s2;
    case design_parameter::friction: return design.load.friction_Nm;
    default: break;
  }
  if (!m.auxiliary || m.auxiliary->switched_out) return std::nullopt;
  if (which == design_parameter::turns_ratio) return m.auxiliary->turns_ratio;
  if (which == design_parameter::auxiliary_resistance) return m.auxiliary->resistance_ohm;
  if (which == design_parameter::capacitance && m.auxiliary->capacitance_F) return 1e6 * *m.auxiliary->capacitance_F;
  return std::nullopt;
}

/// Ohms and watts move with the scale of the whole machine too, capacitance and torque against it.
double scale_sign(design_parameter which) {
  switch (which) {
    case design_parameter::knee:
    case design_parameter::turns_ratio: return 0.0;
    case design_parameter::core_loss:
    case design_parameter::capacitance:
    case design_parameter::fan:
    case design_parameter::friction: return -1.0;
    default: return 1.0;
  }
}

/// Along the changes of a design, in which a parameter's logarithm moves.
Eigen::VectorXd direction_of(design_parameter which, Eigen::Index changes) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(changes);
  out[0] = scale_sign(which);
  out[static_cast<Eigen::Index>(which)] += 1.0;
  return out;
}

/// A part that was measured by itself.
struct read_part {
  design_parameter which;
  double log_value;
  double uncertainty;  ///< of the logarithm
};

/// The start winding's ohms, warm as it ran, and the capacitor where it stays in circuit.
std::vector<read_part> read_parts(const record::visit_record& in) {
  constexpr double warmth = 0.04;    // ten kelvins of a winding that ran (common practice, no source)
  constexpr double by_meter = 0.03;  // of a capacitance (common practice, no source)
  constexpr double by_volts = 0.05;  // of one by volts and amperes in circuit (common practice, no source)
  std::vector<read_part> out;
  if (const auto ohms = warm_ohms(in, winding::auxiliary))
    out.push_back({design_parameter::auxiliary_resistance, std::log(*ohms), warmth});
  if (in.machine.running_circuit != record::running_circuit::permanent_capacitor) return out;
  for (const auto& each : in.capacitor) {
    if (each.kind != record::capacitor_kind::run) continue;
    const auto add = [&](double uF, double u) { out.push_back({design_parameter::capacitance, std::log(uF), u}); };
    if (each.measured_uF && *each.measured_uF > 0.0) add(*each.measured_uF, by_meter);
    else if (each.voltage_V && each.current_A && *each.voltage_V > 0.0 && *each.current_A > 0.0)
      add(1e6 * checks::capacitance_in_circuit(units::volts(*each.voltage_V), units::amperes(*each.current_A),
                                               units::hertz(run_up_frequency_Hz(in)))
                    .value(),
          by_volts);
    break;
  }
  return out;
}

/// A design's changes as a normal distribution: where it was matched, and how far it may lie from there.
struct design_belief {
  const machine::fan_design& design;
  double weight;
  Eigen::VectorXd shift;
  Eigen::MatrixXd covariance;

  /// Bayes's rule, linear about the matched design; likelihoods count by their square roots, as in designs_of().
  void learn(const read_part& part) {
    const auto value = value_of(design, part.which);
    if (!value || !(*value > 0.0)) return;
    const auto along = direction_of(part.which, shift.size());
    const Eigen::VectorXd gain = covariance * along;
    const double variance = along.dot(gain) + part.uncertainty * part.uncertainty;
    const double missing = part.log_value - std::log(*value) - along.dot(shift);
    weight *= std::exp(-0.25 * missing * missing / variance) / std::pow(variance, 0.25);
    shift += gain * (missing / variance);
    covariance -= gain * gain.transpose() / variance;
  }
};

std::optional<parameter_estimate> estimate_of(const std::vector<design_belief>& beliefs, const shown_parameter& shown,
                                              bool start_read) {
  double total = 0.0;
  double mean = 0.0;
  double square = 0.0;
  for (const auto& each : beliefs) {
    const auto value = value_of(each.design, shown.which);
    if (!value || !(*value > 0.0)) return std::nullopt;
    const auto along = direction_of(shown.which, each.shift.size());
    const double log = std::log(*value) + along.dot(each.shift);
    total += each.weight;
    mean += each.weight * log;
    square += each.weight * (log * log + along.dot(each.covariance * along));
  }
  mean /= total;
  const double spread = shown.widening * (start_read ? 1.0 : shown.widening_unread) *
                        std::sqrt(std::max(0.0, square / total - mean * mean));
  const double half = measurement::coverage_95 * spread;
  // Half of the population's own spread tells something (project's choice).
  const bool determined = spread < 0.5 * checks::design_spread[static_cast<std::size_t>(shown.which)];
  return parameter_estimate{
      shown.name, shown.unit, std::exp(mean), {std::exp(mean - half), std::exp(mean + half)}, determined};
}

}  // namespace

parameters_result machine_parameters(const record::visit_record& in) {
  record::validate(in);
  const auto known = designs_of(in);
  parameters_result out{in.machine.id, {}, known.basis};
  std::vector<design_belief> beliefs;
  for (std::size_t k = 0; k < known.designs.size(); ++k) {
    const auto& covariance = known.covariances[k];
    beliefs.push_back(
        {known.designs[k].design, known.designs[k].weight, Eigen::VectorXd::Zero(covariance.rows()), covariance});
  }
  const auto parts = read_parts(in);
  const auto& auxiliary = known.designs.front().design.machine.auxiliary;
  const bool alone = !auxiliary || auxiliary->switched_out;
  const bool start_read = alone || std::any_of(parts.begin(), parts.end(), [](const auto& each) {
                            return each.which == design_parameter::auxiliary_resistance;
                          });
  for (const auto& part : parts)
    for (auto& each : beliefs) each.learn(part);
  for (const auto& shown : shown_parameters)
    if (auto estimate = estimate_of(beliefs, shown, start_read)) out.parameters.push_back(*estimate);
  return out;
}

}  // namespace rewound::job
