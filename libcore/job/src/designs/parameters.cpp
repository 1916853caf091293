// SPDX-License-Identifier: MIT
#include <rewound/job/parameters.hpp>

#include <cmath>
#include <optional>

#include <rewound/measurement/normal.hpp>
#include <rewound/record/validate.hpp>

#include "designs/known_design.hpp"

namespace rewound::job {

namespace {

using machine::design_parameter;

struct shown_parameter {
  design_parameter which;
  std::string_view name;
  std::string_view unit;
};

constexpr std::array<shown_parameter, 11> shown_parameters{
    {{design_parameter::main_resistance, "main_resistance", "ohm"},
     {design_parameter::leakage, "main_leakage", "ohm"},
     {design_parameter::rotor_resistance, "rotor_resistance", "ohm"},
     {design_parameter::magnetising, "magnetising_reactance", "ohm"},
     {design_parameter::knee, "knee_voltage", "V"},
     {design_parameter::core_loss, "core_loss", "W"},
     {design_parameter::turns_ratio, "turns_ratio", "1"},
     {design_parameter::auxiliary_resistance, "start_winding_resistance", "ohm"},
     {design_parameter::capacitance, "capacitance", "uF"},
     {design_parameter::fan, "fan_torque_coefficient", "N m s2"},
     {design_parameter::friction, "friction_torque", "N m"}}};

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

double log_variance(const Eigen::MatrixXd& covariance, design_parameter which) {
  const auto i = static_cast<Eigen::Index>(which);
  const double sign = scale_sign(which);
  return covariance(i, i) + sign * (2.0 * covariance(0, i) + sign * covariance(0, 0));
}

std::optional<parameter_estimate> estimate_of(const known_designs& known, const shown_parameter& shown) {
  double total = 0.0;
  double mean = 0.0;
  double square = 0.0;
  for (std::size_t k = 0; k < known.designs.size(); ++k) {
    const auto value = value_of(known.designs[k].design, shown.which);
    if (!value || !(*value > 0.0)) return std::nullopt;
    const double log = std::log(*value);
    const double weight = known.designs[k].weight;
    total += weight;
    mean += weight * log;
    square += weight * (log * log + log_variance(known.covariances[k], shown.which));
  }
  mean /= total;
  const double spread = std::sqrt(std::max(0.0, square / total - mean * mean));
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
  for (const auto& shown : shown_parameters)
    if (auto estimate = estimate_of(known, shown)) out.parameters.push_back(*estimate);
  return out;
}

}  // namespace rewound::job
