// SPDX-License-Identifier: MIT
#include "electrical_evidence.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Cholesky>

#include <rewound/checks/design_match.hpp>
#include <rewound/checks/expected_current.hpp>
#include <rewound/checks/fault_signatures.hpp>
#include <rewound/machine/fan_population.hpp>
#include <rewound/verdict/cause.hpp>
#include <rewound/verdict/cause_tables.hpp>

#include "meter_gain.hpp"

namespace rewound::job {

namespace {

using fit::channel;
using probe_list = std::vector<checks::detail::curve_probe>;

/// One channel of one speed that was read, and where it stands in the pooled reference.
struct read_block {
  const checks::summary_input* input;
  Eigen::Index place;       ///< of its three coefficients in the reference
  std::size_t model_block;  ///< index in the reference's blocks
};

std::size_t index_of(const std::vector<std::string>& speeds, const std::string& speed) {
  return static_cast<std::size_t>(std::find(speeds.begin(), speeds.end(), speed) - speeds.begin());
}

/// Where a curve read between two voltages is looked at: both ends and the middle, fewer when they lie close.
std::vector<double> nodes_between(double low_x, double high_x) {
  constexpr double lowest = -0.7;  // half the rated voltage: below it small fans stall
  const double high = std::clamp(std::log(high_x), -0.4, 0.1);
  const double low = std::clamp(std::log(low_x), lowest, high);
  if (high - low < 0.04) return {0.5 * (high + low)};
  if (high - low < 0.2) return {high, low};
  return {high, 0.5 * (high + low), low};
}

std::vector<double> nodes_of(const checks::summary_input& in) {
  const auto [low, high] = std::minmax_element(in.readings.begin(), in.readings.end(),
                                               [](const auto& a, const auto& b) { return a.x < b.x; });
  return nodes_between(low->x, high->x);
}

/// The blocks that both sides know: speed by speed, fastest first, currents before watts and rpm.
std::vector<read_block> blocks_read(const visit_facts& now, const pooled_reference& model,
                                    const std::vector<checks::summary_input>& channels) {
  std::vector<read_block> out;
  for (const auto& speed : now.in.machine.speeds)
    for (const auto what : {channel::current, channel::power, channel::rotation})
      for (const auto& input : channels)
        for (std::size_t i = 0; i < model.blocks.size(); ++i)
          if (input.speed == speed && input.what == what && model.blocks[i].speed == speed && model.blocks[i].what == what)
            out.push_back({&input, static_cast<Eigen::Index>(3 * i), i});
  return out;
}

probe_list probes_of(const visit_facts& now, const std::vector<read_block>& blocks) {
  probe_list out;
  for (const auto& block : blocks) {
    const auto step = index_of(now.in.machine.speeds, block.input->speed);
    if (out.empty() || out.back().step != step) out.push_back({step, nodes_of(*block.input), {}});
    out.back().channels.push_back(block.input->what);
  }
  return out;
}

std::optional<int> poles_of(const visit_facts& now) {
  if (now.in.machine.poles) return now.in.machine.poles;
  double fastest = 0.0;
  for (const auto& run : now.in.run_up)
    for (const double rpm : run.speed_rpm) fastest = std::max(fastest, rpm);
  if (fastest <= 0.0) return std::nullopt;
  // The nearest synchronous speed above what it turns at.
  const int pairs = static_cast<int>(60.0 * now.in.machine.rated_frequency_Hz / (fastest * 1.002));
  return 2 * std::clamp(pairs, 1, 12);
}

machine::machine_kind kind_of(const visit_facts& now) {
  const auto& m = now.in.machine;
  return {m.running_circuit, m.speed_control, m.phases, m.rated_voltage_V, m.rated_frequency_Hz,
          poles_of(now), now.in.visit.shaft == shaft_condition::loaded, m.speeds.size()};
}

std::vector<checks::weighed_fault> faults_for(const machine_section& machine) {
  std::vector<checks::weighed_fault> out;
  const auto cause_of = [](std::string_view name) { return static_cast<std::size_t>(verdict::cause_named(name).value()); };
  for (const auto& row : verdict::cause_tables::fault_severity)
    for (const auto fault : machine::all_faults) {
      if (machine::name(fault) != row.fault) continue;
      if (fault != machine::fault::speed_leads_exchanged) out.push_back({cause_of(row.fault), fault, row.least, row.most});
      else
        for (std::size_t n = 1; n < machine.speeds.size(); ++n)
          out.push_back({cause_of(row.fault), fault, static_cast<double>(n), static_cast<double>(n)});
    }
  // The other of the two mains frequencies there are.
  const double other = machine.rated_frequency_Hz < 55.0 ? 60.0 / 50.0 - 1.0 : 50.0 / 60.0 - 1.0;
  out.push_back({cause_of("wrong_frequency"), machine::fault::wrong_frequency, other, other});
  return out;
}

/// Amperes read on another range than was thought: on all speeds, or on one.
void add_meter_ranges(const std::vector<pooled_reference::block_key>& blocks, Eigen::Index size, std::vector<checks::alternative>& out) {
  const auto cause = static_cast<std::size_t>(verdict::cause::meter_range);
  for (const double factor : {-3.0, -1.0, 1.0, 3.0}) {
    Eigen::VectorXd all = Eigen::VectorXd::Zero(size);
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      if (blocks[i].what != channel::current) continue;
      Eigen::VectorXd one = Eigen::VectorXd::Zero(size);
      one[static_cast<Eigen::Index>(3 * i)] = all[static_cast<Eigen::Index>(3 * i)] = factor * std::log(10.0);
      out.push_back({cause, 1.0, std::move(one)});
    }
    out.push_back({cause, 1.0, std::move(all)});
  }
}

/// What a fault outside the list may do to level, slope and curvature (common practice, no source).
Eigen::MatrixXd unknown_fault(std::size_t blocks, Eigen::Index size) {
  Eigen::VectorXd spread = Eigen::VectorXd::Zero(size);
  for (std::size_t i = 0; i < blocks; ++i) spread.segment<3>(static_cast<Eigen::Index>(3 * i)) << 0.25, 0.4, 0.4;
  return spread.array().square().matrix().asDiagonal();
}

constexpr double unknown_share = 0.15;  // of faults (common practice, no source)

/// Readings as observations of the deviations, in coordinates in which their noise is the unit matrix.
checks::observed_deviations observe(const visit_facts& now, const std::vector<read_block>& blocks,
                                    const pooled_reference& model, const std::vector<reference_machine>& machines,
                                    bool gains_alone) {
  const auto rows = static_cast<Eigen::Index>(3 * blocks.size());
  checks::observed_deviations out{Eigen::MatrixXd::Zero(rows, rows + checks::resistance_entries), Eigen::VectorXd(rows),
                                  Eigen::MatrixXd::Identity(rows, rows)};
  const auto meters = meters_of(now.instruments);
  Eigen::MatrixXd gains = Eigen::MatrixXd::Zero(rows, rows);
  const auto gain_of = [&](channel what) {
    if (!gains_alone) return level_gain(meters, machines, what);
    return std::hypot(meters.at(meter_of(what)).gain_uncertainty, meters.at("voltmeter").gain_uncertainty);
  };
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    const auto at = static_cast<Eigen::Index>(3 * i);
    const auto whole = checks::summarise(*blocks[i].input).information;
    const auto& shape = model.shapes[blocks[i].model_block];
    const auto own = fit::parabola_of(whole, shape);
    constexpr double nothing_known = 1e-6;  // what the readings leave open is then observed as noise alone
    const Eigen::Matrix3d precision = own.precision + nothing_known * Eigen::Matrix3d::Identity();
    const Eigen::LLT<Eigen::Matrix3d> root(precision);
    const Eigen::Vector3d mean = model.population.mean.segment<3>(blocks[i].place);
    out.observation.block<3, 3>(at, at) = root.matrixL().solve(Eigen::Matrix3d(own.precision));
    out.values.segment<3>(at) = root.matrixL().solve(Eigen::Vector3d(own.weighted - own.precision * mean));
    const Eigen::MatrixXd carried = root.matrixL().solve(
        Eigen::MatrixXd(whole.precision.topRightCorner(3, shape.coefficients.size())));
    out.noise.block<3, 3>(at, at) += carried * shape.covariance * carried.transpose();
    for (std::size_t j = 0; j < blocks.size(); ++j)
      if (blocks[i].input->what == blocks[j].input->what)
        gains(at, static_cast<Eigen::Index>(3 * j)) = std::pow(gain_of(blocks[i].input->what), 2);
  }
  const auto curves = out.observation.leftCols(rows);
  out.noise += curves * gains * curves.transpose();
  return out;
}

