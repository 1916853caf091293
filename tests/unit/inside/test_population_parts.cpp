// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <random>
#include <vector>

#include <Eigen/Core>
#include <Eigen/LU>

#include <near.hpp>
#include <rewound/checks/design_population.hpp>

// The steps from solved designs to what a model's machines may be, each against what it is by definition.
namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace machine = rewound::machine;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using rewound::fit::channel;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

MatrixXd drawn(Eigen::Index rows, Eigen::Index columns, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  return MatrixXd::NullaryExpr(rows, columns, [&] { return normal(random); });
}

double apart(const MatrixXd& a, const MatrixXd& b) { return (a - b).cwiseAbs().maxCoeff(); }

}  // namespace

TEST_CASE("a parabola through one to three readings of one has its level, slope and curvature at the rated voltage") {
  const double a = 0.3, b = 1.7, c = -0.9;
  const auto of = [&](double z, double slope, double curvature) { return a + slope * z + curvature * z * z; };
  const double three[] = {of(0.1, b, c), of(-0.2, b, c), of(-0.5, b, c)};
  CHECK(apart(detail::parabola_through({0.1, -0.2, -0.5}, three), Eigen::Vector3d(a, b, c)) < 1e-12);
  const double two[] = {of(0.1, b, 0.0), of(-0.2, b, 0.0)};
  CHECK(apart(detail::parabola_through({0.1, -0.2}, two), Eigen::Vector3d(a, b, 0.0)) < 1e-12);
  CHECK(apart(detail::parabola_through({0.1}, three), Eigen::Vector3d(three[0], 0.0, 0.0)) == 0.0);
}

TEST_CASE("meters show nothing below a thousandth of the usual, of each channel its own") {
  CHECK(near_relative(detail::shown_log(0.3, 100.0), std::log(0.3), 1e-12));
  CHECK(near_relative(detail::shown_log(0.05, 100.0), std::log(0.1), 1e-12));
  machine::operating_point open{};
  machine::induction_machine of{};
  of.rated_voltage_V = 200.0;
  of.rated_frequency_Hz = 50.0;
  CHECK(near_relative(detail::log_value(open, channel::current, of), std::log(1e-4), 1e-12));
  CHECK(near_relative(detail::log_value(open, channel::power, of), std::log(2e-3), 1e-12));
  // A rotor at rest: a thousandth of 20 rpm for each hertz, a third of a two-pole machine's synchronous speed.
  CHECK(near_absolute(detail::log_value(open, channel::rotation, of), std::log(1.0), 1e-12));
}

TEST_CASE("the grid is looked at down to the voltage asked for, and straight between its voltages") {
  CHECK(detail::grid.size() == 6);
  for (std::size_t i = 1; i < detail::grid.size(); ++i) CHECK(detail::grid[i] < detail::grid[i - 1]);
  CHECK(near_absolute(detail::grid[1], 0.0, 0.0));  // the rated voltage is one of them
  CHECK(detail::nodes_down_to(0.5) == 2);
  CHECK(detail::nodes_down_to(detail::grid[2]) == 3);
  CHECK(detail::nodes_down_to(detail::grid[2] - 1e-9) == 4);
  CHECK(detail::nodes_down_to(-9.0) == detail::grid.size());
  for (std::size_t i = 0; i + 1 < detail::grid.size(); ++i) {
    const double z = 0.25 * detail::grid[i] + 0.75 * detail::grid[i + 1];
    const auto place = detail::place_on_grid(z);
    CHECK(place.above == static_cast<Eigen::Index>(i));
    CHECK(near_relative(place.share_below, 0.75, 1e-12));
  }
  CHECK(detail::place_on_grid(detail::grid[0] + 0.1).above == 0);
  CHECK(detail::place_on_grid(detail::grid[0] + 0.1).share_below < 0.0);
  CHECK(detail::place_on_grid(-5.0).above == 4);
  // A straight line on the grid is that line at any voltages.
  VectorXd line(6);
  for (Eigen::Index i = 0; i < 6; ++i) line[i] = 0.4 + 1.5 * detail::grid[static_cast<std::size_t>(i)];
  const MatrixXd map = detail::coefficients_from_grid({0.05, -0.2, -0.6});
  CHECK(apart(map * line, Eigen::Vector3d(0.4, 1.5, 0.0)) < 1e-12);
}

