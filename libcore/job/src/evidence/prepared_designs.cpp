// SPDX-License-Identifier: MIT
#include "evidence/prepared_designs.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/checks/design_population.hpp>
#include <rewound/fit/dense.hpp>
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

/// What such a fault shows is what the model's other speeds show, or nothing: no population is asked.
bool told_by_other_speeds(machine::fault fault) {
  return fault == machine::fault::speed_leads_exchanged || fault == machine::fault::speed_section_shorted ||
         fault == machine::fault::speed_section_open;
}

/// Where the main winding runs by itself, it is all windings.
bool told_by_running(machine::fault fault, const machine::machine_kind& kind) {
  using enum machine::fault;
  const bool of_main_alone = fault == too_few_main_turns || fault == too_many_main_turns ||
                             fault == main_wire_too_thin || fault == main_wire_too_thick;
  return !of_main_alone || kind.circuit == record::running_circuit::permanent_capacitor ||
         kind.control == record::speed_control::tapped_winding;
}

std::vector<checks::weighed_fault> faults_for(const machine::machine_kind& kind) {
  std::vector<checks::weighed_fault> out;
  for (const auto& row : verdict::cause_tables::fault_severity)
    for (const auto fault : machine::all_faults) {
      if (machine::name(fault) != row.fault || told_by_other_speeds(fault) || !told_by_running(fault, kind)) continue;
      out.push_back({index_of_cause(verdict::cause_named(row.cause).value()), fault, row.least, row.most});
    }
  // What one cause may be in two ways weighs no more for it.
  for (auto& each : out)
    each.weight = 1.0 / static_cast<double>(std::count_if(
                            out.begin(), out.end(), [&](const auto& other) { return other.cause == each.cause; }));
  // The other of the two mains frequencies there are.
  const double other = kind.rated_frequency_Hz < 55.0 ? 60.0 / 50.0 - 1.0 : 50.0 / 60.0 - 1.0;
  out.push_back({index_of_cause(verdict::cause::wrong_frequency), machine::fault::wrong_frequency, other, other});
  return out;
}

/// Curves that a model's speeds are known to have, in one list of coefficients.
struct speed_curves {
  const std::vector<checks::curve_probe>& probes;
  const Eigen::VectorXd& values;
  const std::vector<bool>& known;

  /// What each speed would show beside its own curve if it ran on the lead of another one; by `share` of the way.
  Eigen::VectorXd on_leads(const std::vector<std::size_t>& leads, const std::vector<double>& share,
                           Eigen::Index size) const {
    Eigen::VectorXd out = Eigen::VectorXd::Zero(size);
    for (std::size_t i = 0; i < probes.size(); ++i)
      for (std::size_t c = 0; c < probes[i].channels.size(); ++c) {
        const auto own = place(i, c), other = place(leads[i], c);
        if (known[static_cast<std::size_t>(own / fit::parabola_terms)] &&
            known[static_cast<std::size_t>(other / fit::parabola_terms)])
          out.segment<fit::parabola_terms>(own) =
              share[i] * (values.segment<fit::parabola_terms>(other) - values.segment<fit::parabola_terms>(own));
      }
    return out;
  }

  Eigen::Index place(std::size_t probe, std::size_t channel) const {
    std::size_t before = channel;
    for (std::size_t i = 0; i < probe; ++i) before += probes[i].channels.size();
    return fit::parabola_terms * static_cast<Eigen::Index>(before);
  }

  /// The part of a deviation that lies in the speeds from one on.
  Eigen::VectorXd from_speed(const Eigen::VectorXd& in, std::size_t first) const {
    Eigen::VectorXd out = in;
    if (first < probes.size()) out.head(place(first, 0)).setZero();
    else out.setZero();
    return out;
  }
};

/// How speeds stray on other leads than theirs: they spread there as the speeds do whose leads these are.
Eigen::MatrixXd strays_on_leads(const speed_curves& curves, const Eigen::VectorXd& moved) {
  constexpr double level = 0.1, slope = 0.2;  // of the way (common practice, no source)
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(moved.size(), 4);
  for (std::size_t k = 0; k < curves.probes.size(); ++k)
    for (std::size_t c = 0; c < curves.probes[k].channels.size(); ++c) {
      const auto at = curves.place(k, c);
      out(at, static_cast<Eigen::Index>(curves.probes[k].channels[c])) = level * moved[at];
      out(at + 1, 3) = slope * std::hypot(moved[at], moved[at + 1]);
    }
  return out;
}

