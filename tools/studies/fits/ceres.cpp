// SPDX-License-Identifier: MIT
#include "rivals.hpp"

#ifdef REWOUND_HAS_CERES
#include <ceres/tiny_solver.h>

namespace rewound::study {

namespace {

/// The library's own solver for small dense problems, which is its fastest here.
template <int parameters>
struct small_problem {
  using Scalar = double;
  enum { NUM_RESIDUALS = Eigen::Dynamic, NUM_PARAMETERS = parameters };
  const one_curve* curve;

  int NumResiduals() const { return curve->count; }

  bool operator()(const double* p, double* f, double* jacobian) const {
    double gradient[most_parameters_of_one];
    for (int i = 0; i < curve->count; ++i) {
      f[i] = curve->root[i] * (curve->value(p, i, gradient) - curve->current[i]);
      if (!jacobian) continue;
      for (int j = 0; j < parameters; ++j) jacobian[i + j * curve->count] = curve->root[i] * gradient[j];
    }
    return true;
  }
};

template <int parameters>
void minimise_small(const one_curve& curve, ceres::TinySolver<small_problem<parameters>>& solver, double* p) {
  const small_problem<parameters> problem{&curve};
  Eigen::Matrix<double, parameters, 1> at = Eigen::Map<Eigen::Matrix<double, parameters, 1>>(p);
  solver.options.max_num_iterations = 200;
  solver.options.gradient_tolerance = 1e-12;
  solver.options.parameter_tolerance = 1e-10;
  solver.options.cost_threshold = 0.0;
  solver.Solve(problem, &at);
  for (int j = 0; j < parameters; ++j) p[j] = at[j];
}

class ceres_rival : public rival {
 public:
  void minimise(const one_curve& curve, double* p) override {
    if (curve.parameters() == 2) minimise_small<2>(curve, two_, p);
    else minimise_small<3>(curve, three_, p);
  }

 private:
  ceres::TinySolver<small_problem<2>> two_;
  ceres::TinySolver<small_problem<3>> three_;
};

}  // namespace

std::unique_ptr<rival> make_ceres() { return std::make_unique<ceres_rival>(); }

}  // namespace rewound::study
#else
std::unique_ptr<rewound::study::rival> rewound::study::make_ceres() { return nullptr; }
#endif
