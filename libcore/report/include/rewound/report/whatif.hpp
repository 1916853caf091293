// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/job/whatif.hpp>

namespace rewound::report {

/// One speed of a case, every cell already rounded; no cells where the machine stands still.
struct whatif_line {
  std::string speed;
  std::vector<std::string> changes;
};

/// One case: a new winding, other mains, or both.
struct whatif_part {
  std::string heading;
  std::vector<whatif_line> lines;
};

/// Everything that a person is shown of a what-if, worded and rounded once: text and JSON are made from it.
struct whatif_view {
  std::string title;
  std::string change;              ///< what was asked
  std::string wanted;              ///< the turns that a wanted current takes; empty where none was asked for
  std::string basis;               ///< what the answer rests on
  std::vector<std::string> heads;  ///< of the changes
  std::vector<whatif_part> parts;
  std::vector<std::string> remarks;
  std::vector<std::string> cautions;
};

whatif_view view_of(const job::whatif_result& result);

/// The answer as plain text, every line at most 79 characters wide, ending in a newline.
std::string whatif_text(const job::whatif_result& result);

/// The answer as JSON, format "rewound-whatif/1", indented, ending in a newline; changes in percent.
std::string whatif_json(const job::whatif_result& result);

}  // namespace rewound::report
