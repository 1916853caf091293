// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <rewound/machine/detail/gap.hpp>
#include <rewound/machine/operating_point.hpp>
#include <utility>

// Where the motor's torque meets the load's.
namespace rewound::machine::detail {

inline double load_torque_Nm(const shaft_load& load, double speed_rad_s) {
  return load.friction_Nm + load.constant_Nm + speed_rad_s * (load.linear_Nm_s + speed_rad_s * load.square_Nm_s2);
}

/// How far a slip and a gap voltage are from agreeing with each other and with the load.
struct settling_residual {
  double volts;  ///< of the gap's, over those given
  double torque_Nm;
};

/// Motor's torque over the load's, at one voltage; remembers the gap voltage from slip to slip.
class torque_balance {
 public:
  torque_balance(const circuit& c, const rotor& r, const shaft_load& load, double supply_V)
      : circuit_(c), rotor_(r), load_(load), terminal_V_(supply_V * c.terminal_ratio) {}

  gap gap_at_slip(double slip) { return gap_at(circuit_, rotor_, slip, terminal_V_, guess_V_); }
  double torque(double slip) { return developed_torque(circuit_, rotor_, gap_at_slip(slip)); }
  double operator()(double slip) { return excess(gap_at_slip(slip), slip); }

  /// Near enough to tell the sign where the balance is not close to zero.
  double roughly(double slip) {
    constexpr double rough = 1e-6;
    return excess(gap_at(circuit_, rotor_, slip, terminal_V_, guess_V_, rough), slip);
  }

  /// With the gap voltage given as well, whether or not the two agree.
  settling_residual missed_at(const settled_point& point) const {
    const gap g = gap_with(circuit_, rotor_, point.slip, terminal_V_, saturated_magnetising(rotor_, point.gap_V));
    return {std::sqrt(norm(g.forward)) + std::sqrt(norm(g.backward)) - point.gap_V, excess(g, point.slip)};
  }

 private:
  double excess(const gap& g, double slip) const {
    return developed_torque(circuit_, rotor_, g) - load_torque_Nm(load_, (1.0 - slip) * rotor_.synchronous_rad_s);
  }

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
  // Exactly at the two ends first; none where what was told roughly had the wrong sign.
  const auto zero = [&](const balance_at& a, const balance_at& b) -> std::optional<double> {
    const double at_a = excess(a.slip), at_b = excess(b.slip);
    if (at_b == 0.0) return b.slip;
    if ((at_a > 0.0) == (at_b > 0.0)) return std::nullopt;
    return zero_between(excess, a.slip, at_a, b.slip, at_b);
  };
  const balance_at start{from, excess(from)};
  const auto same_side = [positive = start.excess > 0.0](double value) { return positive ? value > 0.0 : value < 0.0; };
  balance_at before = start, last = start;
  for (std::size_t i = 0; i < slip_count && last.slip != to; ++i) {
    const double slip = down ? std::max(grid[i], to) : std::min(grid[slip_count - 1 - i], to);
    if (down ? slip >= last.slip : slip <= last.slip) continue;
    const balance_at now{slip, excess.roughly(slip)};
    if (!same_side(now.excess))
      if (const auto found = zero(last, now)) return found;
    if (const auto turn = turn_towards_zero(before, last, now)) {
      const balance_at inside{*turn, excess(*turn)};
      if (!same_side(inside.excess))
        if (const auto found = zero((*turn > last.slip) == down ? before : last, inside)) return found;
    }
    before = std::exchange(last, now);
  }
  return {};
}

/// Slopes of the two residuals in slip (first) and in volts.
struct settling_slopes {
  double volts_slip, volts_volts, torque_slip, torque_volts;
  settled_point scale;  ///< a step of one in each counts alike

  static settling_slopes about(const torque_balance& in, const settled_point& point, const settling_residual& here) {
    constexpr double small = 1e-7;
    const double ds = small * (point.slip + small), dv = small * point.gap_V;
    const auto slip = in.missed_at({point.slip + ds, point.gap_V}),
               volts = in.missed_at({point.slip, point.gap_V + dv});
    return {(slip.volts - here.volts) / ds, (volts.volts - here.volts) / dv, (slip.torque_Nm - here.torque_Nm) / ds,
            (volts.torque_Nm - here.torque_Nm) / dv, point};
  }

  double determinant() const { return volts_slip * torque_volts - volts_volts * torque_slip; }

  /// Newton's step from here.
  settled_point step(const settling_residual& here) const {
    const double d = determinant();
    return {(volts_volts * here.torque_Nm - torque_volts * here.volts) / d,
            (torque_slip * here.volts - volts_slip * here.torque_Nm) / d};
  }

  /// After a step, from what it left (C. G. Broyden, Mathematics of Computation 19 (1965) 577; from memory,
  /// unverified), in shares of `scale`.
  void learn(const settled_point& step, const settling_residual& left) {
    // A full Newton step was to leave nothing: what it left is what the slopes were wrong by along it.
    const double slip = step.slip / scale.slip, volts = step.gap_V / scale.gap_V;
    const double square = slip * slip + volts * volts;
    volts_slip += left.volts * slip / square / scale.slip;
    volts_volts += left.volts * volts / square / scale.gap_V;
    torque_slip += left.torque_Nm * slip / square / scale.slip;
    torque_volts += left.torque_Nm * volts / square / scale.gap_V;
  }

  /// Whether torque over the load's rises with slip where the volts agree: running is stable there.
  bool stable() const { return torque_slip - torque_volts * volts_slip / volts_volts > 0.0; }
};

/// The stable point next to the one at which a machine much like this one settled: Newton's steps in slip and gap
/// voltage at once, quicker than a search for the slip with one for the volts within. None where they leave the
/// neighbourhood, or end where running is not stable.
inline std::optional<settled_point> settle_near(const torque_balance& in, const settled_point& near, double highest) {
  constexpr double neighbourhood = 1.6;  // of the slip, times or divided by
  constexpr double enough = 1e-8;        // the last step as a share: what is left is far smaller
  constexpr int most = 10;
  if (!(near.slip > 0.0 && near.slip < highest && near.gap_V > 0.0)) return {};
  settled_point at = near;
  auto missed = in.missed_at(at);
  auto slopes = settling_slopes::about(in, at, missed);
  for (int pass = 0; pass < most; ++pass) {
    const auto step = slopes.step(missed);
    at = {at.slip + step.slip, at.gap_V + step.gap_V};
    const bool inside = at.slip < highest && at.slip < neighbourhood * near.slip &&
                        at.slip * neighbourhood > near.slip && at.gap_V > 0.5 * near.gap_V &&
                        at.gap_V < 2.0 * near.gap_V;
    if (!inside) return {};
    if (std::abs(step.slip) < enough * at.slip && std::abs(step.gap_V) < enough * at.gap_V)
      return slopes.stable() ? std::optional{at} : std::nullopt;
    missed = in.missed_at(at);
    slopes.learn(step, missed);
  }
  return {};
}

}  // namespace rewound::machine::detail