/// ln of what the mean of good machines shows at the probes, and how far a model machine may miss it.
std::pair<Eigen::VectorXd, Eigen::VectorXd> known_values(const pooled_reference& model, const std::vector<read_block>& blocks,
                                                         const probe_list& probes) {
  const auto count = checks::detail::value_count(probes);
  std::pair<Eigen::VectorXd, Eigen::VectorXd> out{Eigen::VectorXd(count), Eigen::VectorXd(count)};
  Eigen::Index at = 0;
  std::size_t block = 0;
  for (const auto& probe : probes)
    for (std::size_t c = 0; c < probe.channels.size(); ++c, ++block)
      for (const double z : probe.log_x) {
        const auto& here = blocks[block];
        const auto expected = checks::expected_current({model.population, model.shapes[here.model_block], here.place, std::exp(z)});
        out.first[at] = expected.log_value;
        // A model machine is no real one (common practice, no source).
        const double misfit = probe.channels[c] == channel::current ? 0.015 : probe.channels[c] == channel::power ? 0.03 : 0.01;
        const double mean = std::sqrt(model.population.mean_covariance(here.place, here.place));
        out.second[at++] = std::hypot(misfit, std::min(mean, 0.05));
      }
  return out;
}

/// Blocks' rows and columns of a population's matrix, in the order of the blocks read; ohms apart.
Eigen::MatrixXd picked(const Eigen::MatrixXd& whole, const std::vector<read_block>& blocks) {
  const auto size = static_cast<Eigen::Index>(3 * blocks.size()) + checks::resistance_entries;
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(size, size);
  for (std::size_t i = 0; i < blocks.size(); ++i)
    for (std::size_t j = 0; j < blocks.size(); ++j)
      out.block<3, 3>(static_cast<Eigen::Index>(3 * i), static_cast<Eigen::Index>(3 * j)) =
          whole.block<3, 3>(blocks[i].place, blocks[j].place);
  return out;
}

