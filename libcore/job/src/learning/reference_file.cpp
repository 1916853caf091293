// SPDX-License-Identifier: MIT
#include <rewound/job/reference.hpp>

#include <algorithm>
#include <cmath>

#include <Eigen/Eigenvalues>

#include <rewound/base/number_text.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/curve_shapes.hpp>
#include <rewound/record/fields.hpp>
#include <rewound/record/words.hpp>

#include "learning/reference_format.hpp"

namespace rewound::job {

using base::error;
using base::error_code;

namespace {

/// Level, slope, curvature and the shape coefficients: see checks/summary.hpp.
constexpr std::size_t terms = 1 + machine::shape_function_count;

constexpr record::range any_number{-1e15, 1e15, "a finite number", false, 0.0};

Eigen::VectorXd vector_from(record::fields& in, const char* key, std::size_t size) {
  const auto values = in.numbers(key, any_number);
  if (values.size() != size)
    throw error(error_code::unequal_lengths, in.place_of(key), std::to_string(values.size()) + " values",
                std::to_string(size));
  return Eigen::Map<const Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(size));
}

/// A precision or covariance has one half as the other, and is nowhere negative.
void expect_precision(const Eigen::MatrixXd& in, const base::place& where) {
  constexpr double rounding = 1e-9;
  const double largest = in.cwiseAbs().maxCoeff();
  if ((in - in.transpose()).cwiseAbs().maxCoeff() > rounding * largest)
    throw error(error_code::out_of_range, where, "a matrix that is not symmetric",
                "row i, column j as row j, column i");
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> parts(in, Eigen::EigenvaluesOnly);
  if (parts.eigenvalues().minCoeff() < -rounding * largest)
    throw error(error_code::out_of_range, where, "a matrix that is not positive",
                "numbers as `rewound learn` writes them");
}

Eigen::MatrixXd matrix_from(record::fields& in, const char* key, std::size_t size) {
  const auto rows = in.number_lists(key, any_number);
  const auto order = static_cast<Eigen::Index>(size);
  Eigen::MatrixXd out(order, order);
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = 0; j < size; ++j) {
      if (rows.size() != size || rows[i].size() != size)
        throw error(error_code::unequal_lengths, in.place_of(key), "another size",
                    std::to_string(size) + " rows of " + std::to_string(size) + " numbers");
      out(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = rows[i][j];
    }
  expect_precision(out, in.place_of(key));
  return out;
}

/// What the readings say at the rated voltage is a current, power or speed that a small machine can have, and its slope
/// and curvature are those of a curve: a digit that was changed shows there.
void expect_curve(const fit::summary_block& block, const base::place& where) {
  constexpr double relative_rank = 1e-9, agreement = 1e-6;
  constexpr double farthest_level = 16.2;  // ln of 10 million, and of its reciprocal
  constexpr double steepest = 30.0;        // common practice, no source: a fan's exponents lie between -1 and 5
  const auto& [precision, weighted] = block.information;
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> parts(precision);
  const double least = relative_rank * parts.eigenvalues().maxCoeff();
  Eigen::VectorXd told = parts.eigenvectors().transpose() * weighted;
  for (Eigen::Index i = 0; i < told.size(); ++i)
    told[i] = parts.eigenvalues()[i] > least ? told[i] / parts.eigenvalues()[i] : 0.0;
  const Eigen::VectorXd mean = parts.eigenvectors() * told;
  const bool agrees = (precision * mean - weighted).norm() <= agreement * (1.0 + weighted.norm());
  if (agrees && std::abs(mean[0]) <= farthest_level && std::abs(mean[1]) <= steepest) return;
  throw error(error_code::out_of_range, where,
              agrees ? "a level of exp(" + base::general_digits(mean[0], 4) + "), an exponent of " +
                           base::general_digits(mean[1], 4)
                     : std::string("numbers that do not belong to this precision"),
              "what readings of a small machine can give");
}

constexpr record::range share_range{1e-3, 10.0, "a share of the rated voltage from 0.001 to 10"};

fit::summary_block block_from(record::fields& in) {
  fit::summary_block out;
  out.speed = in.text("speed");
  out.what = in.choice<fit::channel>(
      "channel",
      {{"current", fit::channel::current}, {"power", fit::channel::power}, {"rotation", fit::channel::rotation}});
  out.readings = in.whole("readings", 1, 1000000);
  out.tested = in.whole("tested", 0, 2);
  out.lowest_share = in.optional_number("lowest_share", share_range);
  out.information = {matrix_from(in, "precision", terms), vector_from(in, "weighted", terms)};
  expect_curve(out, in.place_of("weighted"));
  in.finish();
  return out;
}

reference_coasting coasting_from(record::fields& in) {
  reference_coasting out;
  out.fastest_rpm = in.number("fastest_rpm", record::rpm_range);
  const auto friction = vector_from(in, "terms", 3);
  if (!(friction.minCoeff() >= 0.0 && friction.sum() > 0.0))
    throw error(error_code::out_of_range, in.place_of("terms"), "a term below 0, or all of them 0",
                "friction terms of 0 or above");
  for (std::size_t k = 0; k < 3; ++k) out.friction.terms[k] = friction[static_cast<Eigen::Index>(k)];
  out.friction.covariance = matrix_from(in, "covariance", 3);
  if (!(out.friction.covariance.diagonal().minCoeff() >= 0.0))
    throw error(error_code::out_of_range, in.place_of("covariance"), "a variance below 0", "variances of 0 or above");
  in.finish();
  return out;
}

reference_machine machine_from(record::fields& in) {
  reference_machine out;
  out.id = in.text("id");
  out.day = in.day("date");
  auto meters = in.table("meters");
  for (auto& [kind, meter] : meters.member_tables())
    out.meters[kind] = {
        meter.optional_any_text("name").value_or(""),
        meter.number("gain_uncertainty", record::range{0.0, 1.0, "a relative uncertainty from 0 to 1", false, 0.0})};
  for (auto& block : in.tables("block")) {
    const auto where = block.place();
    auto read = block_from(block);
    const bool again = std::any_of(out.blocks.begin(), out.blocks.end(), [&](const auto& each) {
      return each.speed == read.speed && each.what == read.what;
    });
    if (again) throw error(error_code::repeated, where, "\"" + read.speed + "\" a second time", "one block a channel");
    out.blocks.push_back(std::move(read));
  }
  if (auto coasting = in.optional_table("coast_down")) out.coast_down = coasting_from(*coasting);
  if (out.blocks.empty())
    throw error(error_code::empty_list, in.place_of("block"), "no [[machine.block]]", "at least one");
  in.finish();
  return out;
}

}  // namespace

reference reference_from(const record::node& document) {
  record::fields root(document, "");
  root.expect_format(reference_format);
  reference out;
  out.model = root.text("model");
  out.rated_voltage_V = root.number("rated_voltage_V", record::volts_range);
  out.rated_frequency_Hz = root.number("rated_frequency_Hz", record::hertz_range);
  out.shaft = root.choice<record::shaft_condition>("shaft", record::words::shaft);
  const int count = root.whole("machines", 1, 1000000);
  for (auto& machine : root.tables("machine")) out.machines.push_back(machine_from(machine));
  for (auto& machine : root.tables("set_aside")) out.set_aside.push_back(machine_from(machine));
  if (static_cast<int>(out.machines.size()) != count)
    throw error(error_code::unequal_lengths, root.place_of("machines"), std::to_string(count),
                "the number of [[machine]], here " + std::to_string(out.machines.size()));
  root.skip("curve");
  root.skip("between_covariance");
  root.finish();
  return out;
}

reference load_reference(const std::string& path) {
  return reference_from(record::read_toml_file(path, record::largest::reference));
}

}  // namespace rewound::job
