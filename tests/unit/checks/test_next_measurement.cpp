// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/next_measurement.hpp>
#include <simulation_size.hpp>

namespace checks = rewound::checks;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using rewound::testing::near_absolute;

namespace {

constexpr int worth_draws = rewound::testing::simulated(20000);
const double worth_error =
    2.5 / std::sqrt(worth_draws);  // of a mean of bits that differ by 0.6 or less, four deviations

/// Two deviations, of which the first is observed and the second may be; cause 0 is health.
checks::next_measurement_input two_deviations(double seen, const std::vector<Eigen::Vector2d>& faults,
                                              double correlation = 0.0, double noise_seen = 0.0,
                                              double noise_next = 0.0) {
  checks::next_measurement_input in;
  in.observed = {MatrixXd(Eigen::RowVector2d(1, 0)), VectorXd::Constant(1, seen), MatrixXd::Constant(1, 1, noise_seen)};
  in.model.covariance = MatrixXd::Identity(2, 2);
  in.model.covariance(0, 1) = in.model.covariance(1, 0) = correlation;
  in.model.healthy = {{0, 1.0, VectorXd::Zero(2)}};
  for (const auto& fault : faults) in.model.faulty.push_back({in.model.faulty.size() + 1, 1.0, fault});
  in.model.causes = faults.size() + 1;
  in.log_prior.assign(in.model.causes, -std::log(static_cast<double>(in.model.causes)));
  in.proposed = {{MatrixXd(Eigen::RowVector2d(0, 1)), MatrixXd::Constant(1, 1, noise_next), {0}}};
  in.draws = worth_draws;
  return in;
}

double bits_of(const checks::next_measurement_input& in) { return checks::next_measurement(in).front().bits; }

/// The same by a sum over the second value: what a normal vector's second part is given the first, by hand.
double bits_by_sum(const checks::next_measurement_input& in) {
  const double correlation = in.model.covariance(0, 1);
  const double seen_variance = 1.0 + in.observed.noise(0, 0);
  const double variance = 1.0 + in.proposed[0].noise(0, 0) - correlation * correlation / seen_variance;
  std::vector<double> probability, mean;
  const auto add = [&](const checks::alternative& one, std::size_t cause) {
    const double away = in.observed.values[0] - one.mean[0];
    probability.push_back(std::exp(in.log_prior[cause] - 0.5 * away * away / seen_variance));
    mean.push_back(one.mean[1] + correlation / seen_variance * away);
  };
  add(in.model.healthy[0], 0);
  for (const auto& each : in.model.faulty) add(each, each.cause);
  double total = 0.0;
  for (const double each : probability) total += each;
  for (auto& each : probability) each /= total;
  double after = 0.0;
  constexpr double step = 1e-3;
  for (double y = -30.0; y <= 30.0; y += step) {
    double all = 0.0;
    std::vector<double> joint;
    for (std::size_t i = 0; i < mean.size(); ++i) {
      joint.push_back(probability[i] * std::exp(-0.5 * (y - mean[i]) * (y - mean[i]) / variance) /
                      std::sqrt(6.283185307179586 * variance));
      all += joint.back();
    }
    for (const double each : joint)
      if (each > 0.0) after -= each * std::log2(each / all) * step;
  }
  double before = 0.0;
  for (const double each : probability) before -= each * std::log2(each);
  return before - after;
}

}  // namespace

TEST_CASE("entropy in bits, by hand") {
  CHECK(checks::entropy_bits({1.0}) == 0.0);
  CHECK(checks::entropy_bits({0.0, 1.0, 0.0}) == 0.0);
  CHECK(near_absolute(checks::entropy_bits({0.5, 0.5}), 1.0, 1e-15));
  CHECK(near_absolute(checks::entropy_bits({0.25, 0.25, 0.25, 0.25}), 2.0, 1e-15));
  CHECK(near_absolute(checks::entropy_bits({0.5, 0.25, 0.25}), 1.5, 1e-15));
  CHECK(near_absolute(checks::entropy_bits({0.9, 0.1}), 0.46899559358928, 1e-13));
}

TEST_CASE("a measurement that parts two equally likely causes is worth one bit, of four causes two") {
  CHECK(near_absolute(bits_of(two_deviations(0.0, {{0.0, 100.0}})), 1.0, 1e-6));
  CHECK(near_absolute(bits_of(two_deviations(0.0, {{0.0, 100.0}, {0.0, 200.0}, {0.0, 300.0}})), 2.0, 1e-3));
}

