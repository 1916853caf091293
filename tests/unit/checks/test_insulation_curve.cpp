// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <vector>

#include <near.hpp>
#include <rewound/checks/dew_point.hpp>
#include <rewound/checks/insulation_curve.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using shape = checks::insulation_curve_shape;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

/// Read at 15, 30, 60, 120, 300 and 600 s, as many as there are values.
checks::insulation_curve_result curve(const std::vector<double>& megohm, double u = 0.01) {
  constexpr double seconds[] = {15.0, 30.0, 60.0, 120.0, 300.0, 600.0};
  checks::insulation_curve_input in;
  for (std::size_t i = 0; i < megohm.size(); ++i)
    in.readings.push_back({units::seconds(seconds[i]), units::megohms(megohm[i]), u});
  return checks::insulation_curve(in);
}

}  // namespace

TEST_CASE("a curve that rises, levels off or stays is as usual") {
  CHECK(curve({180, 240, 310, 420, 590, 720}).shape == shape::as_usual);
  CHECK(curve({180, 240, 310, 330, 331, 329}).shape == shape::as_usual);
  CHECK(curve({300, 299, 301, 300, 298, 300}).shape == shape::as_usual);
  CHECK(curve({310}).shape == shape::too_few);
}

TEST_CASE("falling, dipping, erratic and too steep curves are told apart, with the reading that shows it") {
  CHECK(curve({310, 300, 280, 250, 220, 200}).shape == shape::falling);
  CHECK(curve({180, 240, 310, 300, 250, 200}).shape == shape::falling);
  const auto dip = curve({310, 240, 260, 300, 400, 520});
  CHECK(dip.shape == shape::dipping);
  CHECK(dip.index == 1U);
  CHECK(near_relative(dip.change, 240.0 / 310.0, 1e-12));
  const auto slip = curve({180, 240, 310, 42, 590, 720});
  CHECK(slip.shape == shape::erratic);
  CHECK(slip.index == 3U);
  CHECK(curve({180, 240, 150, 300, 200, 400}).shape == shape::erratic);
  const auto fast = curve({20, 60, 180, 260, 300, 320});
  CHECK(fast.shape == shape::steep);
  CHECK(fast.index == 1U);
}

TEST_CASE("what the tester cannot resolve is no fall, and 1/t itself is not too steep") {
  CHECK(curve({310, 295}, 0.02).shape == shape::as_usual);  // 5 % at 2.8 % combined
  CHECK(curve({310, 280}, 0.02).shape == shape::falling);   // 10 %
  CHECK(curve({10, 20, 40, 80}).shape == shape::as_usual);
}

TEST_CASE("saturated air has its own temperature as dew point, and drier air a lower one") {
  CHECK(near_absolute(units::in_celsius(checks::dew_point_of(units::celsius(23.0), 1.0)), 23.0, 1e-9));
  double before = 23.0;
  for (double humidity = 0.9; humidity > 0.05; humidity -= 0.1) {
    const double here = units::in_celsius(checks::dew_point_of(units::celsius(23.0), humidity));
    CHECK(here < before);
    before = here;
  }
  CHECK_THROWS(checks::dew_point_of(units::celsius(23.0), 0.0));
  CHECK_THROWS(checks::dew_point_of(units::celsius(23.0), 1.01));
}

TEST_CASE("the margin's uncertainty is that of small changes of humidity, air and winding") {
  const auto margin = [](double air, double humidity, double winding) {
    return units::in_kelvins(checks::dew_point({units::celsius(air), units::kelvins(0.0), humidity, 0.0,
                                                units::celsius(winding), units::kelvins(0.0)})
                                 .margin.value);
  };
  const auto with = [](double u_air, double u_humidity, double u_winding) {
    return units::in_kelvins(checks::dew_point({units::celsius(20.0), units::kelvins(u_air), 0.6, u_humidity,
                                                units::celsius(18.0), units::kelvins(u_winding)})
                                 .margin.standard_uncertainty);
  };
  const double step = 1e-4;
  CHECK(near_relative(with(1.0, 0.0, 0.0),
                      (margin(20.0 - step, 0.6, 18.0) - margin(20.0 + step, 0.6, 18.0)) / (2 * step), 1e-6));
  CHECK(near_relative(with(0.0, 0.03, 0.0),
                      0.03 * (margin(20.0, 0.6 - step, 18.0) - margin(20.0, 0.6 + step, 18.0)) / (2 * step), 1e-6));
  CHECK(near_relative(with(0.0, 0.0, 0.7), 0.7, 1e-12));
}
