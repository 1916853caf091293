// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include <rewound/checks/suspect.hpp>
#include <simulation_size.hpp>

namespace checks = rewound::checks;
namespace measurement = rewound::measurement;
namespace units = rewound::units;
using rewound::testing::simulated;

namespace {

const measurement::instrument<units::voltage> voltmeter{"", 0.005, units::volts(0.1), 2.0, false};
const measurement::instrument<units::current> ammeter{"", 0.008, units::amperes(0.001), 3.0, false};

/// A run-up of `count` readings from half to 104 % of 230 V on I = 0.42 (0.75 x + 0.25 x^5), read by a meter with
/// independent errors within its three digits (the project's own simulation).
measurement::run_up saturating(int count, std::mt19937& random) {
  std::uniform_real_distribution<double> digits(-0.003, 0.003);
  measurement::run_up out{"high", {}};
  for (int i = 0; i < count; ++i) {
    const double x = 0.5 + 0.54 * i / (count - 1);
    const double amperes = 0.42 * (0.75 * x + 0.25 * std::pow(x, 5)) + digits(random);
    out.readings.push_back(
        {i, units::volts(std::round(2300.0 * x) / 10.0), units::amperes(std::round(1000.0 * amperes) / 1000.0), true});
  }
  return out;
}

}  // namespace

TEST_CASE("few readings on a saturating curve are not called suspect for bending") {
  std::mt19937 random(20260514);
  for (const int count : {4, 5, 6, 8}) {
    CAPTURE(count);
    int flagged = 0;
    constexpr int runs = simulated(500);
    for (int run = 0; run < runs; ++run) {
      const auto found = checks::suspect({{saturating(count, random)}, voltmeter, ammeter, {}, units::volts(230.0)});
      flagged += found.readings.empty() ? 0 : 1;
    }
    CHECK(flagged <= runs * (0.02 + rewound::testing::simulation_slack));
  }
}

TEST_CASE("a smooth fall at low voltage is a loaded fan's own curve, a fall at the top is told") {
  const auto run = [](std::vector<double> amperes) {
    measurement::run_up out{"high", {}};
    for (std::size_t i = 0; i < amperes.size(); ++i)
      out.readings.push_back(
          {static_cast<int>(i), units::volts(100.0 + 25.0 * static_cast<double>(i)), units::amperes(amperes[i]), true});
    return checks::suspect({{out}, voltmeter, ammeter, {}, units::volts(230.0)}).readings;
  };
  CHECK(run({0.402, 0.385, 0.380, 0.386, 0.402, 0.428}).empty());
  CHECK_FALSE(run({0.450, 0.420, 0.380, 0.320, 0.260, 0.210}).empty());
}

TEST_CASE("a voltage misread by four percent is found where the other speeds show that the bench reads steadily") {
  std::mt19937 random(7);
  int found_steady = 0, found_alone = 0, falsely = 0;
  constexpr int runs = simulated(100);
  for (int run = 0; run < runs; ++run) {
    std::normal_distribution<double> scatter(0.0, 0.003);
    const auto speed = [&](const char* name, double amperes) {
      measurement::run_up out{name, {}};
      for (int i = 0; i < 6; ++i) {
        const double x = 0.55 + 0.1 * i;
        const double read = amperes * (0.75 * x + 0.25 * std::pow(x, 5)) * (1.0 + scatter(random));
        out.readings.push_back({i, units::volts(std::round(2300.0 * x) / 10.0),
                                units::amperes(std::round(10000.0 * read) / 10000.0), true});
      }
      return out;
    };
    const measurement::instrument<units::current> fine{"", 0.008, units::amperes(0.0001), 5.0, false};
    auto high = speed("high", 0.42);
    const std::vector<measurement::run_up> others{speed("medium", 0.36), speed("low", 0.31)};
    const auto all = [&](const measurement::run_up& first) {
      return checks::suspect({{first, others[0], others[1]}, voltmeter, fine, {}, units::volts(230.0)}).readings;
    };
    falsely += all(high).empty() ? 0 : 1;
    high.readings[3].voltage *= 1.04;
    const auto names_it = [](const auto& readings) {
      return std::any_of(readings.begin(), readings.end(), [](const auto& r) { return r.run == 0 && r.index == 3; });
    };
    found_steady += names_it(all(high));
    found_alone += names_it(checks::suspect({{high}, voltmeter, fine, {}, units::volts(230.0)}).readings);
  }
  CHECK(found_steady >= runs * (0.9 - rewound::testing::simulation_slack));
  CHECK(found_steady >= found_alone);
  CHECK(falsely <= runs * (0.02 + rewound::testing::simulation_slack));
}
