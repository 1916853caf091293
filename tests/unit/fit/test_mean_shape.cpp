// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <Eigen/Core>

#include <near.hpp>
#include <rewound/fit/mean_shape.hpp>
#include <rewound/fit/pooling.hpp>

namespace fit = rewound::fit;
using rewound::testing::near_absolute;

namespace {

/// Readings of parabola + 0.05 sin(6 z): the one shape function here, known to 0.001 each.
fit::unit_information read_at(const std::vector<double>& places, const Eigen::Vector3d& parabola, double shape) {
  Eigen::MatrixXd design(static_cast<Eigen::Index>(places.size()), 4);
  Eigen::VectorXd value(design.rows());
  for (Eigen::Index i = 0; i < design.rows(); ++i) {
    const double z = places[static_cast<std::size_t>(i)];
    design.row(i) << 1.0, z, z * z, std::sin(6.0 * z);
    value[i] = parabola[0] + parabola[1] * z + parabola[2] * z * z + shape * std::sin(6.0 * z);
  }
  constexpr double precision = 1e6;
  return {precision * design.transpose() * design, precision * design.transpose() * value};
}

const std::vector<double> upper{-0.4, -0.3, -0.2, -0.1, 0.0, 0.05};
const std::vector<double> lower{-0.8, -0.7, -0.6, -0.5, -0.4, -0.2};
const Eigen::Vector4d machine_spread{0.04, 0.08, 0.1, 0.003};

fit::mean_shape common_shape(const std::vector<fit::unit_information>& machines) {
  return fit::shape_of_curve(fit::curve_in_common(machines, machine_spread.array().square().matrix().asDiagonal(),
                                                  Eigen::VectorXd::Constant(1, 0.1)));
}

}  // namespace

TEST_CASE("machines read at different voltages give their common shape, whatever parabola each has") {
  const auto shape = common_shape({read_at(upper, {-0.9, 1.1, 0.2}, 0.05), read_at(lower, {-0.95, 1.0, 0.3}, 0.05),
                                   read_at(upper, {-0.85, 1.2, 0.1}, 0.05)});
  CHECK(near_absolute(shape.coefficients[0], 0.05, 0.003));
  CHECK(std::sqrt(shape.covariance(0, 0)) < 0.004);
}

TEST_CASE("with the shape taken out, a machine's own parabola is what remains") {
  const auto machine = read_at(upper, {-0.9, 1.1, 0.2}, 0.05);
  fit::mean_shape known{Eigen::VectorXd::Constant(1, 0.05), Eigen::MatrixXd::Zero(1, 1)};
  const auto own = fit::parabola_of(machine, known);
  const Eigen::VectorXd parabola = fit::symmetric_inverse(own.precision) * own.weighted;
  CHECK(near_absolute(parabola[0], -0.9, 1e-8));
  CHECK(near_absolute(parabola[1], 1.1, 1e-7));
  CHECK(near_absolute(parabola[2], 0.2, 1e-7));
}

TEST_CASE("an uncertain shape widens a parabola the more, the less the readings tell them apart") {
  const fit::mean_shape vague{Eigen::VectorXd::Zero(1), Eigen::MatrixXd::Constant(1, 1, 0.01 * 0.01)};
  const auto added = [&](const std::vector<double>& places) {
    const auto machine = read_at(places, {-0.9, 1.1, 0.2}, 0.0);
    const Eigen::MatrixXd own = fit::symmetric_inverse(fit::parabola_of(machine, vague).precision);
    return fit::covariance_from_shape(machine, vague, own);
  };
  const auto near_rated = added(upper);
  CHECK(near_rated(0, 0) > 0.0);
  CHECK(added(lower)(0, 0) > near_rated(0, 0));
  // Linear in the shape's variance.
  fit::mean_shape twice = vague;
  twice.covariance *= 4.0;
  const auto machine = read_at(upper, {-0.9, 1.1, 0.2}, 0.0);
  const Eigen::MatrixXd own = fit::symmetric_inverse(fit::parabola_of(machine, vague).precision);
  CHECK(near_absolute(fit::covariance_from_shape(machine, twice, own)(0, 0) / near_rated(0, 0), 4.0, 1e-9));
}

TEST_CASE("without readings the shape stays what was believed") {
  const auto shape = common_shape({{Eigen::MatrixXd::Zero(4, 4), Eigen::VectorXd::Zero(4)}});
  CHECK(near_absolute(shape.coefficients[0], 0.0, 1e-12));
  CHECK(near_absolute(std::sqrt(shape.covariance(0, 0)), 0.1, 1e-6));
}
