// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <tuple>
#include <utility>
#include <vector>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_reading.hpp>
#include <rewound/fit/detail/free_parameters.hpp>
#include <rewound/fit/detail/plain_curve.hpp>

// The search of one curve with errors in both coordinates on plain numbers: a judgement fits some dozens of curves, and
// most of the families it tries run off to a bound. fit_least_squares stays the search of what this one leaves open.
namespace rewound::fit::detail {

/// A reading in logarithms, with the squares of its relative uncertainties.
struct plain_reading {
  double x, z, log_current;
  double variance_x, variance_current;
};

inline std::vector<plain_reading> plain_readings_of(const std::vector<curve_reading>& readings) {
  std::vector<plain_reading> out;
  out.reserve(readings.size());
  for (const auto& each : readings)
    out.push_back({each.x, std::log(each.x), std::log(each.current), each.relative_u_x * each.relative_u_x,
                   each.relative_u_current * each.relative_u_current});
  return out;
}

/// A residual (ln I - ln f) / sqrt(uI^2 + (n ux)^2), n the local exponent, and its gradient by the free parameters.
struct plain_residual {
  double value;
  parameter_array gradient;
  parameter_array share;  ///< see plain_point
};

inline plain_residual residual_at(curve_family family, const natural_curve& curve, const plain_reading& reading) {
  const auto at = plain_point_at(family, curve.parameters.data(), reading.x, reading.z);
  const double variance = reading.variance_current + at.exponent * at.exponent * reading.variance_x;
  const double one = 1.0 / std::sqrt(variance);
  const double away = reading.log_current - at.log_value;
  // The weight depends on the parameters too (effective_variance.hpp).
  const double of_weight = away * at.exponent * reading.variance_x / variance;
  plain_residual out{away * one, {}, at.share};
  for (std::size_t j = 0; j < most_parameters; ++j)
    out.gradient[j] = -one * curve.slope[j] * (at.of_value[j] + of_weight * at.of_exponent[j]);
  return out;
}

enum class descent_end {
  arrived,   ///< at a minimum, to rounding
  run_off,   ///< where chi2 is lowest a part of the curve is nothing, or its power stands at a bound
  unsettled  ///< neither: for another search
};

/// Marquardt's damped steps from one start. The magnetising families go in their own parameters, each at most nine
/// tenths of its way to a bound at a step: in logarithms what becomes nothing runs for ever.
/// Limits and tolerances are the project's choices.
/// Source: damping after H. B. Nielsen, IMM-REP-1999-05 (from memory, unverified), with a floor of an eighth; scaling
/// by D. W. Marquardt, SIAM J. Appl. Math. 11 (1963) 431-441 (from memory, unverified).
class curve_descent {
 public:
  curve_descent(curve_family family, const std::vector<plain_reading>& readings)
      : bent_(magnetising_kind(family)),
        family_(family),
        count_(static_cast<std::size_t>(parameter_count(family))),
        readings_(readings) {}

  /// @param free  where to start; where it arrived, the minimum
  descent_end run(parameter_array& free) {
    here_ = bent_ ? natural_of(family_, free).parameters : free;
    sums_ = sums_at(here_);
    if (!std::isfinite(sums_.chi2) || readings_.size() <= count_) return descent_end::unsettled;
    const auto end = descend();
    if (end == descent_end::arrived && bent_ && (here_[power] <= lowest_power || here_[power] >= highest_power))
      return descent_end::run_off;
    if (end == descent_end::arrived) free = bent_ ? free_of(family_, here_) : here_;
    return end;
  }

  /// Where the search stands.
  double chi2() const { return sums_.chi2; }

 private:
  using matrix = std::array<parameter_array, most_parameters>;
  using flags = std::array<bool, most_parameters>;

  struct normal_sums {
    double chi2 = 0.0;
    parameter_array slope = {};  ///< half the gradient of chi2
    matrix gram = {};            ///< lower half
    parameter_array share = {};  ///< of each part of the curve, at the reading where it is most
  };

  normal_sums sums_at(const parameter_array& here) const {
    natural_curve curve{here, {}};
    if (bent_) curve.slope.fill(1.0);
    else curve = natural_of(family_, here);
    normal_sums out;
    for (const auto& reading : readings_) {
      const auto at = residual_at(family_, curve, reading);
      out.chi2 += at.value * at.value;
      for (std::size_t j = 0; j < count_; ++j) {
        out.slope[j] += at.gradient[j] * at.value;
        out.share[j] = std::max(out.share[j], at.share[j]);
        for (std::size_t k = 0; k <= j; ++k) out.gram[j][k] += at.gradient[j] * at.gradient[k];
      }
    }
    return out;
  }

  /// Parameters that chi2 pushes on towards a bound where they are already.
  flags held() const {
    flags out = {};
    if (!bent_) return out;
    constexpr double nothing = 1e-7;
    for (std::size_t j = 0; j < count_; ++j)
      out[j] = j == power ? (here_[j] <= lowest_power && sums_.slope[j] > 0.0) ||
                                (here_[j] >= highest_power && sums_.slope[j] < 0.0)
                          : sums_.share[j] < nothing && sums_.slope[j] > 0.0;
    return out;
  }

  struct step {
    parameter_array by = {};
    double promised = 0.0;  ///< by how much chi2 would fall were the residuals linear; of the undamped step
    bool sound = false;
  };

