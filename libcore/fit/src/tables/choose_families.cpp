// SPDX-License-Identifier: MIT
#include "choose_families.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include <rewound/base/parallel.hpp>
#include <rewound/fit/batch_fit.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/fit/detail/curve_candidates.hpp>
#include <rewound/fit/detail/power_bounds.hpp>

#include "part_of_table.hpp"

namespace rewound::fit {

namespace {

/// What lanes say of all curves of a table, one family.
struct family_in_lanes {
  std::vector<double> parameters, covariance, chi2, unit_variance;
  std::vector<int> degrees;
  std::vector<unsigned char> certified;
  std::size_t width;

  family_in_lanes(const curve_table& table, curve_family family)
      : width(static_cast<std::size_t>(parameter_count(family))) {
    parameters.resize(table.curves * width);
    covariance.resize(table.curves * width * width);
    for (auto* numbers : {&chi2, &unit_variance}) numbers->resize(table.curves);
    degrees.resize(table.curves);
    certified.resize(table.curves);
  }

  fit_table in_place() {
    return {parameters.data(), covariance.data(), chi2.data(), degrees.data(), certified.data(), unit_variance.data()};
  }

  /// The least sum of squares, where it is certain.
  std::optional<double> least(std::size_t row) const {
    if (certified[row] != 1 && certified[row] != lacks_covariance) return std::nullopt;
    return chi2[row];
  }

  const double* of(std::size_t row) const { return parameters.data() + row * width; }
};

constexpr std::size_t rows_together = 512;

template <class Fit>
void in_chunks(std::size_t curves, int threads, const Fit& fit) {
  base::for_each_index((curves + rows_together - 1) / rows_together, threads, [&](std::size_t part) {
    fit(part * rows_together, std::min(curves, (part + 1) * rows_together));
  });
}

family_in_lanes fitted(const curve_table& table, curve_family family, const table_options& options) {
  family_in_lanes out(table, family);
  const auto answers = out.in_place();
  const bool plain = table.weight && in_batches(family, false);
  in_chunks(table.curves, options.threads, [&](std::size_t first, std::size_t last) {
    if (plain) fit_batch(table, family, false, first, last, answers, options.set);
    else fit_batch_with_errors(table, family, false, first, last, answers, options.set);
  });
  return out;
}

/// The families below that with load, of every curve of the table.
struct simpler_families {
  family_in_lanes power, log_quadratic, magnetising;

  simpler_families(const curve_table& table, const table_options& options)
      : power(fitted(table, curve_family::power, options)),
        log_quadratic(fitted(table, curve_family::log_quadratic, options)),
        magnetising(fitted(table, curve_family::magnetising, options)) {}

  const family_in_lanes& of(curve_family family) const {
    return family == curve_family::power ? power : family == curve_family::log_quadratic ? log_quadratic : magnetising;
  }
};

constexpr curve_family richest = curve_family::magnetising_load;

curves_with_load fitted_with_load(const curve_table& table, const std::vector<unsigned char>& wanted,
                                  const table_options& options) {
  curves_with_load out;
  for (std::size_t row = 0; row < table.curves; ++row)
    if (wanted[row]) out.rows.push_back(row);
  const part_of_table part(table, out.rows);
  auto named = options;
  named.family = richest;
  named.robust = false;
  out.fits = fit_curves(part.view(), named);
  return out;
}

// Readings with weights: the errors' size is unknown.

struct weighted_values {
  std::vector<curve_family> families;
  std::vector<double> values;
};

weighted_values values_of(const simpler_families& lanes, std::size_t row, const curve_readings& in,
                          std::size_t voltages) {
  weighted_values out;
  const auto n = static_cast<std::size_t>(in.x.size());
  for (const auto family : families_by_simplicity) {
    if (family == richest || !detail::carries_weighted(n, voltages, family)) continue;
    auto chi2 = lanes.of(family).least(row);
    if (!chi2) {
      const detail::curve_problem problem(in, family, Eigen::VectorXd::Ones(in.x.size()));
      const auto found = detail::search_curve(problem);
      if (!found.usable()) continue;
      chi2 = found.chi2;
    }
    out.families.push_back(family);
    out.values.push_back(detail::unknown_scale_akaike(in, family, *chi2));
  }
  return out;
}

/// Whether the curve with load, whose sum of squares is at least `bound` where it lies close, could lead after these.
bool could_lead(const weighted_values& others, const curve_readings& in, double bound) {
  constexpr double close = 0.2 * 0.2;  // as bound_loaded asks
  if (others.values.empty()) return true;
  const double n = static_cast<double>(in.x.size());
  const double price = detail::price_of(parameter_count(richest) + 1, static_cast<std::size_t>(in.x.size()));
  const double leading = others.values[detail::leaders_of(others.values).back()];
  const double enough = n * std::exp((leading - detail::tie - price) / n);
  if (enough > close * (in.weight.array() * in.current.array().square()).minCoeff()) return true;
  return detail::unknown_scale_akaike(in, richest, bound) < leading - detail::tie;
}

curve_family leading(const weighted_values& of, std::size_t voltages) {
  if (of.families.empty()) return voltages >= 2 ? curve_family::power : curve_family::proportional;
  return of.families[detail::leaders_of(of.values).back()];
}

chosen_families choose_all_weighted(const curve_table& table, const std::vector<curve_readings>& readings,
                                    const table_options& options) {
  const simpler_families lanes(table, options);
  family_in_lanes bounds(table, richest);
  const auto answers = bounds.in_place();
  in_chunks(table.curves, options.threads,
            [&](std::size_t first, std::size_t last) { bound_loaded_batch(table, first, last, answers, options.set); });
  std::vector<curve_family> out(table.curves);
  std::vector<weighted_values> values(table.curves);
  std::vector<unsigned char> wants_load(table.curves, 0);
  base::for_each_index(table.curves, options.threads, [&](std::size_t row) {
    const auto& in = readings[row];
    const std::size_t voltages = detail::distinct_voltages(in);
    values[row] = values_of(lanes, row, in, voltages);
    out[row] = leading(values[row], voltages);
    const auto bound = bounds.least(row);
    wants_load[row] = detail::carries_weighted(static_cast<std::size_t>(in.x.size()), voltages, richest) &&
                      (!bound || could_lead(values[row], in, *bound));
  });
  auto loaded = fitted_with_load(table, wants_load, options);
  for (std::size_t i = 0; i < loaded.rows.size(); ++i) {
    const auto row = loaded.rows[i];
    if (!loaded.usable(i)) continue;
    auto& of = values[row];
    of.families.push_back(richest);
    of.values.push_back(detail::unknown_scale_akaike(readings[row], richest, loaded.fits.chi2[i]));
    out[row] = of.families[detail::leaders_of(of.values).back()];
  }
  return {std::move(out), std::move(loaded)};
}

// Readings without weights: the choice of a judgement, which passes over curves whose parameters run to a bound.

current_curve candidate(curve_family family, double chi2, std::size_t readings) {
  current_curve out{};
  out.family = family;
  out.chi2 = chi2;
  out.degrees_of_freedom = static_cast<int>(readings) - parameter_count(family);
  return out;
}

bool within_bounds(curve_family family, const double* p) {
  if (!magnetising_kind(family)) return true;
  for (int j = 0; j < parameter_count(family); ++j)
    if (j != 2 && !(p[j] > 0.0)) return false;
  return p[2] > detail::lowest_power && p[2] < detail::highest_power;
}

/// Candidates that a judgement has for certain, and those that it may have.
struct possible_candidates {
  std::vector<std::vector<current_curve>> lists{{}};

