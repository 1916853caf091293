// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <numbers>
#include <initializer_list>
#include <optional>
#include <rewound/machine/detail/settle.hpp>
#include <rewound/machine/detail/valid.hpp>
#include <rewound/machine/operating_point.hpp>

namespace rewound::machine::detail {

/// Slip at which the start winding's switch opens, and the one at which it closes again on the way down: at 75 % and
/// 40 % of synchronous speed (common practice, no source).
inline constexpr double switch_opens_at_slip = 0.25;
inline constexpr double switch_closes_at_slip = 0.6;

/// One machine on one lead of its supply, with its load on the shaft.
class machine_on_supply {
 public:
  machine_on_supply(const induction_machine& machine, const speed_step& step, const shaft_load& load,
                    units::voltage supply, units::frequency frequency)
      : machine_(machine), step_(step), load_(load), supply_V_(units::in_volts(supply)) {
    expect_valid(machine);
    expect_valid(step);
    expect_valid(load);
    expect_not_below(supply_V_, "supply voltage");
    expect_above(units::in_hertz(frequency), "supply frequency");
    ratio_ = units::in_hertz(frequency) / machine.rated_frequency_Hz;
    rotor_ = rotor_of(machine, ratio_);
    switched_ = machine.auxiliary && machine.auxiliary->switched_out;
    if (switched_) running_ = circuit_for(machine, step, circuit_of::running, ratio_);
    else standing_ = circuit_for(machine, step, circuit_of::standing, ratio_);
  }

  /// The same machine at another voltage.
  void feed(units::voltage supply) {
    supply_V_ = units::in_volts(supply);
    expect_not_below(supply_V_, "supply voltage");
  }

  operating_point at_rest(running_state state) const { return at(circuit_of::standing, 1.0, state); }

  operating_point from_rest() const {
    if (dead()) return {};
    if (!(torque_at_rest(supply_V_) > load_.at_rest_Nm())) return at_rest(running_state::does_not_start);
    auto excess = balance(circuit_of::standing);
    const auto connected = first_crossing(excess, 1.0, 0.0);
    const double reached = connected.value_or(0.0);
    if (!switched_ || reached >= switch_opens_at_slip) return at(circuit_of::standing, reached, running_state::runs);
    auto alone = balance(circuit_of::running);
    const bool faster = alone(switch_opens_at_slip) > 0.0;
    const auto settled = first_crossing(alone, switch_opens_at_slip, faster ? 0.0 : switch_closes_at_slip);
    if (!settled && !faster) return at_rest(running_state::stalled);
    return at(circuit_of::running, settled.value_or(0.0), running_state::runs);
  }

  operating_point when_turning() const {
    if (dead()) return {};
    auto excess = balance(circuit_of::running);
    if (excess(0.0) >= 0.0) return at(circuit_of::running, 0.0, running_state::runs);
    const auto settled = first_crossing(excess, 0.0, switched_ ? switch_closes_at_slip : 1.0);
    if (!settled) return at_rest(running_state::stalled);
    return at(circuit_of::running, *settled, running_state::runs);
  }

  /// The stable point next to one of those given, at which this machine settled at another voltage or one much like it
  /// at this: the first that has one nearby. The search from synchronism where none has.
  operating_point when_turning_near(std::initializer_list<settled_point> near) const {
    if (dead()) return {};
    for (const auto& each : near)
      if (const auto settled = settle_near(balance(circuit_of::running), each, switched_ ? switch_closes_at_slip : 1.0))
        return at(circuit_of::running, settled->slip, running_state::runs, settled->gap_V);
    return when_turning();
  }

  std::optional<double> lowest_starting_V(double highest_V) const {
    const double needed = load_.at_rest_Nm();
    if (step_.open) return {};
    const auto spare = [&](double volts) { return torque_at_rest(volts) - needed; };
    const double at_highest = spare(highest_V);
    if (!(at_highest > 0.0)) return {};
    if (needed == 0.0) return 0.0;
    return zero_between(spare, 0.0, -needed, highest_V, at_highest);
  }

  /// @param gap_V  that agrees with the slip, where it is known
  operating_point at(circuit_of state, double slip, running_state says, std::optional<double> gap_V = {}) const;

 private:
  const circuit& connected(circuit_of state) const {
    if (switched_ && state == circuit_of::running) return running_;
    if (!standing_) standing_ = circuit_for(machine_, step_, circuit_of::standing, ratio_);
    return *standing_;
  }
  bool dead() const { return step_.open || supply_V_ == 0.0; }
  torque_balance balance(circuit_of state) const { return {connected(state), rotor_, load_, supply_V_}; }
  double torque_at_rest(double volts) const {
    return torque_balance{connected(circuit_of::standing), rotor_, load_, volts}.torque(1.0);
  }

