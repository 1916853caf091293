// SPDX-License-Identifier: MIT
#include "evidence/evidence_blocks.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Cholesky>

#include <rewound/checks/expected_current.hpp>

#include "analysis/machine_kind_of.hpp"
#include "analysis/meter_gain.hpp"

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

std::optional<std::size_t> find_block(const pooled_reference& model, const std::string& speed, channel what) {
  for (std::size_t i = 0; i < model.blocks.size(); ++i)
    if (model.blocks[i].speed == speed && model.blocks[i].what == what) return i;
  return std::nullopt;
}

}  // namespace

std::vector<evidence_block> evidence_blocks(const record::visit_record& now, const pooled_reference& model,
                                            const std::vector<checks::summary_input>& channels) {
  std::vector<evidence_block> out;
  for (std::size_t step = 0; step < now.machine.speeds.size(); ++step) {
    const auto& speed = now.machine.speeds[step];
    if (find_input(channels, speed, channel::current) == nullptr || !find_block(model, speed, channel::current))
      continue;
    for (const auto what : {channel::current, channel::power, channel::rotation})
      out.push_back({step, what, find_input(channels, speed, what), find_block(model, speed, what)});
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
                                    Eigen::Index rest) {
  std::vector<std::size_t> read;
  for (std::size_t i = 0; i < blocks.size(); ++i)
    if (blocks[i].observed()) read.push_back(i);
  const auto rows = static_cast<Eigen::Index>(3 * read.size());
  checks::observed_deviations out{Eigen::MatrixXd::Zero(rows, static_cast<Eigen::Index>(3 * blocks.size()) + rest),
                                  Eigen::VectorXd(rows), Eigen::MatrixXd::Identity(rows, rows)};
  const auto meters = meters_of(now.instruments);
  Eigen::MatrixXd gains = Eigen::MatrixXd::Zero(out.observation.cols(), out.observation.cols());
  for (std::size_t r = 0; r < read.size(); ++r) {
    const auto& block = blocks[read[r]];
    const auto row = static_cast<Eigen::Index>(3 * r);
    const auto column = static_cast<Eigen::Index>(3 * read[r]);
    const auto whole = checks::summarise(*block.input).information;
    const auto& shape = model.shapes[*block.known];
    const auto own = fit::parabola_of(whole, shape);
    constexpr double nothing_known = 1e-6;  // what the readings leave open is then observed as noise alone
    const Eigen::LLT<Eigen::Matrix3d> root(
        Eigen::Matrix3d(own.precision + nothing_known * Eigen::Matrix3d::Identity()));
    const Eigen::Vector3d mean = model.population.mean.segment<3>(static_cast<Eigen::Index>(3 * *block.known));
    out.observation.block<3, 3>(row, column) = root.matrixL().solve(Eigen::Matrix3d(own.precision));
    out.values.segment<3>(row) = root.matrixL().solve(Eigen::Vector3d(own.weighted - own.precision * mean));
    const Eigen::MatrixXd carried =
        root.matrixL().solve(Eigen::MatrixXd(whole.precision.topRightCorner(3, shape.coefficients.size())));
    out.noise.block<3, 3>(row, row) += carried * shape.covariance * carried.transpose();
    const double gain = level_gain(meters, machines, block.what);
    for (const auto other : read)
      if (blocks[other].what == block.what) gains(column, static_cast<Eigen::Index>(3 * other)) = gain * gain;
  }
  out.noise += out.observation * gains * out.observation.transpose();
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
