// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

// One curve as every rival of the table sees it, and what all of them do alike around their solver.
namespace rewound::study {

enum class task { power, magnetising, robust_power };

constexpr int most_readings_of_one = 16;
constexpr int most_parameters_of_one = 3;

constexpr int parameters_of(task kind) { return kind == task::magnetising ? 3 : 2; }

/// sum of share w (I - f)^2 of one curve. `root` is sqrt(share w), ln x is taken once.
struct one_curve {
  task kind = task::power;
  int count = 0;
  double x[most_readings_of_one];
  double z[most_readings_of_one];
  double current[most_readings_of_one];
  double weight[most_readings_of_one];
  double root[most_readings_of_one];

  int parameters() const { return parameters_of(kind); }

  /// f and its gradient with respect to the parameters.
  double value(const double* p, int i, double* gradient) const {
    if (kind != task::magnetising) {
      const double power = std::exp(p[1] * z[i]);
      gradient[0] = power;
      gradient[1] = p[0] * power * z[i];
      return p[0] * power;
    }
    const double power = std::exp(p[2] * z[i]);
    gradient[0] = x[i];
    gradient[1] = power;
    gradient[2] = p[1] * power * z[i];
    return p[0] * x[i] + p[1] * power;
  }

  double chi2(const double* p) const {
    double sum = 0.0;
    double gradient[most_parameters_of_one];
    for (int i = 0; i < count; ++i) {
      const double r = root[i] * (current[i] - value(p, i, gradient));
      sum += r * r;
    }
    return sum;
  }
};

/// A general solver of small least squares: from `p` to where the sum is least near it.
struct rival {
  virtual ~rival() = default;
  virtual void minimise(const one_curve& curve, double* p) = 0;
};

}  // namespace rewound::study
