// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <vector>

#include <rewound/checks/detail/curve_evidence_kernel.hpp>
#include <rewound/checks/detail/mixture_kernel.hpp>
#include <rewound/machine/curve_shapes.hpp>

// How well readings agree with one smooth curve of a machine: marginal likelihoods under the mixture of curve shapes
// (machine/curve_shapes.hpp). Sources: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning
// (2006), 2.2 (prediction), 5.4.2 (each reading against all others from one inverse), A.3 (Woodbury).
namespace rewound::checks::detail {

/// A reading of a curve in logarithms. `variance` is that of independent errors of log current, voltage included.
struct shape_point {
  double z;  ///< ln(voltage / rated voltage)
  double log_current;
  double variance;
};

/// What the other readings say of one: log current there, and its standard uncertainty.
struct shape_prediction {
  double log_current;
  double uncertainty;
};

/// Log evidences: of all readings lying on a curve, and of all but one, for each.
struct curve_evidence {
  double all = 0.0;
  std::vector<double> all_but;
  std::vector<shape_prediction> by_others;  ///< of each reading
};

/// A mixture's weights from their logarithms, in place: the greatest is 1. Their number fills whole registers.
/// @return its logarithm
inline double to_weights(double* logs, std::size_t count) {
  const double top = *std::max_element(logs, logs + count);
  for (std::size_t i = 0; i < count; ++i) logs[i] -= top;
  loops_of(base::widest_lanes()).exponentials(logs, count);
  return top;
}

inline double log_total(double* logs, std::size_t count) {
  const double top = to_weights(logs, count);
  return top + std::log(std::accumulate(logs, logs + count, 0.0));
}

/// ln of the sum of few numbers told by their logarithms.
inline double log_sum(const double* logs, std::size_t count) {
  const double top = *std::max_element(logs, logs + count);
  double sum = 0.0;
  for (std::size_t i = 0; i < count; ++i) sum += std::exp(logs[i] - top);
  return top + std::log(sum);
}

/// Mean and uncertainty of a mixture of predictions.
inline shape_prediction mixed_prediction(double* logs, const double* mean, const double* variance, std::size_t count) {
  to_weights(logs, count);
  double weights = 0.0, means = 0.0, squares = 0.0;
  for (std::size_t i = 0; i < count; ++i) {
    weights += logs[i];
    means += logs[i] * mean[i];
    squares += logs[i] * (variance[i] + mean[i] * mean[i]);
  }
  const double centre = means / weights;
  return {centre, std::sqrt(std::max(0.0, squares / weights - centre * centre))};
}

/// How often readings of a bench scatter beyond their meters by each of extra_scatters.
using scatter_shares = std::array<double, extra_scatters.size()>;

inline scatter_shares usual_shares() {
  scatter_shares out;
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = extra_scatters[i].share;
  return out;
}

inline kernel_answers answers_for(const std::vector<shape_point>& points, int width) {
  std::vector<kernel_point> seen;
  for (const auto& point : points) {
    const auto row = machine::shape_functions_at(point.z);
    seen.push_back({point.log_current, point.variance + row.beyond_uncertainty * row.beyond_uncertainty, row.values});
  }
  return weighed_kinds(seen, width);
}

/// Weighs the sizes of scatter by other shares than the kernel's.
inline void weigh_anew(kernel_answers& answers, const scatter_shares& shares) {
  const std::size_t lanes = answers.log_evidence.size();
  scatter_shares change;
  for (std::size_t i = 0; i < change.size(); ++i) change[i] = std::log(shares[i] / extra_scatters[i].share);
  for (auto* each : {&answers.log_evidence, &answers.log_freed, &answers.log_others})
    for (std::size_t i = 0; i < each->size(); ++i) (*each)[i] += change[i % lanes % change.size()];
}

/// ln evidence of points on a curve for each size of scatter, where any one of them may be wrong with a small
/// probability.
inline scatter_shares evidence_of_scatter(const std::vector<shape_point>& points) {
  constexpr double wrong = 0.01;  // of each reading (common practice, no source)
  auto answers = answers_for(points, base::widest_lanes());
  const std::size_t lanes = answers.log_evidence.size();
  scatter_shares out;
  for (std::size_t size = 0; size < out.size(); ++size) {
    std::vector<double> logs;
    for (std::size_t lane = size; lane < lanes; lane += out.size()) {
      logs.push_back(answers.log_evidence[lane]);
      for (std::size_t i = 0; i < points.size(); ++i)
        logs.push_back(answers.log_freed[i * lanes + lane] + std::log(wrong));
    }
    constexpr std::size_t widest = 8;
    constexpr double never = -1e300;
    logs.resize((logs.size() + widest - 1) / widest * widest, never);
    out[size] = log_total(logs.data(), logs.size()) - std::log(extra_scatters[size].share);
  }
  return out;
}

/// Evidence of the points under all kinds of curve and sizes of extra scatter.
inline curve_evidence evidence_of(const std::vector<shape_point>& points, int width = base::widest_lanes(),
                                  const scatter_shares& shares = usual_shares()) {
  auto answers = answers_for(points, width);
  weigh_anew(answers, shares);
  const std::size_t lanes = answers.log_evidence.size();
  curve_evidence out;
  out.all = log_total(answers.log_evidence.data(), lanes);
  for (std::size_t i = 0; i < points.size(); ++i) {
    const std::size_t at = i * lanes;
    out.all_but.push_back(log_total(answers.log_freed.data() + at, lanes));
    // A kind's weight given the other readings alone is their evidence, without this reading's own.
    out.by_others.push_back(mixed_prediction(answers.log_others.data() + at, answers.mean.data() + at,
                                             answers.variance.data() + at, lanes));
  }
  return out;
}

/// Log current that the points make one expect at z, with the uncertainty of one more reading there.
inline shape_prediction predict_at(const std::vector<shape_point>& points, double z, double variance,
                                   const scatter_shares& shares = usual_shares()) {
  auto with_one = points;
  with_one.push_back({z, 0.0, variance});
  return evidence_of(with_one, base::widest_lanes(), shares).by_others.back();
}

}  // namespace rewound::checks::detail
