// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <Eigen/Core>

// Readers of the tables in reference/oracles: lines "keyword | value | value", "#" for comments.
// REWOUND_REFERENCE_DIR is the path of reference/, given by the build.

namespace oracle {

using fields = std::vector<std::string>;

inline std::string trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string::npos) return "";
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

/// The lines of a table without comments, split at the bars. A missing file throws: no test passes on nothing.
inline std::vector<fields> read_table(const std::filesystem::path& path) {
  std::ifstream in(path);
  if (!in) throw std::runtime_error("cannot open " + path.string());
  std::vector<fields> lines;
  for (std::string line; std::getline(in, line);) {
    if (trimmed(line).empty() || line.front() == '#') continue;
    fields parts;
    std::istringstream cells(line);
    for (std::string cell; std::getline(cells, cell, '|');) parts.push_back(trimmed(cell));
    lines.push_back(parts);
  }
  return lines;
}

/// A whole cell as a number; trailing text is an error.
inline double number(const std::string& text) {
  std::size_t used = 0;
  const double value = std::stod(text, &used);
  if (used != text.size()) throw std::runtime_error("not a number: " + text);
  return value;
}

/// The only line with this keyword.
inline const fields& line_named(const std::vector<fields>& lines, const std::string& keyword) {
  const auto has = [&](const fields& line) { return line.front() == keyword; };
  if (std::count_if(lines.begin(), lines.end(), has) != 1) throw std::runtime_error("not exactly one " + keyword);
  return *std::find_if(lines.begin(), lines.end(), has);
}

inline double value_named(const std::vector<fields>& lines, const std::string& keyword, std::size_t cell = 1) {
  return number(line_named(lines, keyword).at(cell));
}

/// All "row" lines as one matrix.
inline Eigen::MatrixXd rows_of(const std::vector<fields>& lines) {
  const auto columns = static_cast<Eigen::Index>(line_named(lines, "columns").size()) - 1;
  Eigen::MatrixXd rows(0, columns);
  for (const fields& line : lines) {
    if (line.front() != "row") continue;
    if (static_cast<Eigen::Index>(line.size()) != columns + 1) throw std::runtime_error("row of wrong length");
    rows.conservativeResize(rows.rows() + 1, Eigen::NoChange);
    for (Eigen::Index column = 0; column < columns; ++column) {
      rows(rows.rows() - 1, column) = number(line[static_cast<std::size_t>(column) + 1]);
    }
  }
  return rows;
}

inline std::filesystem::path oracle_path(const std::string& relative) {
  return std::filesystem::path(REWOUND_REFERENCE_DIR) / "oracles" / relative;
}

/// One NIST StRD set, linear or nonlinear.
struct nist_set {
  std::string name;
  fields design;                        ///< linear sets: kind, degree, intercept
  std::vector<Eigen::VectorXd> starts;  ///< nonlinear sets: start 1 and start 2
  Eigen::VectorXd parameters;
  Eigen::VectorXd standard_deviations;
  double residual_sum_of_squares = 0.0;
  double residual_standard_deviation = 0.0;
  double r_squared = std::numeric_limits<double>::quiet_NaN();
  Eigen::Index degrees_of_freedom = 0;
  Eigen::MatrixXd rows;  ///< y, then the predictors

  Eigen::VectorXd y() const { return rows.col(0); }
};

/// Column `cell` of the parameter lines.
inline Eigen::VectorXd parameter_column(const std::vector<fields>& lines, std::size_t cell) {
  std::vector<double> values;
  for (const fields& line : lines) {
    if (line.front() == "parameter") values.push_back(number(line.at(cell)));
  }
  return Eigen::Map<const Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()));
}

inline nist_set read_nist_set(const std::filesystem::path& path, bool nonlinear) {
  const std::vector<fields> lines = read_table(path);
  nist_set set;
  set.name = line_named(lines, "set").at(1);
  set.rows = rows_of(lines);
  set.degrees_of_freedom = static_cast<Eigen::Index>(value_named(lines, "degrees_of_freedom"));
  set.residual_sum_of_squares = value_named(lines, "residual_sum_of_squares");
  set.residual_standard_deviation = value_named(lines, "residual_standard_deviation");
  set.parameters = parameter_column(lines, nonlinear ? 4 : 2);
  set.standard_deviations = parameter_column(lines, nonlinear ? 5 : 3);
  if (nonlinear) {
    set.starts = {parameter_column(lines, 2), parameter_column(lines, 3)};
  } else {
    set.design = line_named(lines, "design");
    set.r_squared = value_named(lines, "r_squared");
  }
  const auto stated = static_cast<Eigen::Index>(value_named(lines, "observations"));
  if (set.rows.rows() != stated || stated - set.parameters.size() != set.degrees_of_freedom) {
    throw std::runtime_error(set.name + ": counts disagree");
  }
  return set;
}

/// Every set of one folder of reference/oracles/nist_strd, by name.
inline std::vector<nist_set> read_nist_sets(const std::string& folder) {
  std::vector<std::filesystem::path> paths;
  for (const auto& entry : std::filesystem::directory_iterator(oracle_path("nist_strd/" + folder))) {
    if (entry.path().extension() == ".txt") paths.push_back(entry.path());
  }
  std::sort(paths.begin(), paths.end());
  std::vector<nist_set> sets;
  for (const auto& path : paths) sets.push_back(read_nist_set(path, folder == "nonlinear"));
  return sets;
}

/// Digits in agreement: -log10 of the relative error, at most 15; of the absolute error where the certified
/// value is 0. Not a number scores 0, so that it fails every goal.
/// Source: NIST StRD, "log relative error" (B. D. McCullough, Am. Stat. 52 (1998) 358-366).
inline double digits(double computed, double certified) {
  const double error = certified == 0.0 ? std::abs(computed) : std::abs(computed - certified) / std::abs(certified);
  if (std::isnan(error)) return 0.0;
  constexpr double most = 15.0;
  return error == 0.0 ? most : std::clamp(-std::log10(error), 0.0, most);
}

/// The fewest digits of any element; 0 when the lengths differ or nothing is compared.
inline double fewest_digits(const Eigen::VectorXd& computed, const Eigen::VectorXd& certified) {
  if (computed.size() != certified.size() || computed.size() == 0) return 0.0;
  double fewest = 15.0;
  for (Eigen::Index i = 0; i < computed.size(); ++i) fewest = std::min(fewest, digits(computed[i], certified[i]));
  return fewest;
}

}  // namespace oracle
