// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <optional>
#include <vector>

#include <rewound/checks/detail/curves_together.hpp>
#include <rewound/checks/detail/misreading.hpp>
#include <rewound/checks/detail/suspect_search.hpp>
#include <rewound/checks/detail/known_curve.hpp>

// Which reading of a test is misread, by all speeds and channels of it together. A current that was misread stands off
// the current's curve alone; a voltage that was misread moves the row along every channel's curve.
namespace rewound::checks::detail {

// Of misreadings (common practice, no source):
inline constexpr double tests_with_misreading = 0.02;
inline constexpr double share_of_slips = 0.6;  ///< neighbouring digits exchanged; the others are off by any size
inline constexpr std::array<extra_scatter, 2> other_sizes{{{0.05, 0.5}, {0.2, 0.5}}};
inline constexpr double farthest_slip = 0.4;      ///< in ln: a parabola does not reach farther
inline constexpr double worth_weighing = 2.0;     ///< standard deviations off: no closer reading can be the likely one
inline constexpr double certain_together = 0.93;  ///< probability at which a row is set aside
inline constexpr std::size_t most_together = 3;
inline constexpr std::size_t most_beliefs = 5;

/// A row of the test: its place in the input, and which point of each channel it is.
struct together_row {
  std::size_t run = 0, reading = 0;
  std::vector<std::optional<std::size_t>> points;  ///< by channel
};

/// One channel of the test as the search takes it.
struct together_channel {
  const channel_readings* read = nullptr;
  std::vector<channel_point> points;
  std::vector<together_component> components;
  scatter_shares as_read = {};  ///< ln evidence of each size of scatter
};

/// A row that lies off: what it is told as if its current, or its voltage, is misread, and the weight of each.
struct weighed_row {
  suspect_reading current, voltage;
  double of_current = 0.0, of_voltage = 0.0;
};

/// By which exponent a channel rises with the voltage (common practice, no source).
inline double usual_rise(fit::channel what) {
  return what == fit::channel::current ? 0.9 : what == fit::channel::power ? 1.8 : 0.3;
}

/// How curves may depart from what is known, or, where nothing is, from a plain rise: by the spread of the kinds of
/// curve there are, more or less alike on all speeds.
inline std::vector<curve_belief> beliefs_of(const channel_readings& read, std::size_t runs) {
  std::vector<curve_belief> out;
  const auto shape = machine::shape_spread();
  Eigen::VectorXd rise = Eigen::VectorXd::Zero(summary_terms);
  rise[1] = usual_rise(read.what);
  const bool known = read.known.size() >= runs && std::all_of(read.known.begin(), read.known.end(),
                                                              [](const auto& each) { return each.has_value(); });
  for (const double share : {0.07, 0.25, 0.7}) {
    curve_belief belief{std::log(known ? 0.05 / 3.0 : 1.0 / 3.0),
                        std::vector<Eigen::VectorXd>(runs, rise),
                        {},
                        Eigen::VectorXd(departure_terms)};
    Eigen::MatrixXd factor = Eigen::MatrixXd::Zero(summary_terms, summary_terms);
    factor(0, 0) = std::sqrt(level_variance);
    for (Eigen::Index i = 1; i < summary_terms; ++i) {
      belief.common[i - 1] = shape[static_cast<std::size_t>(i - 1)];
      factor(i, i) = share * belief.common[i - 1];
    }
    belief.own_factor.assign(runs, factor);
    out.push_back(std::move(belief));
  }
  if (!known) return out;
  // Faults bend curves too: several times the spread of healthy machines.
  constexpr double beyond_parabola = 0.003, in_common = 0.7;
  for (const auto& [times, weight] : {std::pair{1.0, 0.6}, {4.0, 0.35}}) {
    curve_belief belief{std::log(weight), {}, {}, Eigen::VectorXd::Zero(departure_terms)};
    for (std::size_t run = 0; run < runs; ++run) {
      const auto& curve = *read.known[run];
      belief.mean.push_back(curve.coefficients);
      Eigen::MatrixXd covariance = curve.covariance;
      covariance(0, 0) += level_variance;
      for (Eigen::Index i = 1; i < summary_terms; ++i) {
        const double spread = times * (i < 3 ? curve.spread[static_cast<std::size_t>(i)]
                                             : beyond_parabola * shape[static_cast<std::size_t>(i - 1)] / shape[2]);
        covariance(i, i) += (1.0 - in_common) * spread * spread;
        belief.common[i - 1] = std::max(belief.common[i - 1], std::sqrt(in_common) * spread);
      }
      belief.own_factor.push_back(fit::cholesky_factor(covariance).lower());
    }
    out.push_back(std::move(belief));
  }
  return out;
}

/// The search for one test. `rows` shrinks as readings are set aside.
class search_together {
 public:
  search_together(const std::vector<measurement::run_up>& runs, units::voltage rated, double voltage_digit,
                  double current_digit, double own_voltage, const std::vector<channel_readings>& channels)
      : runs_(runs),
        rated_(rated),
        voltage_digit_(voltage_digit),
        current_digit_(current_digit),
        own_voltage_(own_voltage),
        read_(channels) {
    for (const auto& channel : channels) beliefs_.push_back(beliefs_of(channel, runs.size()));
  }

