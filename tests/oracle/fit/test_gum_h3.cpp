// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include <Eigen/Core>

#include <rewound/fit/linear.hpp>

#include "nist_tables.hpp"

// Oracle: JCGM 100:2008 annex H.3 (thermometer calibration), reference/oracles/gum_h3/gum_h3.txt.

namespace fit = rewound::fit;

namespace {

struct thermometer {
  std::vector<oracle::fields> table = oracle::read_table(oracle::oracle_path("gum_h3/gum_h3.txt"));
  fit::linear_result line;
  double residual_sd = 0.0;
  Eigen::MatrixXd covariance;

  explicit thermometer(double reference_temperature_degC) {
    const Eigen::MatrixXd rows = oracle::rows_of(table);
    Eigen::MatrixXd design(rows.rows(), 2);
    design.col(0).setOnes();
    design.col(1) = rows.col(0).array() - reference_temperature_degC;
    line = fit::fit_linear(design, rows.col(1));
    residual_sd = std::sqrt(line.chi2 / static_cast<double>(line.degrees_of_freedom));
    covariance = residual_sd * residual_sd * line.covariance_unscaled;
  }
};

void check_both(const thermometer& t, const std::string& quantity, std::size_t cell, double computed) {
  CAPTURE(quantity);
  const std::string text = oracle::line_named(t.table, "printed_" + quantity).at(cell);
  const auto decimals = static_cast<double>(text.size() - text.find('.') - 1);
  // Half a unit of the last printed digit.
  CHECK(std::abs(computed - oracle::number(text)) <= 0.5 * std::pow(10.0, -decimals));
  // 21.521 and the like are not exact in binary: about two digits go in the centring of the temperatures.
  CHECK(oracle::digits(computed, oracle::value_named(t.table, "exact_" + quantity, cell)) >= 12.0);
}

}  // namespace

TEST_CASE("the straight line of GUM H.3 has the printed parameters, uncertainties and correlation") {
  const thermometer t(20.0);
  REQUIRE(t.line.usable());
  CHECK(t.line.degrees_of_freedom == 9);
  check_both(t, "y1", 1, t.line.parameters[0]);
  check_both(t, "y1", 2, std::sqrt(t.covariance(0, 0)));
  check_both(t, "y2", 1, t.line.parameters[1]);
  check_both(t, "y2", 2, std::sqrt(t.covariance(1, 1)));
  check_both(t, "correlation", 1, t.covariance(0, 1) / std::sqrt(t.covariance(0, 0) * t.covariance(1, 1)));
  check_both(t, "residual_standard_deviation", 1, t.residual_sd);
}

TEST_CASE("the correction predicted at 30 degC carries the covariance of both parameters") {
  const thermometer t(20.0);
  REQUIRE(t.line.usable());
  const Eigen::Vector2d at_30(1.0, 10.0);
  const double u = std::sqrt(at_30.dot(t.covariance * at_30));
  check_both(t, "prediction_30_degC", 1, at_30.dot(t.line.parameters));
  check_both(t, "prediction_30_degC", 2, u);
  // Without the covariance .00727 comes out, nearly twice as much: the test would see it being dropped.
  const double without = std::sqrt(t.covariance(0, 0) + 100.0 * t.covariance(1, 1));
  CHECK(without > 1.7 * u);
}

TEST_CASE("moving the reference temperature changes the parameters but not the prediction") {
  const thermometer at_20(20.0);
  const thermometer centred(24.0085);  // mean of the eleven temperatures, rounded to four decimals
  REQUIRE(centred.line.usable());
  const Eigen::Vector2d far(1.0, 30.0 - 24.0085);
  const Eigen::Vector2d near(1.0, 10.0);
  CHECK(oracle::digits(far.dot(centred.line.parameters), near.dot(at_20.line.parameters)) >= 12.0);
  CHECK(oracle::digits(far.dot(centred.covariance * far), near.dot(at_20.covariance * near)) >= 12.0);
  const double correlation = centred.covariance(0, 1) / std::sqrt(centred.covariance(0, 0) * centred.covariance(1, 1));
  CHECK(std::abs(correlation) < 1e-3);                                      // 0 at the exact mean
  CHECK(std::abs(std::sqrt(centred.covariance(0, 0)) - 0.0011) < 0.00005);  // JCGM 100:2008 H.3.5
}