TEST_CASE("a measurement that says nothing is worth nothing") {
  CHECK(bits_of(two_deviations(0.0, {{0.0, 0.0}})) < 1e-12);                       // the same under either cause
  CHECK(bits_of(two_deviations(0.0, {{0.0, 2.0}}, 0.0, 0.0, 1e8)) < worth_error);  // noise
  CHECK(bits_of(two_deviations(0.0, {{100.0, 2.0}})) < 1e-6);                      // the cause is known already
}

TEST_CASE("worth agrees with the integral over what may be read") {
  for (const double shift : {0.5, 1.5, 3.0, 6.0})
    for (const double noise : {0.0, 2.0}) {
      CAPTURE(shift);
      CAPTURE(noise);
      const auto in = two_deviations(0.4, {{1.0, shift}, {-0.5, -shift}}, 0.3, 0.5, noise);
      CHECK(near_absolute(bits_of(in), bits_by_sum(in), worth_error));
    }
  auto uneven = two_deviations(0.0, {{0.3, 2.0}}, -0.4);
  uneven.log_prior = {std::log(0.9), std::log(0.1)};
  CHECK(near_absolute(bits_of(uneven), bits_by_sum(uneven), worth_error));
}

TEST_CASE("the closer it goes with what is observed already, the less a measurement is worth") {
  double before = 2.0;
  for (const double correlation : {0.0, 0.5, 0.8, 0.95}) {
    CAPTURE(correlation);
    const auto in = two_deviations(1.0, {{2.0, 2.0}}, correlation);
    const double bits = bits_of(in);
    CHECK(near_absolute(bits, bits_by_sum(in), worth_error));
    CHECK(bits < before);
    before = bits;
  }
  CHECK(before < 0.05);
}

TEST_CASE("two values of one measurement are worth no less than either, and more noise is worth less") {
  auto in = two_deviations(0.0, {{0.5, 1.5}}, 0.3, 1.0, 1.0);
  in.proposed.push_back({MatrixXd::Identity(2, 2), MatrixXd::Identity(2, 2), {0, 1}});
  in.proposed.push_back({MatrixXd(Eigen::RowVector2d(0, 1)), MatrixXd::Constant(1, 1, 8.0), {0}});
  const auto worth = checks::next_measurement(in);
  REQUIRE(worth.size() == 3);
  CHECK(worth[1].bits > worth[0].bits - 1e-3);
  CHECK(worth[2].bits < worth[0].bits - 0.05);
}

TEST_CASE("high, as expected and low are told with the cause that they speak for") {
  auto in = two_deviations(0.0, {{0.0, 8.0}, {0.0, -8.0}});
  in.log_prior = {std::log(0.5), std::log(0.3), std::log(0.2)};
  const auto worth = checks::next_measurement(in).front();
  CHECK(worth.high.cause == 1);
  CHECK(worth.as_expected.cause == 0);
  CHECK(worth.low.cause == 2);
  CHECK(near_absolute(worth.high.probability + worth.as_expected.probability + worth.low.probability, 1.0, 1e-12));
  // A healthy machine is within one standard deviation 68.27 times of 100, above and below alike.
  CHECK(near_absolute(worth.as_expected.probability, 0.5 * 0.6827, 2.0 * worth_error));
  CHECK(near_absolute(worth.high.probability, 0.3 + 0.5 * 0.15866, 2.0 * worth_error));
  CHECK(near_absolute(worth.high.cause_probability, 0.3 / (0.3 + 0.5 * 0.15866), 2.0 * worth_error));
  CHECK(worth.as_expected.cause_probability > 0.999);
}

TEST_CASE("what is proposed and does not fit together is refused") {
  const auto refuses = [](auto change) {
    auto in = two_deviations(0.0, {{0.5, 1.5}});
    in.draws = 10;
    CHECK_NOTHROW(checks::next_measurement(in));
    change(in);
    CHECK_THROWS_AS(checks::next_measurement(in), rewound::base::error);
  };
  refuses([](auto& in) { in.log_prior.push_back(0.0); });
  refuses([](auto& in) { in.draws = 0; });
  refuses([](auto& in) { in.healthy_cause = 2; });
  refuses([](auto& in) { in.model.healthy.clear(); });
  refuses([](auto& in) { in.model.faulty[0].cause = 2; });
  refuses([](auto& in) { in.model.faulty[0].mean = VectorXd::Zero(3); });
  refuses([](auto& in) { in.observed.values = VectorXd::Zero(2); });
  refuses([](auto& in) { in.proposed[0].observation = MatrixXd::Ones(1, 3); });
  refuses([](auto& in) { in.proposed[0].noise = MatrixXd::Identity(2, 2); });
  refuses([](auto& in) { in.proposed[0].telling = {1}; });
  refuses([](auto& in) { in.proposed[0].noise(0, 0) = -3.0; });
}
