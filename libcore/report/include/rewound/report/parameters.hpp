// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/job/parameters.hpp>

namespace rewound::report {

/// One parameter, every cell already rounded.
struct parameter_row {
  std::string name;
  std::string value;
  std::string interval;
  std::string unit;
  bool determined;
};

/// Everything that a person is shown of the parameters, worded and rounded once: text and JSON are made from it.
struct parameters_view {
  std::string title;
  std::vector<parameter_row> rows;
  std::vector<std::string> remarks;
};

parameters_view view_of(const job::parameters_result& result);

/// The parameters as plain text, every line at most 79 characters wide, ending in a newline.
std::string parameters_text(const job::parameters_result& result);

/// The parameters as JSON, format "rewound-parameters/1", indented, ending in a newline.
std::string parameters_json(const job::parameters_result& result);

}  // namespace rewound::report
