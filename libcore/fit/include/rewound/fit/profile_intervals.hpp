// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/fit_curve.hpp>

namespace rewound::fit {

/// Where a parameter may lie; an end may be infinite.
struct parameter_interval {
  double low;
  double high;
};

/// Profile intervals of the parameters of a fitted curve, in their order: all values at which the sum of squares,
/// minimised over the other parameters within their bounds, lies above its minimum by no more than q^2 times the scale
/// that the covariance has. q is the quantile of the curve's intervals, Student's t or normal (see scatter).
///
/// Unlike the covariance they follow a sum that is no parabola: they are skewed where it is, and do not change when a
/// parameter is written in another way. An end at a bound of the fit stands exactly on it; where the sum never rises
/// so far the end is infinite. A robust fit keeps Huber's final weights. For a sum with several minima the profile is
/// the lowest that several starts reach, which is no proof that none lies lower.
///
/// Source: D. M. Bates, D. G. Watts, Nonlinear Regression Analysis and Its Applications (1988), 6.1 (profile t; from
/// memory, unverified); oracle: SciPy's least_squares with the parameter held (tests/python/fit/test_fit_profile.py).
///
/// @param curve   as fit_curve made it of these readings
/// @param level   coverage, between 0 and 1
/// @return NaN for a curve that is not usable, or whose scatter nothing tells
std::vector<parameter_interval> profile_intervals(const curve_readings& readings, const fitted_curve& curve,
                                                  double level, bool robust = false, scatter counts = scatter::alone);

}  // namespace rewound::fit

#ifndef REWOUND_COMPILED
#include <rewound/fit/impl/profile_intervals.hpp>
#endif