TEST_CASE("the lowest voltage that is solved is a step of the grid at or below all readings") {
  const auto lowest = [](std::vector<double> z) { return checks::lowest_to_solve({{0, std::move(z), {}}}); };
  CHECK(lowest({0.0, -0.1}) == detail::grid[2]);
  CHECK(lowest({0.0, detail::grid[2]}) == detail::grid[2]);
  CHECK(lowest({0.0, detail::grid[2] - 1e-9}) == detail::grid[3]);
  CHECK(lowest({0.0, detail::grid[3]}) == detail::grid[3]);
  CHECK(lowest({0.0, detail::grid[3] - 1e-9}) == detail::grid[5]);
}

TEST_CASE("severities are solved at equal factors from the least to the most, and once where there is one") {
  const checks::weighed_fault fault{0, machine::fault::tight_bearing, 0.08, 2.0};
  CHECK(near_relative(detail::between_severities(fault, 0.5), 0.4, 1e-12));
  const auto three = detail::severities_solved(fault);
  REQUIRE(three.size() == 3);
  CHECK(near_relative(three[0], 0.08, 1e-12));
  CHECK(near_relative(three[1], 0.4, 1e-12));
  CHECK(near_relative(three[2], 2.0, 1e-12));
  CHECK(detail::severities_solved({0, machine::fault::tight_bearing, 0.3, 0.3}) == std::vector<double>{0.3});
}

TEST_CASE("a signature lies on the straight line between solved severities, below them on that from health") {
  const std::vector<double> severities{1.0, 2.0, 4.0};
  const std::vector<VectorXd> solved{VectorXd::Constant(1, 10.0), VectorXd::Constant(1, 14.0),
                                     VectorXd::Constant(1, 30.0)};
  const auto at = [&](double severity) { return detail::signature_at(severities, solved, severity)[0]; };
  CHECK(near_relative(at(0.5), 5.0, 1e-12));
  CHECK(near_relative(at(1.0), 10.0, 1e-12));
  CHECK(near_relative(at(1.25), 11.0, 1e-12));
  CHECK(near_relative(at(2.0), 14.0, 1e-12));
  CHECK(near_relative(at(3.0), 22.0, 1e-12));
  CHECK(near_relative(at(4.0), 30.0, 1e-12));
  CHECK(near_relative(at(5.0), 38.0, 1e-12));
  CHECK(near_relative(detail::signature_at({2.0}, {VectorXd::Constant(1, 14.0)}, 3.0)[0], 21.0, 1e-12));
}

TEST_CASE("features are a constant, each coefficient held within 2.5, and its square as far as it is news") {
  VectorXd standard(2);
  standard << 0.8, -40.0;
  const auto f = detail::features(standard);
  REQUIRE(f.size() == 5);
  const double held = 2.5 * std::tanh(0.8 / 2.5);
  CHECK(f[0] == 1.0);
  CHECK(near_relative(f[1], held, 1e-12));
  CHECK(near_relative(f[2], -2.5, 1e-9));
  CHECK(near_relative(f[3], (held * held - 1.0) / std::sqrt(2.0), 1e-12));
  CHECK(near_relative(f[4], (6.25 - 1.0) / std::sqrt(2.0), 1e-9));
}