  /// The step of the normal equations with `damping` on the diagonal, in units of the columns' lengths.
  step step_with(double damping, const flags& held) const {
    parameter_array length = {}, x = {};
    matrix lower = {};
    step out;
    for (std::size_t j = 0; j < count_; ++j) {
      length[j] = std::sqrt(sums_.gram[j][j]);
      if (!held[j] && !(length[j] > 0.0)) return out;
    }
    for (std::size_t j = 0; j < count_; ++j) {
      if (held[j]) continue;
      for (std::size_t k = 0; k <= j; ++k) {
        if (held[k]) continue;
        double sum = sums_.gram[j][k] / (length[j] * length[k]) + (j == k ? damping : 0.0);
        for (std::size_t i = 0; i < k; ++i) sum -= lower[j][i] * lower[k][i];
        if (j > k) lower[j][k] = sum / lower[k][k];
        else if (sum > least_pivot) lower[j][j] = std::sqrt(sum);
        else return out;
      }
      x[j] = -sums_.slope[j] / length[j];
      for (std::size_t k = 0; k < j; ++k) x[j] -= lower[j][k] * x[k];
      x[j] /= lower[j][j];
      out.promised += x[j] * x[j];
    }
    for (std::size_t j = count_; j-- > 0;) {
      if (held[j]) continue;
      for (std::size_t k = j + 1; k < count_; ++k) x[j] -= lower[k][j] * x[k];
      x[j] /= lower[j][j];
      out.by[j] = x[j] / length[j];
    }
    out.sound = true;
    return out;
  }

  /// Distance to the minimum in units of the parameters' standard errors (relative_offset of local_model.hpp).
  double offset_of(const step& undamped) const {
    const double left = sums_.chi2 - undamped.promised;
    if (!undamped.sound || !(left > 0.0)) return std::numeric_limits<double>::infinity();
    const auto freedom = static_cast<double>(readings_.size() - count_);
    return std::sqrt(undamped.promised * freedom / (left * static_cast<double>(count_)));
  }

  /// As far as the bounds let it.
  parameter_array moved(const step& next) const {
    constexpr double most_of_the_way = 0.9, longest = 2.0;
    parameter_array out = here_;
    for (std::size_t j = 0; j < count_; ++j) {
      if (!bent_) out[j] += next.by[j];
      else if (j != power) out[j] = std::max(out[j] + next.by[j], (1.0 - most_of_the_way) * out[j]);
      else out[j] = std::clamp(out[j] + std::clamp(next.by[j], -longest, longest), lowest_power, highest_power);
    }
    return out;
  }

  /// By how much chi2 would fall on the way there were the residuals linear.
  double promised_to(const parameter_array& there) const {
    double out = 0.0;
    for (std::size_t j = 0; j < count_; ++j) {
      const double by = there[j] - here_[j];
      double along = 2.0 * sums_.slope[j] + sums_.gram[j][j] * by;
      for (std::size_t k = 0; k < j; ++k) along += 2.0 * sums_.gram[j][k] * (there[k] - here_[k]);
      out -= by * along;
    }
    return out;
  }

  /// chi2 knows a pair of parts that are both nothing by their squares alone: its slopes do not tell then whether one
  /// of them should be there.
  descent_end end_with(const flags& still) {
    if ((still[0] && still[1]) || (still[3] && still[4])) return descent_end::unsettled;
    const bool any_held = std::any_of(still.begin(), still.end(), [](bool each) { return each; });
    return any_held ? descent_end::run_off : settle();
  }

  descent_end descend() {
    constexpr double first_damping = 1e-3;
    double damping = first_damping, growth = 2.0;
    flags before = held();
    for (int i = 0; i < most_steps; ++i) {
      const auto still = held();
      if (still != before) damping = first_damping, growth = 2.0;
      before = still;
      if (offset_of(step_with(0.0, still)) < near_enough) return end_with(still);
      const auto next = step_with(damping, still);
      if (next.sound) {
        const auto there = moved(next);
        const double promised = promised_to(there);
        const auto sums = sums_at(there);
        const double gain = promised > 0.0 ? (sums_.chi2 - sums.chi2) / promised : -1.0;
        if (gain > 1e-4) {
          here_ = there;
          sums_ = sums;
          const double bold = 2.0 * gain - 1.0;
          damping = std::max(1e-9, damping * std::max(1.0 / 8.0, 1.0 - bold * bold * bold));
          growth = 2.0;
          continue;
        }
      }
      damping *= growth;
      growth *= 2.0;
      if (damping > 1e12) break;  // steps below rounding
    }
    return descent_end::unsettled;
  }

  /// Undamped steps judged by the offset: near the end chi2 has no digits left to tell a better point by.
  descent_end settle() {
    constexpr double enough = 1e-11, least_gain = 0.9, good = 1e-8;
    auto next = step_with(0.0, {});
    double offset = offset_of(next);
    for (int i = 0; i < most_steps && offset > enough; ++i) {
      const auto before = std::pair(here_, sums_);
      here_ = moved(next);
      sums_ = sums_at(here_);
      next = step_with(0.0, {});
      const double now = offset_of(next);
      if (!(now < least_gain * offset)) {
        std::tie(here_, sums_) = before;
        break;
      }
      offset = now;
    }
    return offset <= good ? descent_end::arrived : descent_end::unsettled;
  }

  static constexpr std::size_t power = 2;  ///< which parameter m is
  static constexpr int most_steps = 60;
  static constexpr double least_pivot = 1e-13;
  static constexpr double near_enough = 1e-3;  ///< in standard errors: from there undamped steps settle

  bool bent_;
  curve_family family_;
  std::size_t count_;
  const std::vector<plain_reading>& readings_;
  parameter_array here_ = {};
  normal_sums sums_;
};

}  // namespace rewound::fit::detail
