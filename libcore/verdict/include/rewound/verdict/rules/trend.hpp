// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/checks/trend.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// A step between two visits, with what the record of the later one says was done.
struct named_step {
  std::string before;  ///< dates
  std::string after;
  std::string work;  ///< empty where none is recorded
};

/// The visits behind one circuit's trend.
struct dated_line {
  std::size_t visits = 0;
  double years = 0.0;             ///< that they span
  std::string system;             ///< stated, unknown_thermosetting or unknown_thermoplastic
  std::string rewound;            ///< date of the first visit of the present winding; empty where it is that of all
  std::string voltages;           ///< test voltages, where they differ; else empty
  std::vector<named_step> steps;  ///< one for each of the trend's
  std::string crosses;            ///< months of the forecast, "2031-04"; "never" beyond the horizon
  std::string earliest;
  std::string latest;
};

/// What one circuit's trend says: slope, steps, what stands against a plain reading of it, and the forecast.
std::vector<finding> trend(const std::string& circuit, const checks::trend_result& result, const dated_line& line,
                           const limit& minimum, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/trend.hpp>
#endif
