// SPDX-License-Identifier: MIT
#pragma once

#include <limits>
#include <string_view>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/least_squares.hpp>
#include <rewound/measurement/normal.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

struct absorption_reading {
  units::duration time;          ///< since the full test voltage was reached, above 0
  units::resistance resistance;  ///< test voltage over current
  double relative_uncertainty;  ///< standard, independent from reading to reading; a gain error common to all stays out
};

struct absorption_input {
  std::vector<absorption_reading> readings;
  units::voltage test_voltage;
  bool absolute = false;  ///< the uncertainties hold whatever the readings' scatter: no `scale`
};

/// What the readings determine. Only the first carries a covariance of all three parameters.
enum class absorption_status {
  fitted,             ///< leakage, absorption and exponent
  no_leakage,         ///< the leakage is at its bound of 0: absorption alone
  no_absorption,      ///< a constant current explains the readings as well (a curve that does not rise)
  exponent_at_bound,  ///< the exponent ran to the end of its range, 0.1 or 2
  too_few_readings    ///< fewer than three
};

constexpr std::string_view name(absorption_status status) {
  switch (status) {
    case absorption_status::fitted: return "fitted";
    case absorption_status::no_leakage: return "no_leakage";
    case absorption_status::no_absorption: return "no_absorption";
    case absorption_status::exponent_at_bound: return "exponent_at_bound";
    case absorption_status::too_few_readings: return "too_few_readings";
  }
  return "unknown";
}

/// I = leakage + absorption (t / 60 s)^-exponent. Parameters are not a number when there were too few readings.
struct absorption_result {
  absorption_status status = absorption_status::too_few_readings;
  units::current leakage = units::amperes(std::numeric_limits<double>::quiet_NaN());
  units::current absorption = leakage;  ///< at one minute
  double exponent = std::numeric_limits<double>::quiet_NaN();
  /// Of leakage [A], absorption [A] and exponent, scale included; not a number in the rows of what stands at a bound.
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Constant(std::numeric_limits<double>::quiet_NaN());
  double chi2 = std::numeric_limits<double>::quiet_NaN();
  int degrees_of_freedom = 0;  ///< readings minus three, at least 0
  double scale = 1.0;          ///< factor by which the readings scatter more than stated, at least 1
  absorption_input readings;   ///< what was fitted; the predictions below weigh them again

  bool usable() const { return status != absorption_status::too_few_readings; }
};

/// A value that was not read, with an interval of coverage.
template <class Quantity>
struct predicted {
  Quantity value;
  measurement::interval<Quantity> range;
};

/// Fits leakage plus power-law absorption to the time curve of one insulation test at constant voltage.
///
/// Minimises the sum of ((I - model) / u)^2, I = test voltage / R and u its stated uncertainty, with leakage and
/// absorption not below 0 and the exponent within 0.1 to 2. The exponent is searched for on all of its range; where
/// no bound is touched, fit/least_squares.hpp brings the parameters to the minimum. Readings that scatter more than
/// their uncertainty widen everything by `scale`.
///
/// Source: power-law decay of the absorption current, K t^-n, IEEE 43 annex (symbols K and n from memory).
/// @throws base::error (precondition) for a time, resistance or uncertainty not above 0
absorption_result absorption(const absorption_input& in);

/// Resistance of the fitted curve at some time, as the tester would show it without its independent error.
///
/// The interval holds every value for which some curve fits the readings nearly as well as the best one: chi2 above
/// its minimum by at most (coverage scale)^2, the profile of the likelihood. Bounds of the parameters are so kept.
/// @param coverage  half-width in standard uncertainties, 1.96 for 95 %
/// @throws base::error (precondition) for a fit without numbers
predicted<units::resistance> predicted_resistance(const absorption_result& fit, units::duration time,
                                                  double coverage = measurement::coverage_95);

/// Resistance at a later over that at an earlier time, such as the polarization index; 1 or more. A gain error of the
/// tester cancels. Interval as in predicted_resistance().
predicted<double> predicted_ratio(const absorption_result& fit, units::duration later, units::duration earlier,
                                  double coverage = measurement::coverage_95);

/// What leakage, absorption at one minute and exponent may be while some curve fits nearly as well as the best one;
/// bounds and coverage as in predicted_resistance(). An end at 0, or of the exponent at 0.1 or 2, is that bound.
struct absorption_ranges {
  measurement::interval<units::current> leakage;
  measurement::interval<units::current> absorption;
  measurement::interval<double> exponent;
};
absorption_ranges parameter_ranges(const absorption_result& fit, double coverage = measurement::coverage_95);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/absorption.hpp>
#endif