std::optional<double> cold_main_ohm(const record& in) {
  for (const auto& entry : in.resistance)
    if (entry.section.find("main") != std::string::npos) return entry.expected_ohm.value_or(entry.resistance_ohm);
  return std::nullopt;
}

std::vector<pooled_reference::block_key> keys_of(const std::vector<read_block>& blocks) {
  std::vector<pooled_reference::block_key> out;
  for (const auto& block : blocks) out.push_back({block.input->speed, block.input->what});
  return out;
}

void finish(electrical_evidence& out, const checks::fault_signatures_result& signatures) {
  out.model.faulty = signatures.faulty;
  const auto size = out.model.covariance.rows();
  add_meter_ranges(out.blocks, size, out.model.faulty);
  out.model.unknown = unknown_fault(out.blocks.size(), size);
  out.model.unknown_share = unknown_share;
  out.model.causes = verdict::cause_count;
}

}  // namespace

std::optional<electrical_evidence> evidence_beside(const visit_facts& now, const reference& good,
                                                   const pooled_reference& model, bool earlier,
                                                   const std::vector<checks::summary_input>& channels,
                                                   const verdict::policy& policy) {
  const auto blocks = blocks_read(now, model, channels);
  // The fastest speed's current sets the scale of the designs.
  if (blocks.empty() || blocks.front().input->speed != now.in.machine.speeds.front()) return std::nullopt;
  const auto probes = probes_of(now, blocks);
  auto [values, uncertainty] = known_values(model, blocks, probes);
  std::vector<double> ratios(now.in.machine.speeds.size(), 1.0);
  for (const auto& block : blocks)
    if (block.input->what == channel::current)
      ratios[index_of(now.in.machine.speeds, block.input->speed)] = std::exp(model.population.mean[block.place]);
  const auto matched = checks::design_match({machine::fan_population(kind_of(now), ratios), probes, values, uncertainty,
                                             cold_main_ohm(now.in)});
  electrical_evidence out{keys_of(blocks), observe(now, blocks, model, good.machines, false), {}, {}, {}};
  for (const auto& each : matched) {
    if (each.weight < 0.02) continue;
    out.designs.push_back(each.design);
    out.weights.push_back(each.weight);
  }
  const auto signatures = checks::fault_signatures({out.designs, out.weights, probes, faults_for(now.in.machine)});
  const auto size = signatures.healthy_covariance.rows();
  if (earlier) {
    out.model.covariance = picked(model.population.between, blocks);
    // Ohms of one winding at two visits (common practice, no source).
    out.model.covariance.bottomRightCorner<2, 2>() = 0.01 * 0.01 * Eigen::Matrix2d::Identity();
    out.model.degrees_of_freedom = model.population.degrees_of_freedom;
  } else {
    // The designs say in which directions good machines differ; the good machines themselves, by how much.
    const auto curves = size - checks::resistance_entries;
    std::vector<Eigen::Index> places;
    for (const auto& block : blocks) places.push_back(block.place);
    const auto pooled = population_with_spread(good, model, places, signatures.healthy_covariance.topLeftCorner(curves, curves), policy);
    out.model.covariance = signatures.healthy_covariance;
    out.model.covariance.topLeftCorner(curves, curves) = pooled.between;
    out.model.degrees_of_freedom = pooled.degrees_of_freedom;
  }
  out.model.covariance += picked(model.population.mean_covariance, blocks);
  out.model.healthy = {{0, 1.0, Eigen::VectorXd::Zero(size)}};
  finish(out, signatures);
  return out;
}

std::optional<electrical_evidence> evidence_by_nameplate(const visit_facts& now,
                                                         const std::vector<checks::summary_input>& channels,
                                                         const verdict::policy& policy) {
  if (!now.in.machine.rated_current_A) return std::nullopt;
  (void)channels;
  (void)policy;
  return std::nullopt;
}

}  // namespace rewound::job