TEST_CASE("columns of a scatter give back its covariance where it has no more directions than columns") {
  const MatrixXd residuals = drawn(40, 3, 1) * drawn(3, 9, 2);
  VectorXd scales(9);
  scales << 0.01, 0.1, 1.0, 3.0, 0.2, 0.5, 1.0, 2.0, 0.7;
  const MatrixXd found = detail::scatter_columns(residuals, scales);
  CHECK(found.cols() == 7);
  const MatrixXd covariance = residuals.transpose() * residuals / 40.0;
  CHECK(apart(found * found.transpose(), covariance) < 1e-9 * covariance.cwiseAbs().maxCoeff());
  // The first is the widest direction in the scales.
  const MatrixXd scaled = scales.cwiseInverse().asDiagonal() * covariance * scales.cwiseInverse().asDiagonal();
  const VectorXd first = scales.cwiseInverse().asDiagonal() * found.col(0);
  CHECK((scaled * first - first.squaredNorm() * first).norm() < 1e-3 * (scaled * first).norm());
  CHECK(detail::scatter_columns(MatrixXd::Zero(5, 2), VectorXd::Ones(2)).norm() == 0.0);
}

TEST_CASE("mean and deviation are those of the members that count") {
  MatrixXd of(3, 2);
  of << 1.0, 10.0, 3.0, 14.0, 100.0, 100.0;
  const std::vector<bool> rows{true, true, false};
  const VectorXd mean = detail::mean_of(of, rows);
  CHECK(apart(mean, Eigen::Vector2d(2.0, 12.0)) < 1e-12);
  CHECK(apart(detail::deviation_of_members(of, mean, rows), Eigen::Vector2d(1.0, 2.0)) < 1e-12);
  CHECK(detail::mean_of(of, {false, false, false}).norm() == 0.0);
}

TEST_CASE("what is left over is what each member strays from a fit to all the others, held within three deviations") {
  constexpr Eigen::Index members = 30;
  MatrixXd x(members, 4);
  x << VectorXd::Ones(members), drawn(members, 3, 3);
  const MatrixXd y = x * drawn(4, 2, 4) + 0.3 * drawn(members, 2, 5);
  std::vector<bool> rows(members, true);
  rows[7] = rows[20] = false;
  const detail::ridge solved(x, rows);
  const MatrixXd map = solved.normal.solve_columns(solved.x.transpose() * y);
  const MatrixXd left = detail::left_over(solved, y, map);
  MatrixXd expected = MatrixXd::Zero(members, 2);
  for (Eigen::Index out = 0; out < members; ++out) {
    if (!rows[static_cast<std::size_t>(out)]) continue;
    MatrixXd normal = MatrixXd::Zero(4, 4), right = MatrixXd::Zero(4, 2);
    normal.diagonal().tail(3).array() += 3.0;
    for (Eigen::Index i = 0; i < members; ++i)
      if (i != out && rows[static_cast<std::size_t>(i)]) {
        normal += x.row(i).transpose() * x.row(i);
        right += x.row(i).transpose() * y.row(i);
      }
    expected.row(out) = y.row(out) - x.row(out) * normal.lu().solve(right);
  }
  for (Eigen::Index column = 0; column < 2; ++column) {
    const double limit = 3.0 * std::sqrt(expected.col(column).squaredNorm() / 28.0);
    expected.col(column) = expected.col(column).cwiseMax(-limit).cwiseMin(limit);
  }
  CHECK(apart(left, std::sqrt(30.0 / 28.0) * expected) < 1e-9);
}

TEST_CASE("a member far from all others does not stand for them") {
  MatrixXd x = MatrixXd::Ones(20, 1);
  MatrixXd y = MatrixXd::Constant(20, 1, 1.0);
  y(3, 0) = 101.0;
  const detail::ridge solved(x, std::vector<bool>(20, true));
  const MatrixXd left = detail::left_over(solved, y, solved.normal.solve_columns(x.transpose() * y));
  // Its 100 from the others' mean; the others 100 / 19 from one with it: three root mean squares.
  const double rms = std::sqrt((1e4 + 19.0 * std::pow(100.0 / 19.0, 2)) / 20.0);
  CHECK(near_relative(left(3, 0), 3.0 * rms, 1e-9));
  CHECK(near_relative(left(0, 0), -100.0 / 19.0, 1e-9));
  y(3, 0) = -99.0;
  CHECK(near_relative(detail::left_over(solved, y, solved.normal.solve_columns(x.transpose() * y))(3, 0), -3.0 * rms,
                      1e-9));
}

