// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <map>
#include <numbers>
#include <stdexcept>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "dual.hpp"
#include "nist_tables.hpp"

// The 27 nonlinear model formulas of NIST StRD, as each set's text prints them. b[0] is NIST's b1.

namespace oracle {

using parameters = std::vector<dual>;
using predictors = Eigen::RowVectorXd;  ///< one row without y
using model = dual (*)(const parameters&, const predictors&);

inline dual square(const dual& a) { return a * a; }

inline dual bennett5(const parameters& b, const predictors& x) { return b[0] * pow(b[1] + x[0], -1.0 / b[2]); }
inline dual box_bod(const parameters& b, const predictors& x) { return b[0] * (1.0 - exp(-b[1] * x[0])); }
inline dual chwirut(const parameters& b, const predictors& x) { return exp(-b[0] * x[0]) / (b[1] + b[2] * x[0]); }
inline dual dan_wood(const parameters& b, const predictors& x) { return b[0] * pow(x[0], b[1]); }
inline dual enso(const parameters& b, const predictors& x) {
  const dual turn = 2.0 * std::numbers::pi * x[0];
  return b[0] + b[1] * cos(turn / 12.0) + b[2] * sin(turn / 12.0) + b[4] * cos(turn / b[3]) + b[5] * sin(turn / b[3]) +
         b[7] * cos(turn / b[6]) + b[8] * sin(turn / b[6]);
}
inline dual eckerle4(const parameters& b, const predictors& x) {
  return b[0] / b[1] * exp(-0.5 * square((x[0] - b[2]) / b[1]));
}
inline dual gauss(const parameters& b, const predictors& x) {
  return b[0] * exp(-b[1] * x[0]) + b[2] * exp(-square((x[0] - b[3]) / b[4])) +
         b[5] * exp(-square((x[0] - b[6]) / b[7]));
}
inline dual cubic_ratio(const parameters& b, const predictors& x) {
  const double t = x[0];
  return (b[0] + t * (b[1] + t * (b[2] + t * b[3]))) / (1.0 + t * (b[4] + t * (b[5] + t * b[6])));
}
inline dual kirby2(const parameters& b, const predictors& x) {
  const double t = x[0];
  return (b[0] + t * (b[1] + t * b[2])) / (1.0 + t * (b[3] + t * b[4]));
}
inline dual lanczos(const parameters& b, const predictors& x) {
  return b[0] * exp(-b[1] * x[0]) + b[2] * exp(-b[3] * x[0]) + b[4] * exp(-b[5] * x[0]);
}
inline dual mgh09(const parameters& b, const predictors& x) {
  const double t = x[0];
  return b[0] * (t * t + t * b[1]) / (t * t + t * b[2] + b[3]);
}
inline dual mgh10(const parameters& b, const predictors& x) { return b[0] * exp(b[1] / (x[0] + b[2])); }
inline dual mgh17(const parameters& b, const predictors& x) {
  return b[0] + b[1] * exp(-x[0] * b[3]) + b[2] * exp(-x[0] * b[4]);
}
inline dual misra1b(const parameters& b, const predictors& x) {
  return b[0] * (1.0 - 1.0 / square(1.0 + b[1] * x[0] / 2.0));
}
inline dual misra1c(const parameters& b, const predictors& x) {
  return b[0] * (1.0 - pow(1.0 + 2.0 * b[1] * x[0], -0.5));
}
inline dual misra1d(const parameters& b, const predictors& x) { return b[0] * b[1] * x[0] / (1.0 + b[1] * x[0]); }
/// Of log(y); see response().
inline dual nelson(const parameters& b, const predictors& x) { return b[0] - b[1] * x[0] * exp(-b[2] * x[1]); }
inline dual rat42(const parameters& b, const predictors& x) { return b[0] / (1.0 + exp(b[1] - b[2] * x[0])); }
inline dual rat43(const parameters& b, const predictors& x) {
  return b[0] / pow(1.0 + exp(b[1] - b[2] * x[0]), 1.0 / b[3]);
}
inline dual roszman1(const parameters& b, const predictors& x) {
  return b[0] - b[1] * x[0] - atan(b[2] / (x[0] - b[3])) / std::numbers::pi;
}

inline model model_of(const std::string& set) {
  static const std::map<std::string, model> models = {
      {"Bennett5", bennett5}, {"BoxBOD", box_bod},    {"Chwirut1", chwirut},   {"Chwirut2", chwirut},
      {"DanWood", dan_wood},  {"ENSO", enso},         {"Eckerle4", eckerle4},  {"Gauss1", gauss},
      {"Gauss2", gauss},      {"Gauss3", gauss},      {"Hahn1", cubic_ratio},  {"Kirby2", kirby2},
      {"Lanczos1", lanczos},  {"Lanczos2", lanczos},  {"Lanczos3", lanczos},   {"MGH09", mgh09},
      {"MGH10", mgh10},       {"MGH17", mgh17},       {"Misra1a", box_bod},    {"Misra1b", misra1b},
      {"Misra1c", misra1c},   {"Misra1d", misra1d},   {"Nelson", nelson},      {"Rat42", rat42},
      {"Rat43", rat43},       {"Roszman1", roszman1}, {"Thurber", cubic_ratio}};
  const auto found = models.find(set);
  if (found == models.end()) throw std::runtime_error("no model for set " + set);
  return found->second;
}

/// The fitted response: y, or log(y) for Nelson.
inline double response(const nist_set& set, Eigen::Index row) {
  const double y = set.rows(row, 0);
  return set.name == "Nelson" ? std::log(y) : y;
}

/// Residuals (observed minus model) and Jacobian of one set in the form fit_least_squares takes.
class nist_problem {
 public:
  explicit nist_problem(const nist_set& set) : set_(set), model_(model_of(set.name)) {}

  Eigen::VectorXd residuals(const Eigen::VectorXd& values) const { return evaluate(values, nullptr); }

  Eigen::MatrixXd jacobian(const Eigen::VectorXd& values) const {
    Eigen::MatrixXd result(set_.rows.rows(), values.size());
    evaluate(values, &result);
    return result;
  }

 private:
  Eigen::VectorXd evaluate(const Eigen::VectorXd& values, Eigen::MatrixXd* jacobian) const {
    parameters b;
    for (const double value : values) b.push_back(dual::variable(value, b.size()));
    Eigen::VectorXd residual(set_.rows.rows());
    for (Eigen::Index row = 0; row < residual.size(); ++row) {
      const dual fitted = model_(b, set_.rows.row(row).tail(set_.rows.cols() - 1));
      residual[row] = response(set_, row) - fitted.value;
      for (Eigen::Index j = 0; jacobian != nullptr && j < values.size(); ++j) {
        (*jacobian)(row, j) = -fitted.gradient[static_cast<std::size_t>(j)];
      }
    }
    return residual;
  }

  const nist_set& set_;
  model model_;
};

}  // namespace oracle
