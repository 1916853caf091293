// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/friction_level.hpp>
#include <rewound/fit/summary_block.hpp>
#include <rewound/record/record.hpp>

namespace rewound::job {

/// A meter as a reference remembers it: whose gain error it was, and how large.
struct reference_meter {
  std::string name;               ///< empty: not named, shared with no other record
  double gain_uncertainty = 0.0;  ///< relative standard uncertainty
};

/// What a reference keeps of a coast-down.
struct reference_coasting {
  double fastest_rpm = 0.0;
  checks::machine_friction friction;
};

/// One good machine, reduced to what its readings say (checks/summary.hpp); enough to learn again with others.
struct reference_machine {
  std::string id;
  record::date day;
  std::map<std::string, reference_meter> meters;  ///< by kind of instrument
  std::vector<fit::summary_block> blocks;
  std::optional<reference_coasting> coast_down = std::nullopt;

  std::string visit_name() const { return id + " of " + day.iso(); }
};

/// What good machines of one model draw. The machines are kept, so that references can be merged.
struct reference {
  std::string model;
  double rated_voltage_V = 0.0;
  double rated_frequency_Hz = 0.0;
  record::shaft_condition shaft = record::shaft_condition::loaded;
  std::vector<reference_machine> machines;
  std::vector<reference_machine> set_aside;  ///< machines that did not fit the others; weighed again when merging
};

/// Reads a reference. @throws base::error with the place, what was read and what is allowed
reference reference_from(const record::node& document);
reference load_reference(const std::string& path);

}  // namespace rewound::job
