// SPDX-License-Identifier: MIT
#include "draw_fit.hpp"

#include <algorithm>
#include <cmath>

#include "family_choice.hpp"
#include "parallel.hpp"

namespace rewound::python {

namespace {

/// Curves that one thread takes at a time: their numbers stay in the cache between the solver's two passes.
constexpr std::size_t chunk = 512;

bool in_one_batch(const draw_arrays& in, std::optional<fit::curve_family> family, bool robust) {
  return in.weights && family && fit::in_batches(*family, robust) &&
         static_cast<std::size_t>(in.voltage.shape(1)) <= fit::most_readings;
}

/// A single curve may not lack a reading; what else is wrong the solver leaves uncertified.
bool lacks_readings(const draw_arrays& in) {
  const auto holds_nan = [](const table& values) {
    return std::any_of(values.data(), values.data() + values.size(), [](double value) { return std::isnan(value); });
  };
  return !in.batch && (holds_nan(in.voltage) || holds_nan(in.current));
}

fit::curve_table table_of(const draw_arrays& in) {
  return {static_cast<std::size_t>(in.voltage.shape(0)),
          static_cast<std::size_t>(in.voltage.shape(1)),
          in.voltage.data(),
          in.current.data(),
          in.weights->data(),
          in.rated_voltage.data()};
}

/// The curves that the solver leaves, in order, so that the first reading that cannot be is the one that is named.
void fit_uncertified(const draw_arrays& in, const std::vector<unsigned char>& certified, bool robust, int threads,
                     curve_batch& out) {
  std::vector<std::size_t> rows;
  std::vector<curve_readings> readings;
  for (std::size_t row = 0; row < certified.size(); ++row) {
    if (certified[row]) continue;
    rows.push_back(row);
    readings.push_back(row_reader(in, static_cast<py::ssize_t>(row)).read());
  }
  std::vector<fitted_curve> fitted(rows.size());
  for_each_index(rows.size(), threads, [&](std::size_t i) { fitted[i] = fit_curve(readings[i], out.family, robust); });
  for (std::size_t i = 0; i < rows.size(); ++i) out.put(rows[i], fitted[i]);
}

fitted_curves fit_batch(const draw_arrays& in, fit::curve_family family, bool robust, int threads,
                        fit::instruction_set set) {
  const auto whole = table_of(in);
  if (lacks_readings(in)) row_reader(in, 0).read();
  fitted_curves out{
      curve_batch(family, whole.curves), {}, {whole.rated_voltage_V, whole.rated_voltage_V + whole.curves}};
  std::vector<unsigned char> certified(whole.curves);
  const auto answers = out.batch->as_table(certified.data());
  const py::gil_scoped_release unlocked;
  for_each_index((whole.curves + chunk - 1) / chunk, threads, [&](std::size_t part) {
    fit::fit_batch(whole, family, robust, part * chunk, std::min(whole.curves, (part + 1) * chunk), answers, set);
  });
  fit_uncertified(in, certified, robust, threads, *out.batch);
  return out;
}

/// A curve whose family was chosen, as it would be with its family named.
fitted_curve fit_chosen(const draw_arrays& in, std::size_t row, const curve_readings& readings, bool robust,
                        fit::instruction_set set) {
  const auto family = choose_family(readings);
  if (!in_one_batch(in, family, robust)) return fit_curve(readings, family, robust);
  const auto p = static_cast<Eigen::Index>(fit::parameter_count(family));
  fitted_curve out{.family = family,
                   .status = fit::least_squares_status::converged,
                   .weighted = true,
                   .parameters = Eigen::VectorXd(p),
                   .covariance = Eigen::MatrixXd(p, p)};
  const auto before = static_cast<std::ptrdiff_t>(row);
  int degrees = 0;
  unsigned char certified = 0;
  // The row alone, as the first of a table.
  auto one = table_of(in);
  const auto start = before * static_cast<std::ptrdiff_t>(one.readings);
  one = {
      1, one.readings, one.voltage_V + start, one.current_A + start, one.weight + start, one.rated_voltage_V + before};
  fit::fit_batch(one, family, robust, 0, 1,
                 {out.parameters.data(), out.covariance.data(), &out.chi2, &degrees, &certified}, set);
  if (!certified) return fit_curve(readings, family, robust);
  out.degrees_of_freedom = degrees;
  out.reading_variance = out.chi2 / degrees;
  return out;
}

}  // namespace

fitted_curves fit_draw(const draw_arrays& in, std::optional<fit::curve_family> family, bool robust, int threads,
                       std::optional<fit::instruction_set> set) {
  base::expect(threads >= 1 && threads <= 1024, "threads", std::to_string(threads), "a whole number from 1 to 1024");
  base::expect(!(in.weights && (in.voltage_u || in.current_u)), "weights", "weights and uncertainties",
               "either weights or uncertainties");
  expect_shapes(in);
  const auto width = set ? *set : fit::instruction_sets().back();
  if (in_one_batch(in, family, robust)) return fit_batch(in, *family, robust, threads, width);
  std::vector<curve_readings> readings;
  fitted_curves out;
  for (py::ssize_t row = 0; row < in.voltage.shape(0); ++row) {
    row_reader reader(in, row);
    readings.push_back(reader.read());
    out.rated_voltage_V.push_back(reader.rated_voltage());
  }
  out.each.resize(readings.size());
  const py::gil_scoped_release unlocked;
  for_each_index(readings.size(), threads, [&](std::size_t i) {
    out.each[i] =
        !family && in.weights ? fit_chosen(in, i, readings[i], robust, width) : fit_curve(readings[i], family, robust);
  });
  return out;
}

}  // namespace rewound::python
