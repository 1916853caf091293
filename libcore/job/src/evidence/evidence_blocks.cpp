// SPDX-License-Identifier: MIT
#include "evidence/evidence_blocks.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <rewound/checks/expected_current.hpp>
#include <rewound/fit/dense.hpp>

#include "analysis/machine_kind_of.hpp"
#include "analysis/meter_gain.hpp"
#include "analysis/run_up_analysis.hpp"

namespace rewound::job {

namespace {

using fit::channel;

/// Where a curve read between two voltages is looked at: both ends and the middle, fewer when they lie close. The ends
/// are taken in steps of 5 %, so that what is worked out for one machine serves the next of its model
/// (job/src/prepared_designs.hpp).
std::vector<double> nodes_of(const checks::summary_input& in) {
  const auto [least, most] = std::minmax_element(in.readings.begin(), in.readings.end(),
                                                 [](const auto& a, const auto& b) { return a.x < b.x; });
  constexpr double half_voltage = -0.7;  // below it small fans stall
  const auto in_steps = [](double z) { return std::round(20.0 * z) / 20.0; };
  const double high = in_steps(std::clamp(std::log(most->x), -0.4, 0.1));
  const double low = std::min(in_steps(std::clamp(std::log(least->x), half_voltage, 0.1)), high);
  if (high - low < 0.04) return {0.5 * (high + low)};
  if (high - low < 0.2) return {high, low};
  return {high, 0.5 * (high + low), low};
}

const checks::summary_input* find_input(const std::vector<checks::summary_input>& channels, const std::string& speed,
                                        channel what) {
  for (const auto& input : channels)
    if (input.speed == speed && input.what == what) return &input;
  return nullptr;
}

/// Slopes and curvatures that readings leave open are held about to what is usual: they are not moved by a meter's zero
/// or by a curve's shape.
constexpr std::array<double, 3> held_open{1e-6, 2.0, 2.0};

Eigen::MatrixXd with_open_held(Eigen::MatrixXd precision) {
  for (std::size_t k = 0; k < held_open.size(); ++k)
    precision(static_cast<Eigen::Index>(k), static_cast<Eigen::Index>(k)) += held_open[k];
  return precision;
}

/// By how much the mean of machines follows their common shape's coefficients, with its sign turned.
Eigen::MatrixXd mean_over_shape(const std::vector<reference_machine>& machines,
                                const pooled_reference::block_key& key) {
  const Eigen::Index rest = checks::shape_spread().size();
  Eigen::MatrixXd precision = Eigen::MatrixXd::Zero(fit::parabola_terms, fit::parabola_terms);
  Eigen::MatrixXd across = Eigen::MatrixXd::Zero(fit::parabola_terms, rest);
  for (const auto& machine : machines)
    for (const auto& block : machine.blocks) {
      if (block.speed != key.speed || block.what != key.what) continue;
      const auto& whole = block.information.precision;
      precision += fit::part(whole, 0, 0, fit::parabola_terms, fit::parabola_terms);
      across += fit::part(whole, 0, fit::parabola_terms, fit::parabola_terms, rest);
    }
  return fit::cholesky_factor(with_open_held(precision)).solve_columns(across);
}

checks::summary_input scaled(checks::summary_input in, double share) {
  for (auto& reading : in.readings) reading.relative_u_x *= share, reading.relative_u_current *= share;
  return in;
}

/// Meters whose zeros are told apart: of amperes, watts, rpm, then volts.
constexpr Eigen::Index zero_count = 4;

/// What the zeros do to one channel's parabola's weighted sums: a column a meter.
Eigen::MatrixXd zeros_of_block(const checks::summary_input& in) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(fit::parabola_terms, zero_count);
  const auto found = checks::zeros_of(scaled(in, checks::own_share));
  const double shared = std::sqrt(1.0 - checks::own_share * checks::own_share) / checks::own_share;
  for (Eigen::Index k = 0; k < fit::parabola_terms; ++k)
    out(k, static_cast<Eigen::Index>(in.what)) = shared * found.own[k];
  out.col(zero_count - 1) = shared * found.volts.head(fit::parabola_terms);
  return out;
}

}  // namespace

std::vector<evidence_block> evidence_blocks(const record::visit_record& now, const pooled_reference& model,
                                            const std::vector<checks::summary_input>& channels) {
  std::vector<evidence_block> out;
  for (std::size_t step = 0; step < now.machine.speeds.size(); ++step) {
    const auto& speed = now.machine.speeds[step];
    if (find_input(channels, speed, channel::current) == nullptr || !model.place_of(speed, channel::current)) continue;
    for (const auto what : {channel::current, channel::power, channel::rotation})
      out.push_back({step, what, find_input(channels, speed, what), model.place_of(speed, what)});
  }
  return out;
}

std::vector<checks::curve_probe> probes_of(const std::vector<evidence_block>& blocks, bool known_alone) {
  std::vector<checks::curve_probe> out;
  for (const auto& block : blocks) {
    if (block.what == channel::current) out.push_back({block.step, nodes_of(*block.input), {}});
    if (!known_alone || block.known) out.back().channels.push_back(block.what);
  }
  return out;
}