TEST_CASE("a member that alone decides what it is told to be strays by ten times what is left at most") {
  // One feature that only member 0 has, held to zero by three members: leverage of a large value is near 1.
  MatrixXd x(10, 2);
  x.col(0).setOnes();
  x.col(1).setZero();
  x(0, 1) = 100.0;
  const MatrixXd y = drawn(10, 1, 6);
  const detail::ridge solved(x, std::vector<bool>(10, true));
  CHECK(solved.leverage[0] > 0.95);
  const MatrixXd map = solved.normal.solve_columns(x.transpose() * y);
  const MatrixXd plain = y - x * map;
  CHECK(near_relative(detail::left_over(solved, y, map)(0, 0), 10.0 * plain(0, 0), 1e-9));
}

TEST_CASE("a member counts where it runs at both voltages of the grid that a reading lies between") {
  const checks::curve_probe probe{1, {detail::grid[1], 0.5 * (detail::grid[2] + detail::grid[3])}, {channel::current}};
  MatrixXd running = MatrixXd::Ones(1, 12);
  CHECK(detail::runs_at(probe, running, 0));
  for (const Eigen::Index node : {1, 2, 3}) {
    MatrixXd stalled = running;
    stalled(0, 6 + node) = 0.0;
    CHECK_FALSE(detail::runs_at(probe, stalled, 0));
  }
  for (const Eigen::Index elsewhere : {0, 1, 2, 3, 10}) {
    MatrixXd stalled = running;
    stalled(0, elsewhere) = 0.0;
    CHECK(detail::runs_at(probe, stalled, 0));
  }
}

TEST_CASE("what a model may do beside a fault goes with how far the fault moves each level") {
  checks::population_regression in;
  in.coefficients = 6;
  in.channels = {channel::current, channel::rotation};
  VectorXd mean(8);
  mean << -0.2, 5.0, 6.0, 0.4, 7.0, 8.0, 0.1, 0.1;
  const MatrixXd found = detail::model_scatter(in, mean);
  MatrixXd expected = MatrixXd::Zero(8, 9);
  expected(0, 0) = 0.1 * -0.2, expected(1, 1) = 0.25 * 0.2, expected(2, 2) = 0.3 * 0.2;
  expected(3, 6) = 0.1 * 0.4, expected(4, 7) = 0.25 * 0.4, expected(5, 8) = 0.3 * 0.4;
  CHECK(apart(found, expected) < 1e-12);
}

TEST_CASE("how machines stray at a severity is that of the solved one nearest by its factor") {
  const MatrixXd any;
  const detail::solved_fault solved{{0.1, 0.4, 1.6}, {}, {&any, &any, &any}};
  CHECK(solved.nearest(0.05) == 0);
  CHECK(solved.nearest(0.19) == 0);
  CHECK(solved.nearest(0.21) == 1);
  CHECK(solved.nearest(0.79) == 1);
  CHECK(solved.nearest(0.81) == 2);
}

