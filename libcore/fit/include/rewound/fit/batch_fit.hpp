// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include <rewound/fit/curve_table.hpp>
#include <rewound/fit/instruction_set.hpp>
#include <rewound/fit/curve_family.hpp>

namespace rewound::fit {

/// Whether fit_batch knows the family: power, log-quadratic and magnetising; robust only power.
constexpr bool in_batches(curve_family family, bool robust) {
  if (family == curve_family::power) return true;
  return !robust && (family == curve_family::log_quadratic || family == curve_family::magnetising);
}

/// Weighted fits of many curves at once: sum of w (I - f)^2 at its lowest.
///
/// The level is linear, which leaves the exponent (of the log-quadratic curve two numbers) to a Newton search; several
/// curves lie side by side in a register, and no memory is asked for. A magnetising curve has a and b of any sign and
/// 1.2 <= m <= 12. Robust: Huber's k = 1.345 over the fixed scale 1.4826 median sqrt(w) |I - f| of the plain fit.
///
/// An answer is certified where the search ended and where nothing lower can be overlooked: power and log-quadratic
/// curves must lie near their readings, since then the sum has one minimum, or, power curves, both searches of
/// fit_curve must end; for a magnetising curve every m is scanned, more closely where the readings scatter. What is
/// wrong (a reading not above 0), singular or scattered too far stays uncertified. A curve's answer does not depend on
/// the curves beside it nor on where in its row gaps are, and on the columns that its table has beyond its readings by
/// rounding alone.
///
/// @param table  at most most_readings readings a curve
/// @param first  the first curve to fit, and `last` the one after the last: calls on parts may run at the same time
/// @throws base::error (precondition) on a family that in_batches refuses, or too many readings
/// Source: variable projection, G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432; P. J. Huber, Robust
/// Statistics (1981).
void fit_batch(const curve_table& table, curve_family family, bool robust, std::size_t first, std::size_t last,
               const fit_table& answers, instruction_set set = instruction_sets().back());

/// All curves of the table.
inline void fit_batch(const curve_table& table, curve_family family, bool robust, const fit_table& answers) {
  fit_batch(table, family, robust, 0, table.curves, answers);
}

/// Whether fit_batch_with_errors knows the family: with weights only those that fit_batch does not, and not robust.
constexpr bool in_batches_with_errors(curve_family family, bool weighted, bool robust) {
  return !weighted || (!robust && (family == curve_family::proportional || family == curve_family::magnetising_load));
}

/// Fits of many curves with errors in both coordinates, and weighted proportional curves and such with load: what
/// fit_curve finds of them, several curves side by side in a register.
///
/// Certified is a proportional, power or log-quadratic curve where the sum is convex about its minimum next to the line
/// or parabola, a magnetising curve where a scan of m led to the lowest of all its minima and readings lie within half
/// of it, one with load where descents from a scan of m came to rest at their lowest end. Robust: Huber's k = 1.345
/// over the fixed scale 1.4826 median |z| of that end, and the minimum of his sum next to it.
///
/// @param answers  covariances without scatter: (J' J)^-1
/// @throws base::error (precondition) on a family that in_batches_with_errors refuses, or too many readings
void fit_batch_with_errors(const curve_table& table, curve_family family, bool robust, std::size_t first,
                           std::size_t last, const fit_table& answers, instruction_set set = instruction_sets().back());

/// Of every curve with weights a bound below chi2 of magnetising curves with load that lie within a fifth of their
/// readings: what choosing a family needs. Only chi2 and `certified` of the answers mean anything.
void bound_loaded_batch(const curve_table& table, std::size_t first, std::size_t last, const fit_table& answers,
                        instruction_set set = instruction_sets().back());

}  // namespace rewound::fit
