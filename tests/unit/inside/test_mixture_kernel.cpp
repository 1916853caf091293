// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <utility>
#include <vector>

#include <near.hpp>
#include <rewound/checks/detail/curve_evidence.hpp>
#include <rewound/checks/detail/whitened.hpp>
#include <rewound/checks/fault_likelihood.hpp>

namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

/// The widths whose instructions this machine has.
std::vector<int> widths() {
  std::vector<int> out;
  for (const int width : {2, 4, 8})
    if (width <= rewound::base::widest_lanes()) out.push_back(width);
  return out;
}

checks::alternative_list some_alternatives(std::size_t count, Eigen::Index size, std::mt19937& random) {
  std::normal_distribution<double> normal;
  std::vector<checks::alternative> out;
  for (std::size_t i = 0; i < count; ++i) {
    checks::alternative one{0, 0.5 + static_cast<double>(i % 3), Eigen::VectorXd(size)};
    for (auto& each : one.mean) each = 3.0 * normal(random);
    out.push_back(one);
  }
  return out;
}

}  // namespace

TEST_CASE("exponentials in lanes are those of the standard library, of every width and below the range") {
  std::vector<double> asked;
  for (int i = -3000; i <= 2800; ++i) asked.push_back(0.25 * i);
  asked.resize(asked.size() / 8 * 8);
  for (const int width : widths()) {
    auto found = asked;
    detail::loops_of(width).exponentials(found.data(), found.size());
    for (std::size_t i = 0; i < asked.size(); ++i)
      CHECK(near_relative(found[i], std::exp(std::max(asked[i], -700.0)), 1e-15));
  }
}

TEST_CASE("a mixture's density in lanes is the sum written out, of every width and with lanes left over") {
  std::mt19937 random(3);
  std::normal_distribution<double> normal;
  for (const std::size_t count : {1u, 5u, 16u, 37u})
    for (const double wide : {0.0, 0.02})
      for (const int width : widths()) {
        constexpr std::size_t n = 3;
        detail::laned_numbers means(width, count, n);
        const std::size_t lanes = means.groups() * static_cast<std::size_t>(width);
        std::vector<double> squares(lanes, 1e30), weights(lanes, 0.0), points(n * detail::points_at_once),
            out(lanes * detail::points_at_once);
        for (auto& each : points) each = normal(random);
        for (std::size_t i = 0; i < count; ++i) {
          weights[i] = 1.0 / static_cast<double>(count);
          squares[i] = 0.0;
          for (std::size_t k = 0; k < n; ++k) {
            means.at(i, k) = 4.0 * normal(random);
            squares[i] += means.at(i, k) * means.at(i, k);
          }
        }
        const auto& loops = detail::loops_of(width);
        loops.squares(means, squares.data(), points.data(), out.data());
        for (std::size_t p = 0; p < detail::points_at_once; ++p) {
          double sum = 0.0;
          for (std::size_t i = 0; i < count; ++i) {
            double square = 0.0;
            for (std::size_t k = 0; k < n; ++k) square += std::pow(points[p * n + k] - means.at(i, k), 2);
            sum += weights[i] * (std::exp(-0.5 * square) + wide * std::exp(-0.2 * square));
          }
          CHECK(near_absolute(loops.log_density(out.data() + p * lanes, weights.data(), means.groups(), {wide, 0.2}),
                              std::log(sum), 1e-11));
        }
      }
}

TEST_CASE("far from all alternatives the density falls on without an end") {
  const checks::alternative_list one{{0, 1.0, Eigen::Vector2d(0.0, 0.0)}};
  const detail::whitened mixture(one, Eigen::Matrix2d::Identity(), 0.0);
  Eigen::MatrixXd points(2, 2);
  points << 100.0, 3000.0, 0.0, 0.0;
  const auto found = mixture.log_density(points);
  CHECK(near_relative(found[0], -5000.0, 1e-12));
  CHECK(near_relative(found[1], -4.5e6, 1e-12));
}

TEST_CASE(
    "whitened alternatives are mapped as a product with the map says; deviations that are not seen count for nothing") {
  std::mt19937 random(4);
  const auto list = some_alternatives(21, 5, random);
  Eigen::MatrixXd map = Eigen::MatrixXd::Random(3, 5);
  map.col(2).setZero();
  const detail::whitened mixture(list, map, 0.1);
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Eigen::VectorXd expected = map * std::as_const(list)[i].mean;
    for (std::size_t k = 0; k < 3; ++k)
      CHECK(near_absolute(mixture.mean(i, k), expected[static_cast<Eigen::Index>(k)], 1e-13));
  }
}

TEST_CASE("alternatives changed after they were laid out are laid out anew, and a copy keeps what it had") {
  checks::alternative_list list{{0, 1.0, Eigen::Vector2d(1.0, 2.0)}, {0, 3.0, Eigen::Vector2d(0.0, 1.0)}};
  CHECK(list.lanes().weight[0] == 0.25);
  const auto copy = list;
  list[0].weight = 9.0;
  CHECK(list.lanes().weight[0] == 0.75);
  list[1].mean[0] = 7.0;
  CHECK(list.lanes().means.at(1, 0) == 7.0);
  CHECK(copy.lanes().weight[0] == 0.25);
  CHECK(copy.lanes().means.at(1, 0) == 0.0);
}

TEST_CASE("drawn numbers do not depend on how many are kept or asked for") {
  const auto kept = detail::kept_numbers(4, 40);
  const auto few = detail::drawn_numbers(4, 10);
  CHECK((kept->leftCols(10) - few).cwiseAbs().maxCoeff() == 0.0);
  for (Eigen::Index dimensions = 5; dimensions < 12; ++dimensions) detail::kept_numbers(dimensions, 40);
  CHECK((detail::kept_numbers(4, 40)->leftCols(10) - few).cwiseAbs().maxCoeff() == 0.0);
  CHECK(detail::kept_numbers(4, 700)->cols() == 700);
}

TEST_CASE("the evidence of a curve is the same in registers of every width") {
  std::vector<detail::shape_point> points;
  for (int i = 0; i < 7; ++i) {
    const double z = std::log(0.5 + 0.09 * i);
    points.push_back({z, -0.9 + 1.1 * z + 0.4 * z * z + (i == 3 ? 0.06 : 0.002 * (i % 2)), 1.6e-5});
  }
  const auto plain = detail::evidence_of(points, 2);
  for (const int width : widths()) {
    const auto found = detail::evidence_of(points, width);
    CHECK(near_absolute(found.all, plain.all, 1e-7));
    for (std::size_t i = 0; i < points.size(); ++i) {
      CHECK(near_absolute(found.all_but[i], plain.all_but[i], 1e-7));
      CHECK(near_absolute(found.by_others[i].log_current, plain.by_others[i].log_current, 1e-9));
      CHECK(near_relative(found.by_others[i].uncertainty, plain.by_others[i].uncertainty, 1e-6));
    }
  }
}
