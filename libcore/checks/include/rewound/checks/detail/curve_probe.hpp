// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/mean_shape.hpp>
#include <rewound/fit/summary_block.hpp>
#include <rewound/machine/running_point.hpp>

namespace rewound::checks {

/// Where the curves of one speed are looked at, and which of its channels.
struct curve_probe {
  std::size_t step = 0;       ///< index of the speed, 0 the fastest
  std::vector<double> log_x;  ///< ln(voltage / rated), one to three, falling
  std::vector<fit::channel> channels;
};

/// Number of values that probes look at.
inline Eigen::Index value_count(const std::vector<curve_probe>& probes) {
  std::size_t count = 0;
  for (const auto& probe : probes) count += probe.channels.size() * probe.log_x.size();
  return static_cast<Eigen::Index>(count);
}

/// Number of parabola coefficients: three a speed and channel.
inline Eigen::Index coefficient_count(const std::vector<curve_probe>& probes) {
  std::size_t count = 0;
  for (const auto& probe : probes) count += probe.channels.size();
  return fit::parabola_terms * static_cast<Eigen::Index>(count);
}

namespace detail {

/// Meters show nothing below a thousandth of the usual: an open lead, a rotor at rest.
inline double shown_log(double value, double usual) { return std::log(std::max(value, 1e-3 * usual)); }

inline double log_value(const machine::operating_point& at, fit::channel what, const machine::induction_machine& m) {
  switch (what) {
    case fit::channel::current: return shown_log(units::in_amperes(at.line_current), 0.1);
    case fit::channel::power: return shown_log(units::in_watts(at.input), 0.01 * m.rated_voltage_V);
    case fit::channel::rotation: break;
  }
  return shown_log(units::in_rpm(at.speed), 20.0 * m.rated_frequency_Hz);
}

/// ln of what a design shows at the probes: probe by probe, channel by channel, voltage by voltage; and where it
/// settles there.
struct probe_solution {
  Eigen::VectorXd values;
  std::vector<machine::settled_point> settled;
};

/// @param near  where a design much like this one settles; empty where none is known
inline probe_solution solve_probes(const machine::fan_design& design, const std::vector<curve_probe>& probes,
                                   const std::vector<machine::settled_point>& near = {}) {
  probe_solution out{Eigen::VectorXd(value_count(probes)), {}};
  Eigen::Index first = 0;
  for (const auto& probe : probes) {
    const auto nodes = static_cast<Eigen::Index>(probe.log_x.size());
    for (Eigen::Index node = 0; node < nodes; ++node) {
      const auto volts =
          units::volts(design.machine.rated_voltage_V * std::exp(probe.log_x[static_cast<std::size_t>(node)]));
      const auto at = near.empty() ? machine::running_point_when_turning(design, probe.step, volts)
                                   : machine::running_point_near(design, probe.step, volts, near[out.settled.size()]);
      out.settled.push_back(machine::settled(at));
      for (std::size_t c = 0; c < probe.channels.size(); ++c)
        out.values[first + static_cast<Eigen::Index>(c) * nodes + node] =
            log_value(at, probe.channels[c], design.machine);
    }
    first += nodes * static_cast<Eigen::Index>(probe.channels.size());
  }
  return out;
}

/// The parabola through what one channel shows at one to three voltages: level, slope and curvature at the rated one.
inline Eigen::Vector3d parabola_through(const std::vector<double>& z, const double* values) {
  if (z.size() == 1) return {values[0], 0.0, 0.0};
  const double first = (values[1] - values[0]) / (z[1] - z[0]);
  if (z.size() == 2) return {values[0] - first * z[0], first, 0.0};
  const double second = ((values[2] - values[1]) / (z[2] - z[1]) - first) / (z[2] - z[0]);
  return {values[0] - first * z[0] + second * z[0] * z[1], first - second * (z[0] + z[1]), second};
}

/// Coefficients of the parabolas through differences of probe values, three a speed and channel.
inline Eigen::VectorXd coefficients_of(const Eigen::VectorXd& differences, const std::vector<curve_probe>& probes) {
  Eigen::VectorXd out(coefficient_count(probes));
  Eigen::Index first = 0;
  Eigen::Index at = 0;
  for (const auto& probe : probes)
    for (std::size_t c = 0; c < probe.channels.size(); ++c) {
      const auto parabola = parabola_through(probe.log_x, differences.data() + first);
      for (Eigen::Index k = 0; k < fit::parabola_terms; ++k) out[at + k] = parabola[k];
      first += static_cast<Eigen::Index>(probe.log_x.size());
      at += fit::parabola_terms;
    }
  return out;
}

}  // namespace detail

}  // namespace rewound::checks
