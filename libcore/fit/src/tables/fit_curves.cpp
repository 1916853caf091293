// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <string>

#include <rewound/base/expect.hpp>
#include <rewound/base/parallel.hpp>
#include <rewound/fit/batch_fit.hpp>
#include <rewound/fit/fit_curves.hpp>

#include "choose_families.hpp"
#include "part_of_table.hpp"
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

bool in_lanes_with_errors(const curve_table& in, curve_family family, bool robust) {
  return in_batches_with_errors(family, in.weight != nullptr, robust) && in.readings <= most_readings;
}

/// A table that may not lack a reading; what else is wrong the kernels leave uncertified.
bool lacks_readings(const curve_table& in) {
  const auto holds_nan = [&](const double* values) {
    return std::any_of(values, values + in.curves * in.readings, [](double value) { return std::isnan(value); });
  };
  return !in.may_lack && (holds_nan(in.voltage_V) || holds_nan(in.current_A));
}

/// A curve of which the kernels know the minimum, or a point beside it.
fitted_curve fit_from(const fitted_table& out, std::size_t row, unsigned char known, const curve_readings& readings) {
  const auto p = static_cast<Eigen::Index>(out.width);
  const Eigen::VectorXd point = Eigen::Map<const Eigen::VectorXd>(out.parameters.data() + row * out.width, p);
  const auto family = out.family.front();
  return known == lacks_covariance ? fit_curve_at(readings, family, point, out.counts)
                                   : fit_curve_near(readings, family, point, out.counts);
}

/// The curves that the kernels leave, in order, so that the first reading that cannot be is the one that is named.
void fit_uncertified(const curve_table& in, const std::vector<unsigned char>& certified, const table_options& options,
                     fitted_table& out) {
  std::vector<std::size_t> rows;
  std::vector<curve_readings> readings;
  for (std::size_t row = 0; row < certified.size(); ++row) {
    if (certified[row] == 1) continue;
    if (certified[row] == too_few_readings) {
      out.put_nothing(row, least_squares_status::too_few_points);
      continue;
    }
    rows.push_back(row);
    readings.push_back(row_reader(in, row).read());
  }
  out.left_lanes = rows.size();
  std::vector<fitted_curve> fitted(rows.size());
  base::for_each_index(rows.size(), options.threads, [&](std::size_t i) {
    const auto known = certified[rows[i]];
    if (known != 0 && !options.robust) fitted[i] = fit_from(out, rows[i], known, readings[i]);
    if (fitted[i].usable()) return;
    fitted[i] = fit_curve(readings[i], options.family, options.robust, out.counts);
  });
  for (std::size_t i = 0; i < rows.size(); ++i) out.put(rows[i], fitted[i]);
}

/// The kernels scale covariances by chi2 / dof. Where that leaves nothing to go back from, the curve is fitted alone.
void take_scatter_out(fitted_table& out, std::vector<unsigned char>& certified) {
  const std::size_t cells = out.width * out.width;
  for (std::size_t row = 0; row < certified.size(); ++row) {
    const double scale = out.chi2[row] / out.degrees_of_freedom[row];
    if (certified[row] == 1 && !std::isnormal(scale)) certified[row] = 0;
    if (certified[row] != 1) continue;
    for (std::size_t i = row * cells; i < (row + 1) * cells; ++i) out.covariance[i] /= scale;
  }
}

/// The first reading that a table lacks and may not is named.
void expect_whole(const curve_table& in) {
  if (lacks_readings(in))
    for (std::size_t row = 0; row < in.curves; ++row) row_reader(in, row).read();
}

/// The scatter that the kernels leave out of covariances.
void take_scatter_in(const std::vector<unsigned char>& certified, fitted_table& out) {
  const std::size_t cells = out.width * out.width;
  for (std::size_t row = 0; row < certified.size(); ++row) {
    if (certified[row] != 1) continue;
    const double scale = variance_scale(out.weighted, out.chi2[row], out.degrees_of_freedom[row], out.counts);
    for (std::size_t i = row * cells; i < (row + 1) * cells; ++i) out.covariance[i] *= scale;
    if (!out.weighted) out.reading_variance[row] *= scale;
  }
}

