// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <rewound/machine/detail/circuit.hpp>
#include <utility>

// Rotor, iron and gap: two admittances, one for each field, across which the gap voltages Ef and Eb stand.
namespace rewound::machine::detail {

/// The rotor side at one supply frequency.
struct rotor {
  double resistance_ohm, leakage_ohm, magnetising_ohm;
  double core_siemens;  ///< in each field, half-size
  double saturation_share, knee_V, sharpness, furthest;
  double synchronous_rad_s;
  double size;  ///< 1 for the two half-size fields of one phase, 1/2 for the one full-size field of three
  bool linear;
};

inline rotor rotor_of(const induction_machine& m, double frequency_ratio) {
  const bool three = m.phases != winding_phases::single;
  const double volts =
      m.phases == winding_phases::three_star ? m.rated_voltage_V / std::numbers::sqrt3 : m.rated_voltage_V;
  rotor out{};
  out.resistance_ohm = m.rotor_resistance_ohm;
  out.leakage_ohm = frequency_ratio * m.rotor_leakage_ohm;
  out.magnetising_ohm = frequency_ratio * m.magnetising_ohm;
  // Of three phases each carries a third; their full-size field is scaled by 1/2 with all else in the admittance.
  out.core_siemens = m.core_loss_W / (volts * volts) * (three ? 2.0 / 3.0 : 1.0);
  out.saturation_share = m.saturation.share;
  out.knee_V = frequency_ratio * m.saturation.knee_V;
  out.sharpness = m.saturation.sharpness;
  out.furthest = m.saturation.furthest;
  out.synchronous_rad_s = 4.0 * std::numbers::pi * m.rated_frequency_Hz * frequency_ratio / m.poles;
  out.size = three ? 0.5 : 1.0;
  out.linear = m.saturation.share == 0.0;
  return out;
}

/// Admittance of the rotor alone to a field of this slip: 1 / (R2 / 2s + j X2 / 2), 0 at synchronism.
inline phasor rotor_admittance(const rotor& r, double slip) {
  return (2.0 * r.size * slip) * inverse({r.resistance_ohm, slip * r.leakage_ohm});
}

inline double to_the_power(double base, double exponent) {
  const int whole = static_cast<int>(exponent);
  if (whole != exponent || whole > 16) return std::pow(base, exponent);
  double out = 1.0;
  for (int i = 0; i < whole; ++i) out *= base;
  return out;
}

inline double saturated_magnetising(const rotor& r, double gap_V) {
  if (r.linear) return r.magnetising_ohm;
  const double relative = std::min(gap_V / r.knee_V, r.furthest);
  return r.magnetising_ohm / (1.0 + r.saturation_share * to_the_power(relative, r.sharpness));
}

/// What the two fields induce in the main winding, and what their rotors take.
struct gap {
  phasor forward, backward;              ///< volts
  phasor forward_rotor, backward_rotor;  ///< siemens
};

/// The equations (yf + ff) Ef + fb Eb = f V and bf Ef + (yb + bb) Eb = b V, with the iron's part still open.
struct gap_equations {
  phasor forward, backward;  ///< yf + ff and yb + bb without the magnetising part
  phasor coupling;           ///< fb bf
  phasor f, b;               ///< right-hand sides
};

inline gap_equations equations_at(const circuit& c, const rotor& r, double terminal_V, const gap& rotors) {
  const phasor core{r.size * r.core_siemens, 0.0};
  return {rotors.forward_rotor + core + c.ff, rotors.backward_rotor + core + c.bb, c.fb * c.bf, terminal_V * c.f_supply,
          terminal_V * c.b_supply};
}

/// |Ef| + |Eb|, the long axis of the field's ellipse, for a magnetising reactance.
inline double gap_V(const circuit& c, const rotor& r, const gap_equations& e, double magnetising_ohm) {
  const phasor iron{0.0, -2.0 * r.size / magnetising_ohm};
  const phasor a = e.forward + iron;
  if (r.size != 1.0) return std::sqrt(norm(e.f) / norm(a));
  const phasor d = e.backward + iron;
  const double forward = norm(e.f * d - c.fb * e.b), backward = norm(a * e.b - c.bf * e.f);
  return (std::sqrt(forward) + std::sqrt(backward)) / std::sqrt(norm(a * d - e.coupling));
}

/// The gap voltage that agrees with the magnetising reactance it leaves: secant steps, kept within a bracket.
///
/// @param guess     where to begin, 0 where nothing is known
/// @param close_to  how far the two may differ, as a share
inline double consistent_gap_V(const circuit& c, const rotor& r, const gap_equations& e, double guess,
                               double close_to) {
  const auto miss = [&](double volts) { return gap_V(c, r, e, saturated_magnetising(r, volts)) - volts; };
  double low = 0.0;
  double high = std::max(r.furthest * r.knee_V, gap_V(c, r, e, saturated_magnetising(r, r.furthest * r.knee_V)));
  double at = guess > 0.0 ? std::min(guess, high) : std::min(r.knee_V, high);
  double before = at;
  double missed_before = 0.0;
  for (int pass = 0; pass < 60; ++pass) {
    const double missed = miss(at);
    (missed > 0.0 ? low : high) = at;
    if (std::abs(missed) <= close_to * at) break;
    double next = pass == 0 ? at + 0.6 * missed : at - missed * (at - before) / (missed - missed_before);
    if (!(next > low && next < high)) next = 0.5 * (low + high);
    if (next == at || high - low <= 1e-14 * high) break;
    before = std::exchange(at, next);
    missed_before = missed;
  }
  return at;
}

/// The gap's voltages by equations whose iron is known.
inline gap solved_gap(const circuit& c, const rotor& r, const gap_equations& e, const gap& rotors,
                      double magnetising_ohm) {
  gap out = rotors;
  const phasor iron{0.0, -2.0 * r.size / magnetising_ohm};
  const phasor a = e.forward + iron;
  if (r.size != 1.0) {
    out.forward = e.f / a;
    return out;
  }
  const phasor d = e.backward + iron;
  const phasor scale = inverse(a * d - e.coupling);
  out.forward = (e.f * d - c.fb * e.b) * scale;
  out.backward = (a * e.b - c.bf * e.f) * scale;
  return out;
}

inline gap rotors_at(const rotor& r, double slip) {
  gap out{};
  out.forward_rotor = rotor_admittance(r, slip);
  out.backward_rotor = rotor_admittance(r, 2.0 - slip);
  return out;
}

/// The gap's voltages at a slip and a magnetising reactance, whether or not they agree.
inline gap gap_with(const circuit& c, const rotor& r, double slip, double terminal_V, double magnetising_ohm) {
  const gap rotors = rotors_at(r, slip);
  return solved_gap(c, r, equations_at(c, r, terminal_V, rotors), rotors, magnetising_ohm);
}

/// The gap's voltages at a slip. `guess_V` is |Ef| + |Eb| of a neighbouring slip, and becomes this one.
inline gap gap_at(const circuit& c, const rotor& r, double slip, double terminal_V, double& guess_V,
                  double close_to = 1e-12) {
  const gap rotors = rotors_at(r, slip);
  const gap_equations e = equations_at(c, r, terminal_V, rotors);
  if (!r.linear) guess_V = consistent_gap_V(c, r, e, guess_V, close_to);
  return solved_gap(c, r, e, rotors, saturated_magnetising(r, guess_V));
}

/// Air-gap watts of one phase that cross in the forward and in the backward field.
inline double forward_power(const gap& g) { return norm(g.forward) * g.forward_rotor.re; }
inline double backward_power(const gap& g) { return norm(g.backward) * g.backward_rotor.re; }

inline double developed_torque(const circuit& c, const rotor& r, const gap& g) {
  return c.phases * (forward_power(g) - backward_power(g)) / r.synchronous_rad_s;
}

}  // namespace rewound::machine::detail