  /// The rows not in `aside` that lie off, each as a misread current and as a misread voltage, with the weight of both
  /// beside 1 - tests_with_misreading for none being misread.
  std::vector<weighed_row> weigh(const std::vector<suspect_reading>& aside) {
    std::vector<weighed_row> out;
    take(aside);
    if (channels_.empty()) return out;
    const double prior = std::log(tests_with_misreading / (2.0 * static_cast<double>(rows_.size())));
    for (const auto& row : rows_) {
      if (!stands_out(row)) continue;
      weighed_row each{{row.run, index_of(row), false, suspicion::off_curve, amperes(row), std::nullopt, true},
                       {row.run, index_of(row), true, suspicion::off_curve, volts(row), std::nullopt, true}};
      each.of_current = std::exp(prior + gain_of_current(row, each.current));
      each.of_voltage = std::exp(prior + gain_of_voltage(row, each.voltage));
      out.push_back(each);
    }
    return out;
  }

  /// The certain misreading among the rows not in `aside`, if there is one.
  std::optional<suspect_reading> next(const std::vector<suspect_reading>& aside) {
    double sum = 1.0 - tests_with_misreading;
    double best = 0.0;
    std::optional<suspect_reading> out;
    for (const auto& each : weigh(aside)) {
      const double weight = each.of_current + each.of_voltage;
      sum += weight;
      if (weight <= best) continue;
      best = weight;
      out = each.of_current >= each.of_voltage ? each.current : each.voltage;
    }
    if (!out || best < certain_together * sum) return std::nullopt;
    return out;
  }

 private:
  const measurement::run_up_reading& reading_of(const together_row& row) const {
    return runs_[row.run].readings[row.reading];
  }
  int index_of(const together_row& row) const { return reading_of(row).index; }
  double volts(const together_row& row) const { return reading_of(row).voltage.value(); }
  double amperes(const together_row& row) const { return reading_of(row).current.value(); }

  void take(const std::vector<suspect_reading>& aside) {
    rows_.clear();
    channels_.clear();
    for (std::size_t run = 0; run < runs_.size(); ++run)
      for (std::size_t i = 0; i < runs_[run].readings.size(); ++i) {
        const auto& reading = runs_[run].readings[i];
        const bool left_out = std::any_of(aside.begin(), aside.end(), [&](const auto& each) {
          return each.set_aside && each.run == run && each.index == reading.index;
        });
        if (!left_out && reading.turning && reading.voltage.value() > 0.0 && reading.current.value() > 0.0)
          rows_.push_back({run, i, {}});
      }
    for (std::size_t c = 0; c < read_.size(); ++c) add_channel(read_[c], beliefs_[c]);
    log_evidence_ = together(as_read());
  }