fitted_table fit_in_lanes_with_errors(const curve_table& in, const table_options& options) {
  expect_whole(in);
  fitted_table out(in, static_cast<std::size_t>(parameter_count(*options.family)));
  out.family = {*options.family};
  out.counts = counted(in, options);
  std::vector<unsigned char> certified(in.curves);
  std::vector<double> unit_variance(in.curves);
  auto answers = out.in_place(certified.data());
  answers.unit_variance = out.weighted ? unit_variance.data() : out.reading_variance.data();
  base::for_each_index((in.curves + chunk - 1) / chunk, options.threads, [&](std::size_t part) {
    fit_batch_with_errors(in, *options.family, options.robust, part * chunk, std::min(in.curves, (part + 1) * chunk),
                          answers, options.set);
  });
  take_scatter_in(certified, out);
  fit_uncertified(in, certified, options, out);
  return out;
}

fitted_table fit_in_lanes(const curve_table& in, const table_options& options) {
  const auto family = *options.family;
  expect_whole(in);
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

std::vector<curve_readings> rows_of(const curve_table& in) {
  std::vector<curve_readings> out;
  for (std::size_t row = 0; row < in.curves; ++row) out.push_back(row_reader(in, row).read());
  return out;
}

fitted_table fit_one_by_one(const curve_table& in, const table_options& options) {
  const auto readings = rows_of(in);
  std::vector<fitted_curve> fitted(in.curves);
  base::for_each_index(in.curves, options.threads, [&](std::size_t row) {
    fitted[row] = fit_curve(readings[row], options.family, options.robust, counted(in, options));
  });
  auto out = table_of(in, fitted, counted(in, options));
  out.left_lanes = in.curves;
  return out;
}

/// Each curve as it is with its family named.
fitted_table fit_chosen(const curve_table& in, const table_options& options) {
  auto [families, loaded] = choose_families(in, rows_of(in), options);
  std::vector<fitted_curve> fitted(in.curves);
  std::vector<unsigned char> known(in.curves, 0);
  std::size_t left = loaded.fits.left_lanes;
  for (std::size_t i = 0; i < loaded.rows.size(); ++i) {
    const auto row = loaded.rows[i];
    if (options.robust || families[row] != curve_family::magnetising_load) continue;
    fitted[row] = loaded.fits.curve(i);
    known[row] = 1;
  }
  for (const auto family : {curve_family::proportional, curve_family::power, curve_family::log_quadratic,
                            curve_family::magnetising, curve_family::magnetising_load}) {
    std::vector<std::size_t> rows;
    for (std::size_t row = 0; row < in.curves; ++row)
      if (families[row] == family && !known[row]) rows.push_back(row);
    if (rows.empty()) continue;
    auto named = options;
    named.family = family;
    const part_of_table part(in, rows);
    const auto found = fit_curves(part.view(), named);
    for (std::size_t i = 0; i < rows.size(); ++i) fitted[rows[i]] = found.curve(i);
    left += found.left_lanes;
  }
  auto out = table_of(in, fitted, counted(in, options));
  out.left_lanes = left;
  return out;
}

}  // namespace

fitted_table fit_curves(const curve_table& table, const table_options& options) {
  const int threads = options.threads;
  base::expect(threads >= 1 && threads <= 1024, "threads", std::to_string(threads), "a whole number from 1 to 1024");
  base::expect(!(table.weight && (table.voltage_u_V || table.current_u_A)), "weights", "weights and uncertainties",
               "either weights or uncertainties");
  if (options.family && in_lanes(table, *options.family, options.robust)) return fit_in_lanes(table, options);
  if (options.family && in_lanes_with_errors(table, *options.family, options.robust))
    return fit_in_lanes_with_errors(table, options);
  return options.family ? fit_one_by_one(table, options) : fit_chosen(table, options);
}

}  // namespace rewound::fit
