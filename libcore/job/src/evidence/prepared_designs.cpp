// SPDX-License-Identifier: MIT
#include "evidence/prepared_designs.hpp"

#include <cmath>

#include <rewound/checks/design_population.hpp>
#include <rewound/verdict/cause.hpp>
#include <rewound/verdict/cause_tables.hpp>

#include "evidence/kept_key.hpp"
#include "evidence/kept_values.hpp"

namespace rewound::job {

namespace {

/// Some hundred kilobytes each; a shop's models and the ranges of voltage it reads in are fewer.
constexpr std::size_t most_prepared = 96;

kept_values<prepared_designs>& kept_by_model() {
  static kept_values<prepared_designs> kept(most_prepared);
  return kept;
}

kept_values<prepared_designs>& kept_by_nameplate() {
  static kept_values<prepared_designs> kept(most_prepared);
  return kept;
}

/// Everything that designs depend on.
class design_key : public kept_key {
 public:
  design_key(const machine::machine_kind& kind, const std::vector<double>& currents) {
    add(static_cast<double>(kind.circuit));
    add(static_cast<double>(kind.control));
    add(static_cast<double>(kind.phases));
    add(kind.rated_voltage_V);
    add(kind.rated_frequency_Hz);
    add(static_cast<double>(kind.poles.value_or(0)));
    add(kind.fan_on ? 1.0 : 0.0);
    add(static_cast<double>(kind.speeds));
    add(currents);
  }

