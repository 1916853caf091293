// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>

#include <rewound/machine/detail/gap.hpp>

// Where the motor's torque meets the load's.
namespace rewound::machine::detail {

inline double load_torque_Nm(const shaft_load& load, double speed_rad_s) {
  return load.friction_Nm + load.constant_Nm + speed_rad_s * (load.linear_Nm_s + speed_rad_s * load.square_Nm_s2);
}

/// What a standing shaft resists with.
inline double breakaway_torque_Nm(const shaft_load& load) {
  return std::max(load.breakaway_Nm, load.friction_Nm + load.constant_Nm);
}

/// Motor's torque over the load's, at one voltage; remembers the gap voltage from slip to slip.
class torque_balance {
 public:
  torque_balance(const circuit& c, const rotor& r, const shaft_load& load, double supply_V)
      : circuit_(c), rotor_(r), load_(load), terminal_V_(supply_V * c.terminal_ratio) {}

  gap gap_at_slip(double slip) { return gap_at(circuit_, rotor_, slip, terminal_V_, guess_V_); }
  double torque(double slip) { return developed_torque(circuit_, rotor_, gap_at_slip(slip)); }
  double operator()(double slip) {
    return torque(slip) - load_torque_Nm(load_, (1.0 - slip) * rotor_.synchronous_rad_s);
  }

 private:
  const circuit& circuit_;
  const rotor& rotor_;
  const shaft_load& load_;
  double terminal_V_;
  double guess_V_ = 0.0;
};

/// A zero of f between a and b, where it has the values fa and fb of unlike sign: Chandrupatla's method (T. R.
/// Chandrupatla, Advances in Engineering Software 28, 1997, 145; from memory, unverified).
template <class Function>
double zero_between(Function& f, double a, double fa, double b, double fb) {
  double c = a, fc = fa, step = 0.5;
  for (int pass = 0; pass < 80; ++pass) {
    const double at = a + step * (b - a);
    const double value = f(at);
    if ((value > 0.0) == (fa > 0.0)) {
      c = std::exchange(a, at), fc = std::exchange(fa, value);
    } else {
      c = std::exchange(b, a), fc = std::exchange(fb, fa);
      a = at, fa = value;
    }
    const double best = std::abs(fa) < std::abs(fb) ? a : b;
    const double shortest = 1e-13 * std::abs(best) + 1e-16;
    const double share = shortest / std::abs(b - a);
    if (value == 0.0 || share > 0.5) return best;
    const double xi = (a - b) / (c - b), phi = (fa - fb) / (fc - fb);
    const bool inverse_quadratic = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
    step = inverse_quadratic ? fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb) : 0.5;
    step = std::min(1.0 - share, std::max(share, step));
  }
  return std::abs(fa) < std::abs(fb) ? a : b;
}

/// Slips at which torques are compared, from standstill to synchronism, evenly in the logarithm.
inline constexpr std::size_t slip_count = 38;
inline const std::array<double, slip_count>& slip_grid() {
  static const auto grid = [] {
    std::array<double, slip_count> out{};
    for (std::size_t i = 0; i + 1 < slip_count; ++i) out[i] = std::exp(std::log(5e-4) * static_cast<double>(i) / (slip_count - 2));
    return out;
  }();
  return grid;
}

/// The first zero of the balance on the way from `from` to `to` where it turns to the sign of `ends_positive`. A turn
/// of the curve between grid points is looked into, so that two zeros that lie close are not passed over.
inline std::optional<double> first_crossing(torque_balance& excess, double from, double to) {
  const double way = from > to ? -1.0 : 1.0;
  const double start = excess(from);
  const bool positive = start > 0.0;
  std::array<double, 3> slips{from, from, from}, values{start, start, start};
  const auto look = [&](double slip, double value) -> std::optional<double> {
    if ((value > 0.0) == positive && value != 0.0) {
      slips = {slips[1], slips[2], slip}, values = {values[1], values[2], value};
      return {};
    }
    return zero_between(excess, slips[2], values[2], slip, value);
  };
  const auto& grid = slip_grid();
  for (std::size_t i = 0; i < slip_count; ++i) {
    const double slip = way < 0.0 ? grid[i] : grid[slip_count - 1 - i];
    if (way * (slip - from) <= 0.0 || way * (to - slip) < 0.0) continue;
    if (const auto found = look(slip, excess(slip))) return found;
    const double left = values[1] - values[0], right = values[2] - values[1];
    const double h0 = slips[1] - slips[0], h1 = slips[2] - slips[1];
    if (h0 == 0.0 || left * right >= 0.0 || (right > 0.0) != positive) continue;
    const double slope = (left / h0 * h1 + right / h1 * h0) / (h0 + h1), bend = (right / h1 - left / h0) / (h0 + h1);
    const double turn = slips[1] - slope / (2.0 * bend);
    const double value = excess(turn);
    if ((value > 0.0) == positive) continue;
    return way * (turn - slips[1]) > 0.0 ? zero_between(excess, slips[1], values[1], turn, value)
                                         : zero_between(excess, slips[0], values[0], turn, value);
  }
  return {};
}

}  // namespace rewound::machine::detail
