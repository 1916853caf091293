// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include <rewound/checks/suspect.hpp>

// Readings with the rotor at rest, told from the currents alone.
namespace checks = rewound::checks;
namespace measurement = rewound::measurement;
namespace units = rewound::units;

namespace {

const measurement::instrument<units::voltage> bench_voltmeter{"", 0.005, units::volts(0.1), 2.0, false};
const measurement::instrument<units::current> bench_ammeter{"", 0.008, units::amperes(0.001), 3.0, false};

checks::suspect_result search_run(const std::vector<double>& volts, const std::vector<double>& amperes) {
  measurement::run_up run{"high", {}};
  for (std::size_t i = 0; i < volts.size(); ++i)
    run.readings.push_back({static_cast<int>(i), units::volts(volts[i]), units::amperes(amperes[i]), true});
  return checks::suspect({{run}, bench_voltmeter, bench_ammeter, {}, units::volts(230.0)});
}

std::size_t called_at_rest(const checks::suspect_result& result) {
  return static_cast<std::size_t>(std::count_if(result.readings.begin(), result.readings.end(), [](const auto& each) {
    return each.why == measurement::suspicion::rotor_at_rest && each.set_aside;
  }));
}

/// A fan with its rotor at rest below `stall` of the rated voltage: in proportion there, `excess` times the running
/// current at the voltage where it stalls (the project's own simulation).
std::vector<double> stalling(const std::vector<double>& volts, double stall, double excess, std::mt19937& random) {
  std::uniform_real_distribution<double> digits(-0.003, 0.003);
  const auto running = [](double x) { return 0.42 * (0.8 * x + 0.2 * std::pow(x, 5)); };
  std::vector<double> out;
  for (const double volt : volts) {
    const double x = volt / 230.0;
    const double amperes = x < stall ? excess * running(stall) * x / stall : running(x);
    out.push_back(std::round(1000.0 * (amperes + digits(random))) / 1000.0);
  }
  return out;
}

const std::vector<double> volts{80.0, 100.0, 120.0, 140.0, 160.0, 180.0, 200.0, 220.0, 230.0, 240.0};

}  // namespace

TEST_CASE("low readings in proportion to the voltage, well above the running curve, are called a rotor at rest") {
  std::mt19937 random(3);
  for (const double excess : {1.4, 2.0, 3.0})
    for (const double stall : {0.48, 0.57}) {
      CAPTURE(excess);
      CAPTURE(stall);
      const std::size_t resting = stall < 0.5 ? 2 : 3;
      int exact = 0;
      for (int i = 0; i < 40; ++i)
        exact += called_at_rest(search_run(volts, stalling(volts, stall, excess, random))) == resting;
      CHECK(exact >= 38);
    }
}

TEST_CASE("a run-up whose rotor turns throughout is not called at rest") {
  std::mt19937 random(4);
  int called = 0;
  for (int i = 0; i < 200; ++i) called += called_at_rest(search_run(volts, stalling(volts, 0.0, 1.0, random))) > 0;
  CHECK(called <= 1);
}

TEST_CASE("one high reading in the middle is no rotor at rest") {
  std::mt19937 random(5);
  auto amperes = stalling(volts, 0.0, 1.0, random);
  amperes[4] *= 1.3;
  const auto found = search_run(volts, amperes);
  CHECK(called_at_rest(found) == 0);
  CHECK_FALSE(found.readings.empty());
}