  void add(const current_curve& curve, bool certain) {
    std::vector<std::vector<current_curve>> without;
    if (!certain) without = lists;
    for (auto& list : lists) list.push_back(curve);
    lists.insert(lists.end(), without.begin(), without.end());
  }

  bool load_cannot_win(std::size_t n) const {
    return std::all_of(lists.begin(), lists.end(),
                       [&](const auto& list) { return detail::cannot_win(richest, list, n); });
  }

  /// The choice, where it is the same of all lists.
  std::optional<curve_family> chosen(std::size_t n) const {
    std::optional<curve_family> out;
    for (const auto& list : lists) {
      if (list.empty()) return std::nullopt;
      const auto here = detail::chosen_of(list, n, detail::scatter_of(list)).family;
      if (out && *out != here) return std::nullopt;
      out = here;
    }
    return out;
  }
};

/// False where a family's sum of squares is not certain.
bool add_simpler(const simpler_families& lanes, std::size_t row, std::size_t n, std::size_t voltages,
                 possible_candidates& to) {
  for (const auto family : families_by_simplicity) {
    if (family == richest || !detail::carries(n, voltages, family)) continue;
    const auto& found = lanes.of(family);
    const auto chi2 = found.least(row);
    if (!chi2) return false;
    to.add(candidate(family, *chi2, n), within_bounds(family, found.of(row)));
  }
  return true;
}

chosen_families choose_all_unweighted(const curve_table& table, const std::vector<curve_readings>& readings,
                                      const table_options& options) {
  const simpler_families lanes(table, options);
  std::vector<std::optional<curve_family>> chosen(table.curves);
  std::vector<possible_candidates> possible(table.curves);
  std::vector<unsigned char> wants_load(table.curves, 0);
  base::for_each_index(table.curves, options.threads, [&](std::size_t row) {
    const auto n = static_cast<std::size_t>(readings[row].x.size());
    const std::size_t voltages = detail::distinct_voltages(readings[row]);
    auto& here = possible[row];
    if (!detail::carries(n, voltages, curve_family::power)) {
      if (voltages >= 2 && lanes.power.least(row)) chosen[row] = curve_family::power;
      return;
    }
    if (!add_simpler(lanes, row, n, voltages, here)) return;
    if (detail::carries(n, voltages, richest) && !here.load_cannot_win(n)) wants_load[row] = 1;
    else chosen[row] = here.chosen(n);
  });
  auto loaded = fitted_with_load(table, wants_load, options);
  for (std::size_t i = 0; i < loaded.rows.size(); ++i) {
    if (!loaded.usable(i)) continue;
    const auto row = loaded.rows[i];
    const auto n = static_cast<std::size_t>(readings[row].x.size());
    auto& here = possible[row];
    const double* const parameters = loaded.fits.parameters.data() + i * loaded.fits.width;
    here.add(candidate(richest, loaded.fits.chi2[i], n), within_bounds(richest, parameters));
    chosen[row] = here.chosen(n);
  }
  std::vector<curve_family> out(table.curves);
  base::for_each_index(table.curves, options.threads,
                       [&](std::size_t row) { out[row] = chosen[row] ? *chosen[row] : choose_family(readings[row]); });
  return {std::move(out), std::move(loaded)};
}

}  // namespace

chosen_families choose_families(const curve_table& table, const std::vector<curve_readings>& readings,
                                const table_options& options) {
  if (table.readings <= most_readings)
    return table.weight ? choose_all_weighted(table, readings, options)
                        : choose_all_unweighted(table, readings, options);
  std::vector<curve_family> out(table.curves);
  base::for_each_index(table.curves, options.threads,
                       [&](std::size_t row) { out[row] = choose_family(readings[row]); });
  return {std::move(out), {}};
}

}  // namespace rewound::fit
