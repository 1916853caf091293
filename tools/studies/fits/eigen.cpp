// SPDX-License-Identifier: MIT
#include "rivals.hpp"

#if __has_include(<unsupported/Eigen/LevenbergMarquardt>)
#include <unsupported/Eigen/LevenbergMarquardt>

namespace rewound::study {

namespace {

struct eigen_problem : Eigen::DenseFunctor<double> {
  explicit eigen_problem(const one_curve& of) : Eigen::DenseFunctor<double>(of.parameters(), of.count), curve(of) {}

  int operator()(const Eigen::VectorXd& p, Eigen::VectorXd& f) const {
    double gradient[most_parameters_of_one];
    for (int i = 0; i < curve.count; ++i)
      f[i] = curve.root[i] * (curve.value(p.data(), i, gradient) - curve.current[i]);
    return 0;
  }

  int df(const Eigen::VectorXd& p, Eigen::MatrixXd& jacobian) const {
    double gradient[most_parameters_of_one];
    for (int i = 0; i < curve.count; ++i) {
      curve.value(p.data(), i, gradient);
      for (int j = 0; j < curve.parameters(); ++j) jacobian(i, j) = curve.root[i] * gradient[j];
    }
    return 0;
  }

  const one_curve& curve;
};

class eigen_rival : public rival {
 public:
  void minimise(const one_curve& curve, double* p) override {
    eigen_problem problem(curve);
    Eigen::LevenbergMarquardt<eigen_problem> solver(problem);
    solver.setXtol(1e-10);
    solver.setFtol(1e-10);
    Eigen::VectorXd at = Eigen::Map<Eigen::VectorXd>(p, curve.parameters());
    solver.minimize(at);
    for (int j = 0; j < curve.parameters(); ++j) p[j] = at[j];
  }
};

}  // namespace

std::unique_ptr<rival> make_eigen() { return std::make_unique<eigen_rival>(); }

}  // namespace rewound::study
#else
std::unique_ptr<rewound::study::rival> rewound::study::make_eigen() { return nullptr; }
#endif
