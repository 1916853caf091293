// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <rewound/machine/detail/gap.hpp>
#include <utility>

// Where the motor's torque meets the load's.
namespace rewound::machine::detail {

inline double load_torque_Nm(const shaft_load& load, double speed_rad_s) {
  return load.friction_Nm + load.constant_Nm + speed_rad_s * (load.linear_Nm_s + speed_rad_s * load.square_Nm_s2);
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
    step =
        inverse_quadratic ? fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb) : 0.5;
    step = std::min(1.0 - share, std::max(share, step));
  }
  return std::abs(fa) < std::abs(fb) ? a : b;
}

/// Slips at which torques are compared, from standstill to synchronism: even steps down to a third, then even ones in
/// the logarithm.
inline constexpr std::size_t even_steps = 14, log_steps = 26, slip_count = even_steps + log_steps + 1;
inline const std::array<double, slip_count>& slip_grid() {
  static const auto grid = [] {
    std::array<double, slip_count> out{};
    for (std::size_t i = 0; i < even_steps; ++i) out[i] = 1.0 - 0.05 * static_cast<double>(i);
    for (std::size_t i = 0; i < log_steps; ++i)
      out[even_steps + i] = 0.3 * std::exp(std::log(5e-4 / 0.3) * static_cast<double>(i) / (log_steps - 1));
    return out;
  }();
  return grid;
}

struct balance_at {
  double slip;
  double excess;
};

/// Where the parabola through three points turns towards zero, when it does so between them.
inline std::optional<double> turn_towards_zero(const balance_at& a, const balance_at& b, const balance_at& c) {
  const double h0 = b.slip - a.slip, h1 = c.slip - b.slip;
  if (h0 == 0.0) return {};
  const double left = (b.excess - a.excess) / h0, right = (c.excess - b.excess) / h1;
  const double slope = (left * h1 + right * h0) / (h0 + h1), bend = (right - left) / (h0 + h1);
  if (bend * b.excess <= 0.0) return {};
  const double turn = b.slip - slope / (2.0 * bend);
  if ((turn - a.slip) * (turn - c.slip) >= 0.0 || turn == b.slip) return {};
  return turn;
}

/// The first zero of the balance on the way from one slip to another, none when it keeps its sign. A turn of the curve
/// towards zero between points of the grid is looked into, so that two zeros that lie close are not passed over.
inline std::optional<double> first_crossing(torque_balance& excess, double from, double to) {
  const auto& grid = slip_grid();
  const bool down = from > to;
  const auto zero = [&](const balance_at& a, const balance_at& b) {
    return zero_between(excess, a.slip, a.excess, b.slip, b.excess);
  };
  const balance_at start{from, excess(from)};
  const auto same_side = [positive = start.excess > 0.0](double value) { return positive ? value > 0.0 : value < 0.0; };
  balance_at before = start, last = start;
  for (std::size_t i = 0; i < slip_count && last.slip != to; ++i) {
    const double slip = down ? std::max(grid[i], to) : std::min(grid[slip_count - 1 - i], to);
    if (down ? slip >= last.slip : slip <= last.slip) continue;
    const balance_at now{slip, excess(slip)};
    if (!same_side(now.excess)) return zero(last, now);
    if (const auto turn = turn_towards_zero(before, last, now)) {
      const balance_at inside{*turn, excess(*turn)};
      if (!same_side(inside.excess)) return zero((*turn > last.slip) == down ? before : last, inside);
    }
    before = std::exchange(last, now);
  }
  return {};
}

/// The zero next to a slip at which the balance rises with slip, as it does where running is stable; none within a few
/// steps of a tenth.
inline std::optional<double> crossing_near(torque_balance& excess, double slip, double highest) {
  constexpr double tenth = 1.1;
  constexpr int steps = 5;
  if (!(slip > 0.0 && slip < highest)) return {};
  balance_at last{slip, excess(slip)};
  const bool up = last.excess < 0.0;
  for (int i = 0; i < steps; ++i) {
    const double next = up ? std::min(last.slip * tenth, highest) : last.slip / tenth;
    const balance_at now{next, excess(next)};
    if ((now.excess < 0.0) != up) return zero_between(excess, last.slip, last.excess, now.slip, now.excess);
    if (next == highest) break;
    last = now;
  }
  return {};
}

}  // namespace rewound::machine::detail
