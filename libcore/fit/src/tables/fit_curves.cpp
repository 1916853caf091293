// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <string>

#include <rewound/base/expect.hpp>
#include <rewound/base/parallel.hpp>
#include <rewound/fit/batch_fit.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/fit/fit_curves.hpp>

#include "table_rows.hpp"

namespace rewound::fit {

namespace {

scatter counted(const curve_table& in, const table_options& options) {
  if (options.absolute) return scatter::not_at_all;
  return in.voltage_u_V || in.current_u_A ? scatter::beside_statement : scatter::alone;
}

/// Curves that one thread takes at a time: their numbers stay in the cache between the kernels' two passes.
constexpr std::size_t chunk = 512;

bool in_lanes(const curve_table& in, curve_family family, bool robust) {
  return in.weight && in_batches(family, robust) && in.readings <= most_readings;
}

/// A table that may not lack a reading; what else is wrong the kernels leave uncertified.
bool lacks_readings(const curve_table& in) {
  const auto holds_nan = [&](const double* values) {
    return std::any_of(values, values + in.curves * in.readings, [](double value) { return std::isnan(value); });
  };
  return !in.may_lack && (holds_nan(in.voltage_V) || holds_nan(in.current_A));
}

/// The curves that the kernels leave, in order, so that the first reading that cannot be is the one that is named.
void fit_uncertified(const curve_table& in, const std::vector<unsigned char>& certified, const table_options& options,
                     fitted_table& out) {
  std::vector<std::size_t> rows;
  std::vector<curve_readings> readings;
  for (std::size_t row = 0; row < certified.size(); ++row) {
    if (certified[row]) continue;
    rows.push_back(row);
    readings.push_back(row_reader(in, row).read());
  }
  std::vector<fitted_curve> fitted(rows.size());
  base::for_each_index(rows.size(), options.threads, [&](std::size_t i) {
    fitted[i] = fit_curve(readings[i], options.family, options.robust, counted(in, options));
  });
  for (std::size_t i = 0; i < rows.size(); ++i) out.put(rows[i], fitted[i]);
}

/// The kernels scale covariances by chi2 / dof. Where that leaves nothing to go back from, the curve is fitted alone.
void take_scatter_out(fitted_table& out, std::vector<unsigned char>& certified) {
  const std::size_t cells = out.width * out.width;
  for (std::size_t row = 0; row < certified.size(); ++row) {
    const double scale = out.chi2[row] / out.degrees_of_freedom[row];
    if (!(std::isnormal(scale))) certified[row] = 0;
    for (std::size_t i = row * cells; certified[row] && i < (row + 1) * cells; ++i) out.covariance[i] /= scale;
  }
}

fitted_table fit_in_lanes(const curve_table& in, const table_options& options) {
  const auto family = *options.family;
  if (lacks_readings(in))
    for (std::size_t row = 0; row < in.curves; ++row) row_reader(in, row).read();
  fitted_table out(in, static_cast<std::size_t>(parameter_count(family)));
  out.family = {family};
  out.counts = counted(in, options);
  std::vector<unsigned char> certified(in.curves);
  const auto answers = out.in_place(certified.data());
  base::for_each_index((in.curves + chunk - 1) / chunk, options.threads, [&](std::size_t part) {
    fit_batch(in, family, options.robust, part * chunk, std::min(in.curves, (part + 1) * chunk), answers, options.set);
  });
  if (options.absolute) take_scatter_out(out, certified);
  fit_uncertified(in, certified, options, out);
  return out;
}

/// A row alone, as the first of a table.
curve_table row_of(const curve_table& in, std::size_t row) {
  curve_table one = in;
  const std::size_t start = row * in.readings;
  one.curves = 1;
  one.voltage_V += start;
  one.current_A += start;
  one.weight += start;
  one.rated_voltage_V += row;
  return one;
}

/// A weighted curve whose family was chosen, as it would be with its family named.
fitted_curve fit_chosen(const curve_table& in, std::size_t row, const curve_readings& readings,
                        const table_options& options) {
  const auto family = choose_family(readings);
  if (!in_lanes(in, family, options.robust) || options.absolute)
    return fit_curve(readings, family, options.robust, counted(in, options));
  const auto p = static_cast<Eigen::Index>(parameter_count(family));
  fitted_curve out{.family = family,
                   .status = least_squares_status::converged,
                   .weighted = true,
                   .parameters = Eigen::VectorXd(p),
                   .covariance = Eigen::MatrixXd(p, p)};
  int degrees = 0;
  unsigned char certified = 0;
  fit_batch(row_of(in, row), family, options.robust, 0, 1,
            {out.parameters.data(), out.covariance.data(), &out.chi2, &degrees, &certified}, options.set);
  if (!certified) return fit_curve(readings, family, options.robust);
  out.degrees_of_freedom = degrees;
  out.reading_variance = out.chi2 / degrees;
  return out;
}

fitted_table table_of(const curve_table& in, const std::vector<fitted_curve>& curves, scatter counts) {
  Eigen::Index width = 1;
  for (const auto& curve : curves) width = std::max(width, curve.parameters.size());
  fitted_table out(in, static_cast<std::size_t>(width));
  out.counts = counts;
  for (std::size_t row = 0; row < curves.size(); ++row) {
    out.family.push_back(curves[row].family);
    out.put(row, curves[row]);
  }
  return out;
}

fitted_table fit_one_by_one(const curve_table& in, const table_options& options) {
  std::vector<curve_readings> readings;
  for (std::size_t row = 0; row < in.curves; ++row) readings.push_back(row_reader(in, row).read());
  std::vector<fitted_curve> fitted(in.curves);
  base::for_each_index(in.curves, options.threads, [&](std::size_t row) {
    fitted[row] = !options.family && in.weight
                      ? fit_chosen(in, row, readings[row], options)
                      : fit_curve(readings[row], options.family, options.robust, counted(in, options));
  });
  return table_of(in, fitted, counted(in, options));
}

}  // namespace

fitted_table fit_curves(const curve_table& table, const table_options& options) {
  const int threads = options.threads;
  base::expect(threads >= 1 && threads <= 1024, "threads", std::to_string(threads), "a whole number from 1 to 1024");
  base::expect(!(table.weight && (table.voltage_u_V || table.current_u_A)), "weights", "weights and uncertainties",
               "either weights or uncertainties");
  if (options.family && in_lanes(table, *options.family, options.robust)) return fit_in_lanes(table, options);
  return fit_one_by_one(table, options);
}

}  // namespace rewound::fit