TEST_CASE("a fault is weighed at six severities by equal factors, each with its stretch and its scatter") {
  checks::population_regression in;
  in.coefficients = 3;
  in.channels = {channel::current};
  in.faults = {{4, machine::fault::tight_bearing, 0.1, 1.6}};
  in.fault_states = {{0, 0.1}, {0, 0.4}, {0, 1.6}};
  in.possible = {true, true, true};
  for (const double s : {1.0, 2.0, 3.0}) in.scatter.push_back(s * MatrixXd::Identity(3, 3));
  std::vector<VectorXd> targets;
  for (const double level : {0.1, 0.4, 1.6}) targets.push_back((VectorXd(5) << level, 0.0, 0.0, 0.0, 0.0).finished());
  std::vector<checks::alternative> found;
  detail::add_fault(in, targets, 0, 3, found);
  REQUIRE(found.size() == 6);
  for (std::size_t i = 0; i < 6; ++i) {
    const auto severity = [](double place) { return 0.1 * std::pow(16.0, place / 5.0); };
    const auto place = static_cast<double>(i);
    const double at = severity(place);
    CHECK(found[i].cause == 4);
    CHECK(near_relative(found[i].weight, 1.0 / 6.0, 1e-12));
    CHECK(near_relative(found[i].mean[0], at, 1e-9));  // solved levels are the severities, straight between
    const std::size_t which = i < 2 ? 0 : i < 4 ? 1 : 2;
    const double solved = in.fault_states[which].severity;
    CHECK(near_relative(found[i].scatter(1, 1), at / solved * (static_cast<double>(which) + 1.0), 1e-9));
    // Severities are equally likely along the stretch between the middles to the neighbours: its width over root 12.
    CHECK(
        near_relative(found[i].scatter(0, 3), (severity(place + 0.5) - severity(place - 0.5)) / std::sqrt(12.0), 1e-9));
    CHECK(near_relative(found[i].scatter(0, 4), 0.1 * at, 1e-9));
    CHECK(near_relative(found[i].scatter(1, 5), 0.25 * at, 1e-9));
  }
  // One severity alone that can be: it stands for itself.
  in.possible = {false, true, false};
  found.clear();
  detail::add_fault(in, targets, 0, 3, found);
  REQUIRE(found.size() == 1);
  CHECK(near_relative(found[0].mean[0], 0.4, 1e-12));
  CHECK(found[0].weight == 1.0);
  CHECK(found[0].scatter(0, 3) == 0.0);
  in.possible = {false, false, false};
  detail::add_fault(in, targets, 0, 3, found);
  CHECK(found.size() == 1);
}

TEST_CASE("a model is told by its known coefficients, less the less they are known, and by ohms") {
  checks::population_regression in;
  in.coefficients = 3;
  in.channels = {channel::current};
  in.spreads.resize(1);
  in.spreads[0].visits = 0.5;
  in.faults = {{2, machine::fault::tight_bearing, 0.5, 0.5}};
  in.fault_states = {{0, 0.5}};
  in.possible = {true};
  in.scatter = {MatrixXd::Zero(3, 1)};
  in.ohms = {Eigen::Vector2d(0.01, 0.02), Eigen::Vector2d(-0.3, -0.4)};
  checks::population_regression::block block;
  block.from = {0, 1};
  block.mean = Eigen::Vector2d(1.0, 2.0);
  block.scale = Eigen::Vector2d(0.5, 0.25);
  block.map = drawn(5, 9, 7);
  in.blocks = {block};
  const checks::known_coefficients_of_model model{Eigen::Vector3d(1.4, 1.9, 0.0), Eigen::Vector3d(0.25, 0.5, 0.0)};
  const double first = 0.4 / 0.5 / (1.0 + 0.25), second = -0.1 / 0.25 / (1.0 + 4.0);
  const Eigen::RowVectorXd told = detail::features(Eigen::Vector2d(first, second)).transpose() * block.map;
  const auto found = checks::predict_signatures(in, model);
  CHECK(found.misfit == 1.0);  // the squares' mean is below 1
  REQUIRE(found.signatures.faulty.size() == 1);
  CHECK(apart(found.signatures.faulty[0].mean.head(3), told.segment(6, 3).transpose()) < 1e-12);
  CHECK(apart(found.signatures.faulty[0].mean.tail(2), Eigen::Vector2d(-0.3, -0.4)) < 1e-12);
  VectorXd spread(5);
  spread << told.segment(3, 3).transpose(), 0.01, 0.02;
  VectorXd own(5);
  own << 0.003, 0.01, 0.02, 0.005, 0.005;
  const MatrixXd square = spread * spread.transpose();
  CHECK(apart(found.signatures.healthy_covariance, square + MatrixXd(own.cwiseAbs2().asDiagonal())) < 1e-12);
  CHECK(apart(found.between_visits, 0.25 * square) < 1e-12);
  const checks::known_coefficients_of_model odd{Eigen::Vector3d(3.0, 1.5, 0.0), Eigen::Vector3d::Zero()};
  CHECK(near_relative(checks::predict_signatures(in, odd).misfit, (16.0 + 4.0) / 2.0, 1e-12));
}