  const induction_machine& machine_;
  const speed_step& step_;
  const shaft_load& load_;
  double supply_V_;
  double ratio_ = 1.0;
  rotor rotor_{};
  mutable std::optional<circuit> standing_;  // worked out when first asked for: a running machine is asked more often
  circuit running_;
  bool switched_ = false;
};

/// Loop currents of one phase.
inline loop_vector loop_currents(const circuit& c, const gap& g, double terminal_V) {
  loop_vector out{};
  for (std::size_t m = 0; m < c.of.count; ++m)
    out[m] = terminal_V * c.supply[m] - c.forward[m] * g.forward - c.backward[m] * g.backward;
  return out;
}

/// Watts in all resistances of one phase's loops.
inline double loop_watts(const circuit& c, const loop_vector& i) {
  double out = 0.0;
  for (std::size_t m = 0; m < c.of.count; ++m)
    for (std::size_t n = 0; n < c.of.count; ++n) out += (conj(i[m]) * c.of.impedance[m][n] * i[n]).re;
  return out;
}

/// Shaft and losses of the rotor side.
inline void fill_rotor_side(operating_point& out, const circuit& c, const rotor& r, const gap& g,
                            const shaft_load& load, bool turns) {
  const double forward = c.phases * forward_power(g), backward = c.phases * backward_power(g);
  const double speed = turns ? (1.0 - out.slip) * r.synchronous_rad_s : 0.0;
  out.speed = units::angular_velocity::from_value(speed);
  out.developed_torque = units::newton_metres((forward - backward) / r.synchronous_rad_s);
  out.losses.rotor_copper = units::watts(out.slip * forward + (2.0 - out.slip) * backward);
  out.losses.core = units::watts(c.phases * r.size * r.core_siemens * (norm(g.forward) + norm(g.backward)));
  const double lost = std::abs(speed) * (load.friction_Nm + std::abs(speed) * load.linear_Nm_s);
  out.losses.friction_and_windage = units::watts(lost);
  const double put_out = (1.0 - out.slip) * (forward - backward) - lost;
  out.output = units::watts(turns ? put_out : 0.0);
  out.shaft_torque = units::newton_metres(speed != 0.0 ? put_out / speed : 0.0);
}

inline operating_point machine_on_supply::at(circuit_of state, double slip, running_state says,
                                             std::optional<double> gap_V) const {
  operating_point out;
  if (dead()) return out;
  const circuit& c = connected(state);
  const double terminal_V = supply_V_ * c.terminal_ratio;
  double guess_V = 0.0;
  const gap g = gap_V ? gap_with(c, rotor_, slip, terminal_V, saturated_magnetising(rotor_, *gap_V))
                      : gap_at(c, rotor_, slip, terminal_V, guess_V);
  const loop_vector i = loop_currents(c, g, terminal_V);
  phasor line{};
  for (std::size_t m = 0; m < c.of.sources; ++m) line = line + i[m];
  out.state = says;
  out.slip = slip;
  out.line_current = units::amperes(c.line_ratio * std::sqrt(norm(line)));
  out.line_phase_rad = std::atan2(line.im, line.re);
  out.input = units::watts(c.phases * terminal_V * line.re);
  out.power_factor = line.re / std::sqrt(norm(line));
  const double control = c.phases * c.control_resistance_ohm * norm(line);
  out.losses.control = units::watts(control);
  out.losses.stator_copper = units::watts(c.phases * loop_watts(c, i) - control);
  fill_rotor_side(out, c, rotor_, g, load_, slip != 1.0);
  out.efficiency = (out.output / out.input).value();
  out.gap_voltage = units::volts(std::sqrt(norm(g.forward)) + std::sqrt(norm(g.backward)));
  const double phase_V = machine_.phases == winding_phases::three_star ? machine_.rated_voltage_V / std::numbers::sqrt3
                                                                       : machine_.rated_voltage_V;
  out.flux_ratio = units::in_volts(out.gap_voltage) / (phase_V * ratio_);
  out.main_current = units::amperes(std::sqrt(norm(i[0])));
  if (c.of.sources < 2) return out;
  out.auxiliary_current = units::amperes(std::sqrt(norm(i[1])));
  if (c.capacitor_ohm)
    out.capacitor_voltage = units::volts(units::in_amperes(*out.auxiliary_current) * *c.capacitor_ohm);
  return out;
}

}  // namespace rewound::machine::detail