  void add_channel(const channel_readings& read, const std::vector<curve_belief>& beliefs) {
    constexpr std::size_t fewest = 4;
    together_channel channel{&read, {}, {}, {}};
    std::vector<std::optional<std::size_t>> places(rows_.size());
    for (std::size_t i = 0; i < rows_.size(); ++i) {
      const auto& row = rows_[i];
      const double value = read.values[row.run][row.reading];
      if (value <= 0.0) continue;
      places[i] = channel.points.size();
      const double x = volts(row) / rated_.value();
      const double own = read.own_uncertainty / value;
      const double own_z = own_voltage_ / volts(row);
      channel_point point;
      point.run = row.run;
      point.z = std::log(x);
      point.log_value = std::log(value);
      point.variance = own * own;
      point.variance_of_z = own_z * own_z;
      point.beyond = machine::shape_functions_at(point.z).beyond_uncertainty;
      point.functions = basis(x);
      channel.points.push_back(point);
    }
    if (channel.points.size() < fewest) return;
    set_slopes(channel.points, runs_.size(), usual_rise(read.what));
    channel.components = weigh_together(channel.points, runs_.size(), beliefs);
    channel.as_read = with_shift(channel, 0, 0.0);
    for (std::size_t i = 0; i < rows_.size(); ++i) rows_[i].points.push_back(places[i]);
    channels_.push_back(std::move(channel));
  }

  /// ln evidence of the channel for each size of scatter, with a point's ln value put right by `shift`.
  static scatter_shares with_shift(const together_channel& channel, std::size_t point, double shift) {
    constexpr std::size_t sizes = extra_scatters.size();
    std::array<double, most_beliefs> logs;
    const std::size_t beliefs = channel.components.size() / sizes;
    scatter_shares out;
    for (std::size_t size = 0; size < sizes; ++size) {
      for (std::size_t i = 0; i < beliefs; ++i) {
        const auto& each = channel.components[i * sizes + size];
        logs[i] = each.log_evidence - 0.5 * shift * (2.0 * each.away[point] + shift) / each.variance[point];
      }
      out[size] = log_sum(logs.data(), beliefs);
    }
    return out;
  }

  /// ln evidence of all channels: as likely as not the bench scatters alike in all of them.
  static double together(const std::vector<scatter_shares>& channels) {
    scatter_shares alike;
    double apart = 0.0;
    for (std::size_t size = 0; size < alike.size(); ++size) alike[size] = std::log(extra_scatters[size].share);
    for (const auto& channel : channels) {
      scatter_shares own;
      for (std::size_t size = 0; size < own.size(); ++size) {
        own[size] = channel[size] + std::log(extra_scatters[size].share);
        alike[size] += channel[size];
      }
      apart += log_sum(own.data(), own.size());
    }
    const std::array<double, 2> both{log_sum(alike.data(), alike.size()), apart};
    return log_sum(both.data(), both.size()) - std::numbers::ln2;
  }

  /// Whether the row lies off in any channel by what the likeliest belief makes of it.
  bool stands_out(const together_row& row) const {
    for (std::size_t c = 0; c < channels_.size(); ++c) {
      if (!row.points[c]) continue;
      for (const auto& each : channels_[c].components) {
        const double away = each.away[*row.points[c]];
        if (away * away > worth_weighing * worth_weighing * each.variance[*row.points[c]]) return true;
      }
    }
    return false;
  }

  std::vector<scatter_shares> as_read() const {
    std::vector<scatter_shares> out;
    for (const auto& channel : channels_) out.push_back(channel.as_read);
    return out;
  }

  /// ln Bayes factor of the current put right by `shift`; only the first channel holds currents.
  double current_shifted(const together_row& row, double shift) const {
    if (!row.points[0]) return 0.0;
    auto channels = as_read();
    channels[0] = with_shift(channels_[0], *row.points[0], shift);
    return together(channels) - log_evidence_;
  }

