// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/measurement/normal.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/verdict/check.hpp>
#include <rewound/verdict/outcome.hpp>
#include <rewound/verdict/statement.hpp>

namespace rewound::verdict {

/// What a finding does to a release.
enum class bearing {
  decides,  ///< a needed check must have every such finding conform
  informs,  ///< told, but neither needed nor in the way, unless it fails
  noted,    ///< what was asked for was read, and there is nothing to judge it by: it meets the need, and is no tick
  does_not_apply  ///< says that the check is not due on this machine
};

/// A number that a sentence mentions besides the finding's own value; its uncertainty sets the decimals shown.
struct mentioned {
  std::string key;
  double value;
  double standard_uncertainty = 0.0;
};

/// One judged quantity with its evidence. Numbers are in `unit`; words stand in the report.
struct finding {
  verdict::check check = check::readings;
  std::string subject;  ///< speed, circuit, section, position: what was judged; may be empty
  verdict::outcome outcome = outcome::not_tested;
  verdict::bearing bearing = bearing::decides;
  statement says = statement::not_recorded;
  std::string quantity;
  std::optional<double> value;
  std::string unit;
  std::optional<double> low;  ///< 95 % interval of the value
  std::optional<double> high;
  std::optional<double> limit_low;
  std::optional<double> limit_high;
  std::string source;  ///< of the limit, or of the method where there is no limit
  std::vector<mentioned> numbers;
  std::vector<std::pair<std::string, std::string>> texts;
};

/// Puts a value with its 95 % interval into a finding.
inline void set_value(finding& f, double value, double standard_uncertainty, std::string unit) {
  const double half = measurement::coverage_95 * standard_uncertainty;
  f.value = value;
  f.low = value - half;
  f.high = value + half;
  f.unit = std::move(unit);
}

}  // namespace rewound::verdict
