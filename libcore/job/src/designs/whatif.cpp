// SPDX-License-Identifier: MIT
#include <rewound/job/whatif.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/base/error.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/machine/running_point.hpp>
#include <rewound/record/fields.hpp>
#include <rewound/record/validate.hpp>
#include "analysis/machine_kind_of.hpp"
#include "designs/known_design.hpp"

namespace rewound::job {

using base::error;
using base::error_code;

namespace {

using log_values = std::array<double, whatif_quantity_count>;

/// Winding and supply of one case.
struct situation {
  whatif_case what;
  whatif_change winding;
  double volts;
  double hertz;
};

/// ln of what a design takes, flux by the turns that it has now; absent where it does not turn.
std::optional<log_values> taken(const machine::fan_design& design, std::size_t speed, const situation& here) {
  auto there = rewound_design(design, here.winding);
  there.supply_frequency_ratio = here.hertz / design.machine.rated_frequency_Hz;
  const auto at = machine::running_point_when_turning(there, speed, units::volts(here.volts));
  if (at.state != machine::running_state::runs) return std::nullopt;
  return log_values{std::log(units::in_amperes(at.line_current)), std::log(units::in_watts(at.input)),
                    std::log(units::in_watts(at.losses.stator_copper)),
                    std::log(at.flux_ratio) - std::log(here.winding.turns_factor),
                    std::log(units::in_watts(at.losses.stator_copper + at.losses.rotor_copper + at.losses.core))};
}

std::optional<log_values> change_of(const machine::fan_design& design, std::size_t speed, const situation& before,
                                    const situation& after) {
  const auto first = taken(design, speed, before), then = taken(design, speed, after);
  if (!first || !then) return std::nullopt;
  log_values out{};
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = (*then)[i] - (*first)[i];
  return out;
}

/// A change by one design, with the variance that the design's parameters leave.
struct normal_change {
  double weight;
  log_values mean;
  log_values variance;
};

/// By forward differences of every parameter of the design.
log_values variance_of(const machine::fan_design& design, const Eigen::MatrixXd& covariance, std::size_t speed,
                       const situation& before, const situation& after, const log_values& here) {
  constexpr double step = 1e-3;
  // Of the change itself, in the order of the quantities: copper heat is never read, and hangs on the design the most.
  constexpr log_values model_error{0.1, 0.1, 0.2, 0.1, 0.2};
  Eigen::MatrixXd gradient = Eigen::MatrixXd::Zero(covariance.rows(), static_cast<Eigen::Index>(whatif_quantity_count));
  for (Eigen::Index p = 0; p < covariance.rows(); ++p) {
    Eigen::VectorXd move = Eigen::VectorXd::Zero(covariance.rows());
    move[p] = step;
    const auto moved = change_of(checks::moved_design(design, move), speed, before, after);
    if (!moved) continue;
    for (std::size_t i = 0; i < here.size(); ++i)
      gradient(p, static_cast<Eigen::Index>(i)) = ((*moved)[i] - here[i]) / step;
  }
  log_values out{};
  for (std::size_t i = 0; i < out.size(); ++i) {
    const Eigen::VectorXd slope = gradient.col(static_cast<Eigen::Index>(i));
    out[i] = slope.dot(covariance * slope) + std::pow(model_error[i] * here[i], 2);
  }
  return out;
}

/// Where a mixture of normals has the probability below it, by halving.
double mixture_quantile(const std::vector<normal_change>& parts, std::size_t quantity, double probability) {
  const auto below = [&](double x) {
    double sum = 0.0, total = 0.0;
    for (const auto& part : parts) {
      const double sd = std::sqrt(part.variance[quantity]);
      const double z = sd > 0.0 ? (x - part.mean[quantity]) / sd : (x < part.mean[quantity] ? -40.0 : 40.0);
      sum += part.weight * 0.5 * std::erfc(-z / std::numbers::sqrt2);
      total += part.weight;
    }
    return sum / total;
  };
  double low = 0.0, high = 0.0;
  for (const auto& part : parts) {
    constexpr double far = 8.0;  // standard deviations: nothing lies beyond
    low = std::min(low, part.mean[quantity] - far * std::sqrt(part.variance[quantity]));
    high = std::max(high, part.mean[quantity] + far * std::sqrt(part.variance[quantity]));
  }
  constexpr int halvings = 60;
  for (int i = 0; i < halvings; ++i) {
    const double middle = 0.5 * (low + high);
    (below(middle) < probability ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

whatif_value value_of(const std::vector<normal_change>& parts, std::size_t quantity) {
  constexpr double tail = 0.025;
  double sum = 0.0, total = 0.0;
  bool nothing = true;
  for (const auto& part : parts) {
    sum += part.weight * part.mean[quantity];
    total += part.weight;
    nothing = nothing && part.mean[quantity] == 0.0 && part.variance[quantity] == 0.0;
  }
  if (nothing) return {};
  return {std::exp(sum / total),
          {std::exp(mixture_quantile(parts, quantity, tail)), std::exp(mixture_quantile(parts, quantity, 1.0 - tail))}};
}

/// Fewer turns of no thinner wire never take less current or flux at the same supply, more turns of no thicker wire
/// never more: an interval ends where the contrary begins.
void keep_possible(const situation& before, const situation& after, whatif_row& out) {
  if (before.volts != after.volts || before.hertz != after.hertz) return;
  const double turns = after.winding.turns_factor, area = after.winding.wire_area_factor;
  for (const auto what : {whatif_quantity::current, whatif_quantity::flux}) {
    auto& value = out.values[static_cast<std::size_t>(what)];
    if (turns < 1.0 && area >= 1.0 && value.ratio > 1.0) value.range.low = std::max(value.range.low, 1.0);
    if (turns > 1.0 && area <= 1.0 && value.ratio < 1.0) value.range.high = std::min(value.range.high, 1.0);
  }
}

whatif_row row_of(const known_designs& known, const record::visit_record& in, std::size_t speed,
                  const situation& before, const situation& after) {
  whatif_row out{after.what, in.machine.speeds[speed], known.read[speed], 0.0, {}};
  std::vector<normal_change> parts;
  for (std::size_t i = 0; i < known.designs.size(); ++i) {
    const auto& each = known.designs[i];
    const auto change = change_of(each.design, speed, before, after);
    if (!change) continue;
    parts.push_back(
        {each.weight, *change, variance_of(each.design, known.covariances[i], speed, before, after, *change)});
    out.running += each.weight;
  }
  double all = 0.0;
  for (const auto& each : known.designs) all += each.weight;
  out.running /= all;
  if (!parts.empty())
    for (std::size_t q = 0; q < whatif_quantity_count; ++q) out.values[q] = value_of(parts, q);
  keep_possible(before, after, out);
  return out;
}

void expect_within(const char* name, double value, double low, double high, const std::string& unit) {
  if (value >= low && value <= high) return;
  throw error(error_code::usage, {"", 0, name}, record::shown_number(value),
              "from " + record::shown_number(low) + " to " + record::shown_number(high) + unit);
}

void expect_sensible(const whatif_result& in) {
  expect_within("turns_factor", in.change.turns_factor, 0.5, 2.0, "");
  expect_within("wire_area_factor", in.change.wire_area_factor, 0.25, 4.0, "");
  expect_within("supply_voltage", in.mains_voltage_V, 0.5 * in.rated_voltage_V, 1.5 * in.rated_voltage_V,
                " V, half the rated voltage to one and a half times");
  expect_within("supply_frequency", in.mains_frequency_Hz, 0.5 * in.rated_frequency_Hz, 2.0 * in.rated_frequency_Hz,
                " Hz, half the rated frequency to twice");
}

/// The cases that differ from the present state; the new winding alone where nothing does.
std::vector<situation> situations_of(const whatif_result& in) {
  const bool other_winding = in.change.turns_factor != 1.0 || in.change.wire_area_factor != 1.0;
  const bool other_mains = in.mains_voltage_V != in.rated_voltage_V || in.mains_frequency_Hz != in.rated_frequency_Hz;
  std::vector<situation> out;
  if (other_winding || !other_mains)
    out.push_back({whatif_case::new_winding, in.change, in.rated_voltage_V, in.rated_frequency_Hz});
  if (other_mains) out.push_back({whatif_case::mains, {}, in.mains_voltage_V, in.mains_frequency_Hz});
  if (other_winding && other_mains)
    out.push_back({whatif_case::new_winding_on_mains, in.change, in.mains_voltage_V, in.mains_frequency_Hz});
  return out;
}

/// What is known before any change is made.
whatif_result asked_of(const record::visit_record& in, const std::optional<double>& volts,
                       const std::optional<double>& hertz) {
  record::validate(in);
  whatif_result out;
  out.machine = in.machine.id;
  out.rated_voltage_V = in.machine.rated_voltage_V;
  out.rated_frequency_Hz = in.machine.rated_frequency_Hz;
  out.mains_voltage_V = volts.value_or(in.visit.supply_voltage_V.value_or(out.rated_voltage_V));
  out.mains_frequency_Hz = hertz.value_or(in.visit.supply_frequency_Hz.value_or(out.rated_frequency_Hz));
  return out;
}

void add_rows(const known_designs& known, const record::visit_record& in, whatif_result& out) {
  out.basis = known.basis;
  const situation before{whatif_case::new_winding, {}, out.rated_voltage_V, out.rated_frequency_Hz};
  for (const auto& after : situations_of(out))
    for (std::size_t speed = 0; speed < in.machine.speeds.size(); ++speed)
      out.rows.push_back(row_of(known, in, speed, before, after));
}

constexpr double fewest_turns = 0.5, most_turns = 2.0;  // new over present

/// ln of the fastest speed's current with other turns, the wire filling the same room; absent where it stands.
std::optional<double> log_current(const machine::fan_design& design, const whatif_result& in, double log_turns) {
  const double turns = std::exp(log_turns);
  const auto at = taken(
      design, 0,
      {whatif_case::new_winding_on_mains, {turns, 1.0 / turns, {}, {}}, in.mains_voltage_V, in.mains_frequency_Hz});
  if (!at) return std::nullopt;
  return (*at)[static_cast<std::size_t>(whatif_quantity::current)];
}

/// The least change of ln turns at which an excess of current is gone, from none on: fewer turns take more, more turns
/// less at first, until the fan slows down so far that its current rises again. Absent where it is gone nowhere, or
/// where it stands before.
template <class Excess>
std::optional<double> least_change(const Excess& excess) {
  constexpr double step = 0.02;
  constexpr int halvings = 30;
  const auto present = excess(0.0);
  if (!present) return std::nullopt;
  const double sign = *present > 0.0 ? 1.0 : -1.0;
  const double farthest = std::log(sign > 0.0 ? most_turns : 1.0 / fewest_turns);
  for (double near = 0.0; near < farthest; near += step) {
    double low = near, high = std::min(near + step, farthest);
    const auto there = excess(sign * high);
    if (!there) return std::nullopt;
    if (sign * *there > 0.0) continue;
    for (int i = 0; i < halvings; ++i) {
      const double middle = 0.5 * (low + high);
      const auto at = excess(sign * middle);
      if (!at) return std::nullopt;
      (sign * *at > 0.0 ? low : high) = middle;
    }
    return sign * 0.5 * (low + high);
  }
  return std::nullopt;
}

/// ln of the turns with which a design takes the wanted current.
std::optional<double> log_turns_for(const machine::fan_design& design, const whatif_result& in, double log_wanted) {
  return least_change([&](double log_turns) -> std::optional<double> {
    const auto at = log_current(design, in, log_turns);
    return at ? std::optional{*at - log_wanted} : std::nullopt;
  });
}

/// By how much a design's current lies above what was read on the fastest speed nearest to the rated voltage, in ln: a
/// wanted current is meant beside the readings, not beside the design.
double design_over_reading(const machine::fan_design& design, const record::visit_record& in) {
  const record::run_up_row* nearest = nullptr;
  const double rated_V = in.machine.rated_voltage_V;
  for (const auto& run : in.run_up) {
    if (run.speed != in.machine.speeds.front()) continue;
    for (const auto& row : run.rows)
      if (row.turns() && row.current_A > 0.0 && row.voltage_V > 0.5 * rated_V &&
          (nearest == nullptr || std::abs(row.voltage_V - rated_V) < std::abs(nearest->voltage_V - rated_V)))
        nearest = &row;
  }
  if (nearest == nullptr) return 0.0;
  const auto at = taken(design, 0, {whatif_case::mains, {}, nearest->voltage_V, run_up_frequency_Hz(in)});
  return at ? (*at)[static_cast<std::size_t>(whatif_quantity::current)] - std::log(nearest->current_A) : 0.0;
}

/// The turns by one design, with what its parameters leave open beside the reading, and a tenth of the change (as in
/// variance_of()).
std::optional<normal_change> turns_by(const checks::matched_design& each, const Eigen::MatrixXd& covariance,
                                      const record::visit_record& record, const whatif_result& in, double log_wanted) {
  const auto turns_of = [&](const machine::fan_design& design) {
    return log_turns_for(design, in, log_wanted + design_over_reading(design, record));
  };
  const auto turns = turns_of(each.design);
  if (!turns) return std::nullopt;
  constexpr double step = 1e-3, model_error = 0.1;
  Eigen::VectorXd gradient = Eigen::VectorXd::Zero(covariance.rows());
  for (Eigen::Index p = 0; p < covariance.rows(); ++p) {
    Eigen::VectorXd move = Eigen::VectorXd::Zero(covariance.rows());
    move[p] = step;
    if (const auto moved = turns_of(checks::moved_design(each.design, move))) gradient[p] = (*moved - *turns) / step;
  }
  normal_change out{each.weight, {}, {}};
  out.mean[0] = *turns;
  out.variance[0] = gradient.dot(covariance * gradient) + std::pow(model_error * *turns, 2);
  return out;
}

/// ln of the turns with which all designs together take the wanted current, so that asking back gives it: the mean of
/// what each needs would not, as currents do not go with turns along a line. Absent where they take it nowhere.
std::optional<double> common_log_turns(const known_designs& known, const record::visit_record& record,
                                       const whatif_result& in, double log_wanted) {
  std::vector<double> over;
  for (const auto& each : known.designs) over.push_back(design_over_reading(each.design, record));
  return least_change([&](double log_turns) -> std::optional<double> {
    double sum = 0.0, total = 0.0;
    for (std::size_t i = 0; i < known.designs.size(); ++i)
      if (const auto at = log_current(known.designs[i].design, in, log_turns)) {
        sum += known.designs[i].weight * (*at - over[i]);
        total += known.designs[i].weight;
      }
    return total > 0.0 ? std::optional{sum / total - log_wanted} : std::nullopt;
  });
}

/// A current to be told, by three digits.
double rounded(double amperes) {
  const double scale = std::pow(10.0, 2.0 - std::floor(std::log10(amperes)));
  return std::round(amperes * scale) / scale;
}

/// What twice to half the turns give by the likeliest design.
[[noreturn]] void refuse_current(const known_designs& known, const record::visit_record& record,
                                 const whatif_result& in, double current_A) {
  const auto& best = known.designs.front().design;
  const double over = design_over_reading(best, record);
  std::string allowed = "a current that half to twice the turns give";
  const auto most = log_current(best, in, std::log(fewest_turns));
  if (const auto least = log_current(best, in, std::log(most_turns)); least && most)
    allowed += ", about " + rewound::record::shown_number(rounded(std::exp(*least - over))) + " to " +
               rewound::record::shown_number(rounded(std::exp(*most - over))) + " A";
  throw error(error_code::usage, {"", 0, "for_current"}, rewound::record::shown_number(current_A) + " A", allowed);
}

}  // namespace

machine::fan_design rewound_design(const machine::fan_design& design, const whatif_change& change) {
  auto out = design;
  if (change.turns_factor < 1.0)
    out = machine::apply_fault(out, machine::fault::too_few_turns, 1.0 - change.turns_factor);
  if (change.turns_factor > 1.0)
    out = machine::apply_fault(out, machine::fault::too_many_turns, change.turns_factor - 1.0);
  const double area = change.wire_area_factor;
  if (area < 1.0) out = machine::apply_fault(out, machine::fault::wire_too_thin, 1.0 / area - 1.0);
  if (area > 1.0) out = machine::apply_fault(out, machine::fault::wire_too_thick, area - 1.0);
  return out;
}

whatif_result whatif(const record::visit_record& in, const whatif_change& change) {
  auto out = asked_of(in, change.supply_voltage_V, change.supply_frequency_Hz);
  out.change = change;
  expect_sensible(out);
  add_rows(designs_of(in), in, out);
  return out;
}

whatif_result whatif_for_current(const record::visit_record& in, double current_A,
                                 const std::optional<double>& supply_voltage_V,
                                 const std::optional<double>& supply_frequency_Hz) {
  auto out = asked_of(in, supply_voltage_V, supply_frequency_Hz);
  expect_sensible(out);
  expect_within("for_current", current_A, 1e-6, 1e6, " A");
  const auto known = designs_of(in);
  std::vector<normal_change> parts;
  for (std::size_t i = 0; i < known.designs.size(); ++i)
    if (const auto turns = turns_by(known.designs[i], known.covariances[i], in, out, std::log(current_A)))
      parts.push_back(*turns);
  if (parts.empty()) refuse_current(known, in, out, current_A);
  out.wanted = {current_A, value_of(parts, 0)};
  auto& turns_range = out.wanted->turns.range;
  turns_range = {std::max(turns_range.low, fewest_turns), std::min(turns_range.high, most_turns)};
  if (const auto common = common_log_turns(known, in, out, std::log(current_A)))
    out.wanted->turns.ratio = std::clamp(std::exp(*common), turns_range.low, turns_range.high);
  const double turns = out.wanted->turns.ratio;
  out.change = {turns, 1.0 / turns, supply_voltage_V, supply_frequency_Hz};
  add_rows(known, in, out);
  return out;
}

}  // namespace rewound::job