  double voltage_shifted(const together_row& row, double dz) const {
    auto channels = as_read();
    for (std::size_t c = 0; c < channels_.size(); ++c)
      if (row.points[c]) {
        const auto& point = channels_[c].points[*row.points[c]];
        channels[c] = with_shift(channels_[c], *row.points[c], -dz * (point.slope + point.curvature * dz));
      }
    return together(channels) - log_evidence_;
  }

  /// ln Bayes factor of a value being misread: by exchanged digits, or by any amount. The likeliest exchange, where
  /// exchanges are likelier than anything else, explains the reading.
  template <class Shifted>
  double gain(double value, double digit, const Shifted& shifted, suspect_reading& reading) const {
    std::vector<double> logs;
    double best = -1e300;
    for (const auto& slip : possible_slips(value, digit)) {
      if (slip.why != suspicion::digits_transposed || slip.value <= 0.0) continue;
      const double by = std::log(slip.value / value);
      logs.push_back(std::abs(by) > farthest_slip ? -1e3 : shifted(by));
      if (logs.back() <= best) continue;
      best = logs.back();
      reading.would_fit = slip.value;
    }
    const double slips = logs.empty() ? -1e300
                                      : log_sum(logs.data(), logs.size()) + std::log(share_of_slips) -
                                            std::log(static_cast<double>(logs.size()));
    const double others = any_amount(shifted) + std::log(1.0 - share_of_slips);
    if (slips > others && reading.would_fit) reading.why = suspicion::digits_transposed;
    else reading.would_fit.reset();
    const std::array<double, 2> both{slips, others};
    return log_sum(both.data(), both.size());
  }

  double gain_of_current(const together_row& row, suspect_reading& reading) const {
    return gain(
        amperes(row), current_digit_, [&](double by) { return current_shifted(row, by); }, reading);
  }
  double gain_of_voltage(const together_row& row, suspect_reading& reading) const {
    return gain(
        volts(row), voltage_digit_, [&](double by) { return voltage_shifted(row, by); }, reading);
  }

  /// ln of the mean Bayes factor over sizes of any amount, by a sum over sizes in equal ratios.
  template <class Shifted>
  static double any_amount(const Shifted& shifted) {
    constexpr int steps = 12;
    constexpr double least = 0.02;  // what is off by less, and no slip explains it, is scatter
    const double ratio = std::pow(farthest_slip / least, 1.0 / (steps - 1));
    std::array<double, 2 * steps> logs;
    double size = least;
    for (int i = 0; i < steps; ++i, size *= ratio) {
      double density = 0.0;
      for (const auto& each : other_sizes)
        density += each.share * std::exp(-0.5 * size * size / (each.deviation * each.deviation)) / each.deviation;
      const double weight = std::log(density * size * std::log(ratio) / std::sqrt(2.0 * std::numbers::pi));
      const auto at = 2 * static_cast<std::size_t>(i);
      logs[at] = weight + shifted(size);
      logs[at + 1] = weight + shifted(-size);
    }
    return log_sum(logs.data(), logs.size());
  }

  const std::vector<measurement::run_up>& runs_;
  units::voltage rated_;
  double voltage_digit_, current_digit_, own_voltage_;
  const std::vector<channel_readings>& read_;
  std::vector<std::vector<curve_belief>> beliefs_;
  std::vector<together_row> rows_;
  std::vector<together_channel> channels_;
  double log_evidence_ = 0.0;
};

/// Misreadings that the whole test tells. Where one is certain, what a speed alone left open is settled.
inline void search_whole_test(search_together search, std::vector<suspect_reading>& found) {
  for (std::size_t count = 0; count < most_together; ++count) {
    const auto next = search.next(found);
    if (!next) return;
    std::erase_if(found, [&](const auto& each) {
      return each.run == next->run &&
             (each.index == next->index || (!each.set_aside && each.why == suspicion::readings_disagree));
    });
    found.push_back(*next);
  }
}

}  // namespace rewound::checks::detail