TEST_CASE("an alternative as three points keeps its share, its mean and its variance along the widest direction") {
  checks::alternative in{3, 0.6, Eigen::Vector2d(1.0, -2.0)};
  CHECK(checks::in_points(in).size() == 1);
  in.scatter = Eigen::Vector2d(0.3, 0.4);
  const auto points = checks::in_points(in);
  REQUIRE(points.size() == 3);
  double weight = 0.0;
  Eigen::Vector2d mean = Eigen::Vector2d::Zero();
  for (const auto& each : points) weight += each.weight, mean += each.weight * each.mean;
  CHECK(near_relative(weight, 0.6, 1e-12));
  CHECK(apart(mean / weight, in.mean) < 1e-12);
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  double fourth = 0.0;
  for (const auto& each : points) {
    const Eigen::Vector2d away = each.mean - in.mean;
    covariance += each.weight / weight * away * away.transpose();
    fourth += each.weight / weight * std::pow(away[0] / 0.3, 4);
  }
  CHECK(apart(covariance, in.scatter * in.scatter.transpose()) < 1e-12);
  CHECK(near_relative(fourth, 3.0, 1e-12));  // as a normal distribution's
  CHECK(near_relative(points[0].weight, 0.4, 1e-12));
}

TEST_CASE("a spread that may be wider is the mixture of both densities, near the mean and far from it") {
  for (const double square : {0.0, 1.0, 30.0, 900.0, 4000.0})
    for (const double dimensions : {1.0, 5.0}) {
      // Relative to the narrow density's peak: 1 - p and p of a density 1.6 times as wide, over 1 - p.
      const double p = 0.25;
      const double narrow = -0.5 * square;
      const double wide = std::log(p / (1.0 - p)) - dimensions * std::log(1.6) - 0.5 * square / (1.6 * 1.6);
      const double most = std::max(narrow, wide);
      const double expected = most + std::log(std::exp(narrow - most) + std::exp(wide - most));
      const double found = detail::log_kernel(square, dimensions, p);
      CHECK(near_absolute(found, expected, 1e-9 * (1.0 + std::abs(expected))));
      CHECK(detail::log_kernel(square, dimensions, 0.0) == narrow);
    }
}

TEST_CASE("shares end to end tell an index, the last for what is beyond them") {
  const std::vector<double> shares{0.2, 0.5, 0.3};
  CHECK(detail::index_of_share(shares, 0.0) == 0);
  CHECK(detail::index_of_share(shares, 0.19) == 0);
  CHECK(detail::index_of_share(shares, 0.21) == 1);
  CHECK(detail::index_of_share(shares, 0.69) == 1);
  CHECK(detail::index_of_share(shares, 0.71) == 2);
  CHECK(detail::index_of_share(shares, 1.5) == 2);
}

TEST_CASE("alternatives side by side keep each point's mean, with shares that sum to one and none to fill up") {
  std::vector<checks::alternative> list;
  for (int i = 0; i < 3; ++i) list.push_back({0, 1.0 + i, Eigen::Vector2d(i, -i)});
  list.push_back({1, 4.0, Eigen::Vector2d(9.0, 9.0), 0, Eigen::Vector2d(0.1, 0.0)});
  const auto laned = detail::in_lanes(list);
  const double total = 1.0 + 2.0 + 3.0 + 4.0;
  for (std::size_t i = 0; i < 3; ++i) {
    CHECK(near_relative(laned.weight[i], (1.0 + static_cast<double>(i)) / total, 1e-12));
    CHECK(laned.means.at(i, 0) == static_cast<double>(i));
    CHECK(laned.means.at(i, 1) == -static_cast<double>(i));
  }
  CHECK(near_relative(laned.means.at(4, 0), 9.0 + 0.1 * std::sqrt(3.0), 1e-12));
  CHECK(near_relative(std::accumulate(laned.weight.begin(), laned.weight.end(), 0.0), 1.0, 1e-12));
  for (std::size_t i = 6; i < laned.weight.size(); ++i) CHECK(laned.weight[i] == 0.0);
  CHECK(laned.weight.size() % static_cast<std::size_t>(rewound::base::widest_lanes()) == 0);
}
