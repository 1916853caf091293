// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/measurement/binomial.hpp>
#include <rewound/measurement/distribution.hpp>

namespace measurement = rewound::measurement;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

// Tables: NIST/SEMATECH e-Handbook of Statistical Methods 1.3.6.7.1 (normal), .2 (t), .4 (chi-squared); tolerances
// are half a unit of the last printed digit.
TEST_CASE("normal quantiles agree with the tables") {
  CHECK(near_absolute(measurement::normal_quantile(0.975), 1.959964, 5e-7));
  CHECK(near_absolute(measurement::normal_quantile(0.95), 1.644854, 5e-7));
  CHECK(near_absolute(measurement::normal_quantile(0.5), 0.0, 1e-15));
  CHECK(near_absolute(measurement::normal_probability(1.0), 0.84134, 5e-6));
}

TEST_CASE("the 95 % factor kept as a constant is the 0.975 quantile") {
  CHECK(near_relative(measurement::coverage_95, measurement::normal_quantile(0.975), 1e-14));
}

TEST_CASE("Student quantiles agree with the tables") {
  struct row {
    double probability, dof, t;
  };
  for (const auto& [probability, dof, t] : {row{0.975, 1, 12.706}, row{0.975, 4, 2.776}, row{0.975, 10, 2.228},
                                            row{0.95, 30, 1.697}, row{0.999, 5, 5.893}}) {
    const auto dof_shown = dof;
    CAPTURE(dof_shown);
    CHECK(near_absolute(measurement::student_quantile(probability, dof), t, 1e-3));
    CHECK(near_absolute(measurement::student_probability(measurement::student_quantile(probability, dof), dof),
                        probability, 1e-12));
  }
}

TEST_CASE("with known uncertainty Student's distribution is the normal one") {
  const double infinite = std::numeric_limits<double>::infinity();
  CHECK(measurement::student_quantile(0.975, infinite) == measurement::normal_quantile(0.975));
  CHECK(near_absolute(measurement::coverage_factor(0.95), 1.959964, 5e-7));
  CHECK(near_absolute(measurement::coverage_factor(0.95, 4.0), 2.776, 1e-3));
}

TEST_CASE("upper critical values of chi-squared leave the tail they are tabulated for") {
  struct row {
    double value, dof, tail;
  };
  for (const auto& [value, dof, tail] :
       {row{3.841, 1, 0.05}, row{9.488, 4, 0.05}, row{11.345, 3, 0.01}, row{10.828, 1, 0.001}}) {
    const auto value_shown = value;
    CAPTURE(value_shown);
    CHECK(near_relative(measurement::chi_squared_tail(value, dof), tail, 1e-3));
  }
  CHECK(measurement::chi_squared_tail(0.0, 3.0) == 1.0);
}

TEST_CASE("probabilities and degrees of freedom out of range are refused") {
  using rewound::base::error;
  CHECK_THROWS_AS(measurement::normal_quantile(1.0), error);
  CHECK_THROWS_AS(measurement::student_quantile(0.5, 0.0), error);
  CHECK_THROWS_AS(measurement::chi_squared_tail(-1.0, 2.0), error);
}

TEST_CASE("Clopper-Pearson limits agree with NIST and with the closed form of no failures") {
  // NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20 at 90 % gives .071354 to .401029 (its last digit is root-finder error).
  const auto some = measurement::clopper_pearson(4, 20, 0.90);
  CHECK(near_absolute(some.low, 0.071354, 2e-6));
  CHECK(near_absolute(some.high, 0.401029, 2e-6));
  // 1 - 0.025^(1/10)
  const auto none = measurement::clopper_pearson(0, 10, 0.95);
  CHECK(none.low == 0.0);
  CHECK(near_absolute(none.high, 0.308497, 1e-6));
  const auto all = measurement::clopper_pearson(10, 10, 0.95);
  CHECK(near_absolute(all.low, 0.691503, 1e-6));
  CHECK(all.high == 1.0);
}

TEST_CASE("successes and failures exchanged mirror the interval") {
  const auto few = measurement::clopper_pearson(3, 17, 0.95);
  const auto many = measurement::clopper_pearson(14, 17, 0.95);
  CHECK(near_relative(few.low, 1.0 - many.high, 1e-12));
  CHECK(near_relative(few.high, 1.0 - many.low, 1e-12));
}

TEST_CASE("ten starts without failure prove 74 % at 95 % confidence") {
  CHECK(near_relative(measurement::success_at_least(10, 10, 0.95), std::pow(0.05, 0.1), 1e-12));
}

TEST_CASE("counts that cannot be are refused") {
  using rewound::base::error;
  CHECK_THROWS_AS(measurement::clopper_pearson(3, 2, 0.95), error);
  CHECK_THROWS_AS(measurement::clopper_pearson(-1, 2, 0.95), error);
  CHECK_THROWS_AS(measurement::clopper_pearson(0, 0, 0.95), error);
  CHECK_THROWS_AS(measurement::clopper_pearson(1, 2, 1.0), error);
}
