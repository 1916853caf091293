// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <optional>
#include <rewound/machine/detail/phasor.hpp>
#include <rewound/machine/induction_machine.hpp>
#include <tuple>

// The stator as loops of coils. A coil of complex effective turns T (main 1, auxiliary j a, speed winding n) has the
// voltage z I + T Ef + conj(T) Eb across it, where Ef and Eb are what the forward and the backward field induce in
// the main winding. A loop m of coils with incidence A has the turns U_m = sum A_km T_k. Double revolving fields: A. E.
// Fitzgerald, C. Kingsley, S. D. Umans, Electric Machinery, chapter 9 (from memory, unverified).
namespace rewound::machine::detail {

/// Main and auxiliary branch, and a closed loop in each of main, auxiliary and speed winding.
inline constexpr std::size_t most_loops = 5;
using loop_vector = std::array<phasor, most_loops>;
using incidences = std::array<double, most_loops>;
using loop_matrix = std::array<loop_vector, most_loops>;

/// Which of the branches are connected: at rest, or running with the switch open.
enum class circuit_of { standing, running };

struct loops {
  std::size_t count = 0;
  loop_vector turns{};
  loop_matrix impedance{};
  std::size_t sources = 0;  ///< the first ones, which the supply feeds
};

/// Solved for the loop currents: i = supply V - forward Ef - backward Eb, and for the sums that the fields see.
struct circuit {
  loops of;
  loop_vector supply{}, forward{}, backward{};
  phasor ff, fb, bf, bb;  ///< sum conj(U) forward, sum conj(U) backward, sum U forward, sum U backward
  phasor f_supply, b_supply;
  double control_resistance_ohm = 0.0;  ///< part of the line's resistance that is no winding
  std::optional<double> capacitor_ohm;  ///< of the capacitor in the auxiliary branch, reactance
  double terminal_ratio = 1.0;          ///< of a winding's voltage over the supply's
  double line_ratio = 1.0;              ///< of the line's current over the sum of the fed loops
  double phases = 1.0;
};

inline void add_coil(loops& to, phasor turns, phasor impedance, const incidences& incidence) {
  for (std::size_t m = 0; m < to.count; ++m) {
    if (incidence[m] == 0.0) continue;
    to.turns[m] = to.turns[m] + incidence[m] * turns;
    for (std::size_t n = 0; n < to.count; ++n)
      to.impedance[m][n] = to.impedance[m][n] + (incidence[m] * incidence[n]) * impedance;
  }
}

/// A coil in the loops of `incidence`, less the turns that are closed on themselves in the loop `closed`. Of its
/// leakage a part is of the slot, shared by all turns, and the rest each turn's own; the closed turns' leakage says how
/// much.
///
/// @return the share of the coil's turns in each loop
inline incidences add_coil(loops& to, phasor turns, phasor impedance, const incidences& incidence,
                           const shorted_turns& shorted, int poles, std::size_t& closed) {
  const double s = shorted.share;
  if (s == 0.0) {
    add_coil(to, turns, impedance, incidence);
    return incidence;
  }
  const double r = shorted.resistance_lost();
  const double common = (s - shorted.leakage_share.value_or(std::min(s, s * s * poles))) / (s - s * s);
  const double own = (1.0 - common) * impedance.im;
  incidences loop{}, both{};
  loop[closed] = 1.0;
  for (std::size_t m = 0; m < most_loops; ++m) both[m] = (1.0 - s) * incidence[m];
  both[closed++] = s;
  add_coil(to, (1.0 - s) * turns, {(1.0 - r) * impedance.re, (1.0 - s) * own}, incidence);
  add_coil(to, s * turns, {r * impedance.re, s * own}, loop);
  add_coil(to, {}, {0.0, common * impedance.im}, both);
  return both;
}

/// Leakage that two coils have in common.
inline void add_common_leakage(loops& to, double reactance_ohm, const incidences& one, const incidences& other) {
  for (std::size_t m = 0; m < to.count; ++m)
    for (std::size_t n = 0; n < to.count; ++n)
      to.impedance[m][n].im += reactance_ohm * (one[m] * other[n] + other[m] * one[n]);
}

/// The speed winding, which lies in the main winding's slots, and what else stands in the line.
inline void add_line(loops& to, const induction_machine& m, const speed_step& step, const incidences& line,
                     const incidences& main, double frequency_ratio, std::size_t& closed) {
  const double n = step.speed_turns;
  if (n != 0.0) {
    const double leakage = step.speed_leakage_ohm.value_or(n * n * m.main_leakage_ohm);
    const phasor z{step.speed_resistance_ohm.value_or(n * m.main_resistance_ohm), frequency_ratio * leakage};
    const auto speed = add_coil(to, {n, 0.0}, z, line, step.shorted, m.poles, closed);
    const double common = step.speed_leakage_in_common * std::sqrt(leakage * m.main_leakage_ohm);
    add_common_leakage(to, frequency_ratio * common, main, speed);
  }
  phasor series{step.series_resistance_ohm, frequency_ratio * step.series_reactance_ohm};
  if (step.series_capacitance_F)
    series.im -= 1.0 / (2.0 * std::numbers::pi * m.rated_frequency_Hz * frequency_ratio * *step.series_capacitance_F);
  add_coil(to, {}, series, line);
}

/// The loops at `frequency_ratio` times the rated frequency.
inline loops loops_of(const induction_machine& m, const speed_step& step, bool with_auxiliary, double frequency_ratio) {
  loops out;
  out.sources = with_auxiliary ? 2 : 1;
  out.count = out.sources + (m.shorted.share != 0.0) + (with_auxiliary && m.auxiliary->shorted.share != 0.0) +
              (step.speed_turns != 0.0 && step.shorted.share != 0.0);
  std::size_t closed = out.sources;
  const phasor main_z{m.main_resistance_ohm, frequency_ratio * m.main_leakage_ohm};
  const auto main = add_coil(out, {1.0, 0.0}, main_z, {1.0}, m.shorted, m.poles, closed);
  if (with_auxiliary) {
    const auto& a = *m.auxiliary;
    const double w = 2.0 * std::numbers::pi * m.rated_frequency_Hz * frequency_ratio;
    add_coil(out, {0.0, a.turns_ratio}, {a.resistance_ohm, frequency_ratio * a.leakage_ohm}, {0.0, 1.0}, a.shorted,
             m.poles, closed);
    if (a.capacitance_F) add_coil(out, {}, {0.0, -1.0 / (w * *a.capacitance_F)}, {0.0, 1.0});
  }
  add_line(out, m, step, {1.0, with_auxiliary ? 1.0 : 0.0}, main, frequency_ratio, closed);
  return out;
}

/// Solves the loops' impedances for three right-hand sides at once. The resistive part is positive definite, every
/// winding having resistance, so that elimination needs no pivots.
inline void solve_loops(loop_matrix z, std::size_t count, std::array<loop_vector, 3>& sides) {
  for (std::size_t p = 0; p < count; ++p) {
    const phasor scale = inverse(z[p][p]);
    for (std::size_t m = p + 1; m < count; ++m) {
      const phasor factor = z[m][p] * scale;
      for (std::size_t n = p; n < count; ++n) z[m][n] = z[m][n] - factor * z[p][n];
      for (auto& side : sides) side[m] = side[m] - factor * side[p];
    }
  }
  for (auto& side : sides)
    for (std::size_t m = count; m-- > 0;) {
      for (std::size_t n = m + 1; n < count; ++n) side[m] = side[m] - z[m][n] * side[n];
      side[m] = side[m] / z[m][m];
    }
}

inline circuit circuit_from(const loops& of) {
  circuit out;
  out.of = of;
  std::array<loop_vector, 3> sides{};
  for (std::size_t m = 0; m < of.count; ++m) {
    sides[0][m] = {m < of.sources ? 1.0 : 0.0, 0.0};
    sides[1][m] = of.turns[m];
    sides[2][m] = conj(of.turns[m]);
  }
  solve_loops(of.impedance, of.count, sides);
  std::tie(out.supply, out.forward, out.backward) = std::tie(sides[0], sides[1], sides[2]);
  for (std::size_t m = 0; m < of.count; ++m) {
    const phasor u = of.turns[m];
    out.ff = out.ff + conj(u) * out.forward[m];
    out.fb = out.fb + conj(u) * out.backward[m];
    out.bf = out.bf + u * out.forward[m];
    out.bb = out.bb + u * out.backward[m];
    out.f_supply = out.f_supply + conj(u) * out.supply[m];
    out.b_supply = out.b_supply + u * out.supply[m];
  }
  return out;
}

/// The circuit of a machine on one speed's lead.
inline circuit circuit_for(const induction_machine& m, const speed_step& step, circuit_of state,
                           double frequency_ratio) {
  const bool with_auxiliary = m.auxiliary && !(m.auxiliary->switched_out && state == circuit_of::running);
  circuit out = circuit_from(loops_of(m, step, with_auxiliary, frequency_ratio));
  out.control_resistance_ohm = step.series_resistance_ohm;
  if (with_auxiliary && m.auxiliary->capacitance_F)
    out.capacitor_ohm =
        1.0 / (2.0 * std::numbers::pi * m.rated_frequency_Hz * frequency_ratio * *m.auxiliary->capacitance_F);
  out.terminal_ratio = out.line_ratio = step.autotransformer_ratio;
  if (m.phases == winding_phases::single) return out;
  out.phases = 3.0;
  if (m.phases == winding_phases::three_star) out.terminal_ratio /= std::numbers::sqrt3;
  if (m.phases == winding_phases::three_delta) out.line_ratio *= std::numbers::sqrt3;
  return out;
}

}  // namespace rewound::machine::detail