checks::observed_deviations observe(const visit_facts& now, const std::vector<evidence_block>& blocks,
                                    const pooled_reference& model, const std::vector<reference_machine>& machines,
                                    bool same_machine, Eigen::Index rest) {
  std::vector<std::size_t> read;
  for (std::size_t i = 0; i < blocks.size(); ++i)
    if (blocks[i].observed()) read.push_back(i);
  const auto rows = static_cast<Eigen::Index>(3 * read.size());
  checks::observed_deviations out{Eigen::MatrixXd::Zero(rows, static_cast<Eigen::Index>(3 * blocks.size()) + rest),
                                  Eigen::VectorXd(rows), Eigen::MatrixXd::Identity(rows, rows)};
  const auto meters = meters_of(now.instruments);
  Eigen::MatrixXd gains = Eigen::MatrixXd::Zero(out.observation.cols(), out.observation.cols());
  Eigen::MatrixXd zeros(rows, zero_count);
  for (std::size_t r = 0; r < read.size(); ++r) {
    const auto& block = blocks[read[r]];
    const auto row = static_cast<Eigen::Index>(3 * r);
    const auto column = static_cast<Eigen::Index>(3 * read[r]);
    const auto whole = checks::summarise(scaled(*block.input, checks::own_share)).information;
    const auto& shape = model.shapes[*block.known];
    const auto own = fit::parabola_of(whole, shape);
    constexpr double nothing_known = 1e-6;  // what the readings leave open is then observed as noise alone
    Eigen::MatrixXd held = own.precision;
    for (Eigen::Index k = 0; k < 3; ++k) held(k, k) += nothing_known;
    const fit::cholesky_factor root(std::move(held));
    const Eigen::VectorXd mean = fit::part(model.population.mean, static_cast<Eigen::Index>(3 * *block.known), 3);
    fit::put_part(out.observation, row, column, root.whitened_columns(own.precision));
    const Eigen::VectorXd values = root.whitened(own.weighted - fit::applied(own.precision, mean));
    for (Eigen::Index k = 0; k < 3; ++k) out.values[row + k] = values[k];
    fit::put_part(zeros, row, 0, root.whitened_columns(zeros_of_block(*block.input)));
    Eigen::MatrixXd over_shape = fit::part(whole.precision, 0, 3, 3, shape.coefficients.size());
    // What the machine's own shape is off by moved the earlier visit as well: it tells only where that was read
    // otherwise.
    if (same_machine) over_shape -= fit::product(own.precision, mean_over_shape(machines, model.blocks[*block.known]));
    const Eigen::MatrixXd of_shape = fit::carried(root.whitened_columns(over_shape), shape.covariance);
    for (Eigen::Index k = 0; k < 3; ++k)
      for (Eigen::Index i = 0; i < 3; ++i) out.noise(row + i, row + k) += of_shape(i, k);
    const double gain = level_gain(meters, machines, block.what);
    for (const auto other : read)
      if (blocks[other].what == block.what) gains(column, static_cast<Eigen::Index>(3 * other)) = gain * gain;
  }
  out.noise += fit::carried(out.observation, gains);
  out.noise += fit::product(zeros, fit::transposed(zeros));
  return out;
}

reference reference_of_channels(const visit_facts& visit, const std::vector<checks::summary_input>& channels) {
  const auto& machine = visit.in.machine;
  reference_machine one{machine.id, visit.in.visit.day, meters_of(visit.instruments), {}, std::nullopt};
  for (const auto& input : channels) one.blocks.push_back(checks::summarise(input));
  return {machine.model.value_or(""), machine.rated_voltage_V, machine.rated_frequency_Hz,
          visit.in.visit.shaft,       {std::move(one)},        {}};
}

close_reading read_closely(const visit_facts& visit, const std::vector<checks::summary_input>& channels,
                           const verdict::policy& policy) {
  std::vector<checks::summary_input> close;
  for (const auto& input : channels) close.push_back(scaled(input, checks::own_share));
  close_reading out{reference_of_channels(visit, close), {}, {}};
  const auto& blocks = out.machine.machines.front().blocks;
  out.pooled = pool_reference(out.machine, between_visits(policy));
  out.zeros = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(3 * out.pooled.blocks.size()), zero_count);
  for (std::size_t i = 0; i < channels.size(); ++i) {
    const auto place = out.pooled.place_of(channels[i].speed, channels[i].what);
    if (!place) continue;
    const auto parabola = fit::parabola_of(blocks[i].information, out.pooled.shapes[*place]);
    const fit::cholesky_factor factor(with_open_held(parabola.precision));
    fit::put_part(out.zeros, static_cast<Eigen::Index>(3 * *place), 0,
                  factor.solve_columns(zeros_of_block(channels[i])));
  }
  return out;
}

Eigen::VectorXd known_values(const std::vector<evidence_block>& blocks, const pooled_reference& model,
                             const std::vector<checks::curve_probe>& probes) {
  Eigen::VectorXd out(checks::value_count(probes));
  Eigen::Index at = 0;
  for (const auto& probe : probes)
    for (const auto what : probe.channels)
      for (const double z : probe.log_x) {
        const auto block = std::find_if(blocks.begin(), blocks.end(),
                                        [&](const auto& each) { return each.step == probe.step && each.what == what; });
        const auto place = static_cast<Eigen::Index>(3 * *block->known);
        out[at++] =
            checks::expected_current({model.population, model.shapes[*block->known], place, std::exp(z)}).log_value;
      }
  return out;
}

const std::array<double, 3>& nameplate_misfit(channel what) {
  // Level, slope and curvature of amperes, watts over volt-amperes, rpm (common practice, no source).
  static constexpr std::array<std::array<double, 3>, 3> misfit{{{0.15, 0.2, 0.3}, {0.2, 0.25, 0.3}, {0.05, 0.10, 0.3}}};
  return misfit[static_cast<std::size_t>(what)];
}

double reading_uncertainty(const visit_facts& now, channel what) {
  // Digits beside the gain, where the size of the reading is not known yet (common practice, no source).
  constexpr double digits = 0.004;
  return std::hypot(level_gain(meters_of(now.instruments), {}, what), digits);
}

}  // namespace rewound::job