  using kept_key::add;
  void add(const std::vector<checks::curve_probe>& probes) {
    add(static_cast<double>(probes.size()));
    for (const auto& probe : probes) {
      add(static_cast<double>(probe.step));
      add(probe.log_x);
      add(static_cast<double>(probe.channels.size()));
      for (const auto what : probe.channels) add(static_cast<double>(what));
    }
  }
};

std::size_t index_of_cause(verdict::cause cause) { return static_cast<std::size_t>(cause); }

std::vector<checks::weighed_fault> faults_for(const machine::machine_kind& kind) {
  std::vector<checks::weighed_fault> out;
  for (const auto& row : verdict::cause_tables::fault_severity)
    for (const auto fault : machine::all_faults) {
      if (machine::name(fault) != row.fault) continue;
      const auto cause = index_of_cause(verdict::cause_named(row.fault).value());
      if (fault != machine::fault::speed_leads_exchanged) out.push_back({cause, fault, row.least, row.most});
      else
        for (std::size_t n = 1; n < kind.speeds; ++n)
          out.push_back({cause, fault, static_cast<double>(n), static_cast<double>(n)});
    }
  // The other of the two mains frequencies there are.
  const double other = kind.rated_frequency_Hz < 55.0 ? 60.0 / 50.0 - 1.0 : 50.0 / 60.0 - 1.0;
  out.push_back({index_of_cause(verdict::cause::wrong_frequency), machine::fault::wrong_frequency, other, other});
  return out;
}

/// Amperes read on another range than was thought, on all speeds or on one, about each healthy alternative.
void add_meter_ranges(const std::vector<checks::curve_probe>& probes, const std::vector<checks::alternative>& healthy,
                      std::vector<checks::alternative>& out) {
  for (const auto& about : healthy)
    for (const double decades : {-3.0, -1.0, 1.0, 3.0}) {
      Eigen::VectorXd all = about.mean;
      Eigen::Index level = 0;
      for (const auto& probe : probes)
        for (const auto what : probe.channels) {
          if (what == fit::channel::current) {
            Eigen::VectorXd one = about.mean;
            one[level] += decades * std::log(10.0);
            all[level] += decades * std::log(10.0);
            out.push_back({index_of_cause(verdict::cause::meter_range), about.weight, std::move(one)});
          }
          level += fit::parabola_terms;
        }
      out.push_back({index_of_cause(verdict::cause::meter_range), about.weight, std::move(all)});
    }
}

/// A population takes some hundred milliseconds and some megabytes; a shop's kinds of machine are few.
kept_values<checks::solved_population>& kept_populations() {
  static kept_values<checks::solved_population> kept(12);
  return kept;
}

kept_values<checks::population_regression>& kept_regressions() {
  static kept_values<checks::population_regression> kept(most_prepared);
  return kept;
}

/// What members show is relative to rated voltage, poles and current: kinds that differ in these share a population.
std::vector<double> population_key(const machine::machine_kind& kind) {
  return design_key({kind.circuit, kind.control, kind.phases, 1.0, kind.rated_frequency_Hz, std::nullopt, kind.fan_on,
                     kind.speeds},
                    {})
      .numbers();
}

std::shared_ptr<const checks::population_regression> regression_for(const machine::machine_kind& kind,
                                                                    const std::vector<checks::curve_probe>& probes,
                                                                    const std::vector<bool>& known) {
  auto whole = kind;
  whole.rated_voltage_V = 1.0;
  whole.poles.reset();
  design_key key(whole, {});
  key.add(probes);
  for (const bool each : known) key.add(each ? 1.0 : 0.0);
  return kept_regressions().get(key.numbers(), [&] {
    const auto population = kept_populations().get(population_key(kind), [&] {
      return checks::solve_population(
          {kind, faults_for(kind), checks::healthy_spreads(), checks::population_spreads()});
    });
    return checks::regress_population({*population, probes, known});
  });
}

prepared_designs prepare_beside(const known_model& in) {
  prepared_designs out;
  const auto regression = regression_for(in.kind, in.looked_at, in.known);
  auto found = checks::predict_signatures(*regression, {in.values, in.uncertainty});
  if (found.signatures.faulty.empty()) return out;
  out.misfit = found.misfit;
  out.healthy_covariance = std::move(found.signatures.healthy_covariance);
  const Eigen::Index n = out.healthy_covariance.rows();
  out.unknown = Eigen::MatrixXd::Zero(n, n);
  out.unknown.topLeftCorner(regression->coefficients, regression->coefficients) = regression->unknown;
  std::vector<checks::alternative> healthy{{0, 1.0, Eigen::VectorXd::Zero(n)}};
  add_meter_ranges(in.looked_at, healthy, found.signatures.faulty);
  out.healthy = std::move(healthy);
  out.faulty = std::move(found.signatures.faulty);
  return out;
}

/// Beside a nameplate the machine may be like any member: some of them stand for all, each with a share of the members'
/// spread about it, so that together they have their mean and spread.
prepared_designs prepare_by_nameplate(const known_nameplate& in) {
  prepared_designs out;
  std::vector<bool> known;
  for (const auto& probe : in.looked_at) known.insert(known.end(), probe.channels.size(), true);
  const auto regression = regression_for(in.kind, in.looked_at, known);
  if (regression->values.empty()) return out;
  constexpr double width = 0.7;  // of the spread about each, as a share (project's choice)
  constexpr std::size_t most = 20;
  const auto& values = regression->values;
  const double count = static_cast<double>(values.size());
  Eigen::VectorXd mean = Eigen::VectorXd::Zero(regression->coefficients);
  for (const auto& each : values) mean += each / count;
  Eigen::MatrixXd between = Eigen::MatrixXd::Zero(mean.size(), mean.size());
  for (const auto& each : values) between += (each - mean) * (each - mean).transpose() / count;
  const Eigen::Index n = mean.size() + checks::resistance_entries;
  std::vector<checks::alternative> healthy, faulty;
  const auto shown = [&](const Eigen::VectorXd& member) {
    Eigen::VectorXd all = Eigen::VectorXd::Zero(n);
    all.head(mean.size()) = mean + std::sqrt(1.0 - width * width) * (member - mean);
    return all;
  };
  const Eigen::VectorXd exact = Eigen::VectorXd::Zero(mean.size());
  const std::size_t stride = std::max<std::size_t>(1, values.size() / most);
  for (std::size_t i = 0; i < values.size() && healthy.size() < most; i += stride) {
    const Eigen::VectorXd about = shown(values[i]);
    auto found = checks::predict_signatures(*regression, {about.head(mean.size()), exact});
    if (found.signatures.faulty.empty()) return out;
    if (healthy.empty()) out.healthy_covariance = Eigen::MatrixXd::Zero(n, n);
    out.healthy_covariance += found.signatures.healthy_covariance;
    healthy.push_back({0, 1.0, about});
    for (const auto& each : found.signatures.faulty)
      faulty.push_back({each.cause, each.weight, each.mean + about, healthy.size() - 1});
  }
  out.healthy_covariance /= static_cast<double>(healthy.size());
  out.healthy_covariance.topLeftCorner(mean.size(), mean.size()) += width * width * between;
  out.unknown = Eigen::MatrixXd::Zero(n, n);
  add_meter_ranges(in.looked_at, healthy, faulty);
  out.healthy = std::move(healthy);
  out.faulty = std::move(faulty);
  return out;
}

}  // namespace

std::shared_ptr<const prepared_designs> designs_beside(const known_model& in) {
  design_key key(in.kind, {});
  key.add(in.looked_at);
  for (const bool each : in.known) key.add(each ? 1.0 : 0.0);
  key.add(in.values);
  key.add(in.uncertainty);
  return kept_by_model().get(key.numbers(), [&] { return prepare_beside(in); });
}

std::shared_ptr<const prepared_designs> designs_by_nameplate(const known_nameplate& in) {
  design_key key(in.kind, {});
  key.add(in.looked_at);
  return kept_by_nameplate().get(key.numbers(), [&] { return prepare_by_nameplate(in); });
}

void forget_prepared_designs() {
  kept_by_model().clear();
  kept_by_nameplate().clear();
  kept_regressions().clear();
  kept_populations().clear();
}

}  // namespace rewound::job