/// Two leads exchanged, or all of them in reverse.
void add_exchanged(const speed_curves& curves, const Eigen::VectorXd& about, double weight, std::size_t design,
                   std::vector<checks::alternative>& out) {
  const std::size_t speeds = curves.probes.size();
  std::vector<std::size_t> as_marked(speeds);
  for (std::size_t i = 0; i < speeds; ++i) as_marked[i] = i;
  std::vector<std::vector<std::size_t>> orders;
  for (std::size_t a = 0; a < speeds; ++a)
    for (std::size_t b = a + 1; b < speeds; ++b) {
      orders.push_back(as_marked);
      std::swap(orders.back()[a], orders.back()[b]);
    }
  if (speeds > 3) orders.emplace_back(as_marked.rbegin(), as_marked.rend());
  const std::vector<double> wholly(speeds, 1.0);
  for (const auto& order : orders) {
    const Eigen::VectorXd moved = curves.on_leads(order, wholly, about.size());
    out.push_back({index_of_cause(verdict::cause::speed_leads_exchanged), weight / static_cast<double>(orders.size()),
                   about + moved, design, strays_on_leads(curves, moved)});
  }
}

/// A section of the control bridged, by shares of it up to the whole: the speed behind it goes over to the curve of the
/// next faster one, slower ones nearly as far towards theirs.
void add_bridged(const speed_curves& curves, const Eigen::VectorXd& about, double weight, std::size_t design,
                 std::vector<checks::alternative>& out) {
  const std::size_t speeds = curves.probes.size();
  constexpr int steps = 5;
  constexpr double behind = 0.8, behind_spread = 0.25;  // how far slower speeds follow, and how that varies
  constexpr double shape = 0.3;                         // how watts, rpm, slopes depart on the way
  for (std::size_t section = 1; section < speeds; ++section)
    for (int i = 1; i <= steps; ++i) {
      const double share = static_cast<double>(i) / steps;
      std::vector<std::size_t> leads(speeds);
      std::vector<double> shares(speeds, 0.0);
      for (std::size_t k = 0; k < speeds; ++k) {
        leads[k] = k < section ? k : k - 1;
        shares[k] = k < section ? 0.0 : k == section ? share : behind * share;
      }
      const Eigen::VectorXd moved = curves.on_leads(leads, shares, about.size());
      const double halfway = i < steps ? 1.0 : 0.0;
      Eigen::MatrixXd scatter = Eigen::MatrixXd::Zero(about.size(), 5);
      scatter.col(0) = halfway / (std::sqrt(12.0) * steps * share) * moved;
      scatter.col(1) = behind_spread * curves.from_speed(moved, section + 1);
      for (std::size_t k = section; k < speeds; ++k)
        for (std::size_t c = 0; c < curves.probes[k].channels.size(); ++c) {
          const auto at = curves.place(k, c);
          const auto what = static_cast<Eigen::Index>(curves.probes[k].channels[c]);
          const double way = (k == section ? halfway : 1.0) * shape;
          if (what > 0) scatter(at, 1 + what) = way * moved[at];
          scatter(at + 1, 4) = way * std::hypot(moved[at], moved[at + 1]);
        }
      out.push_back({index_of_cause(verdict::cause::speed_section_shorted),
                     weight / static_cast<double>(steps * static_cast<int>(speeds - 1)), about + moved, design,
                     std::move(scatter)});
    }
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
std::vector<double> population_key(const machine::machine_kind& kind, double lowest_log_x) {
  design_key key(
      {kind.circuit, kind.control, kind.phases, 1.0, kind.rated_frequency_Hz, std::nullopt, kind.fan_on, kind.speeds},
      {});
  key.add(lowest_log_x);
  return key.numbers();
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
    const double lowest = checks::lowest_to_solve(probes);
    const auto population = kept_populations().get(population_key(kind, lowest), [&] {
      return checks::solve_population(
          {kind, faults_for(kind), checks::healthy_spreads(), checks::population_spreads(), lowest});
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
  out.between_visits = std::move(found.between_visits);
  const Eigen::Index n = out.healthy_covariance.rows();
  out.unknown = Eigen::MatrixXd::Zero(n, n);
  out.unknown.topLeftCorner(regression->coefficients, regression->coefficients) = regression->unknown;
  std::vector<checks::alternative> healthy{{0, 1.0, Eigen::VectorXd::Zero(n)}};
  const speed_curves curves{in.looked_at, in.values, in.known};
  add_exchanged(curves, healthy.front().mean, 1.0, 0, found.signatures.faulty);
  add_bridged(curves, healthy.front().mean, 1.0, 0, found.signatures.faulty);
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
  for (const auto& each : values) {
    const Eigen::VectorXd away = each - mean;
    fit::add_outer(between, 1.0 / count, away, away);
  }
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
    const std::size_t which = healthy.size() - 1;
    // How machines stray from what the model says is little beside how they differ.
    for (const auto& each : found.signatures.faulty)
      faulty.push_back({each.cause, each.weight, each.mean + about, which});
    const speed_curves curves{in.looked_at, about, known};
    add_exchanged(curves, about, 1.0, which, faulty);
    add_bridged(curves, about, 1.0, which, faulty);
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
