// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/trend.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::job {

/// One visit's one-minute insulation resistance of one circuit.
struct trend_visit {
  record::date day;
  record::visit_state state;
  bool read;         ///< false: there was no reading at 60 s, the value is the time curve's
  double read_Mohm;  ///< at one minute, of the whole winding
  double winding_C;
  bool winding_from_air;  ///< the air's temperature stands in
  double at_40_C_Mohm;
  measurement::interval<double> range_Mohm;  ///< of the value at 40 degC, 95 %, without what visits differ by
  bool in_line;                              ///< false: of an earlier winding
};

/// One circuit over the visits that measured it.
struct circuit_trend {
  std::string circuit;
  std::string system;  ///< by which it was corrected: thermosetting or thermoplastic
  bool system_stated = false;
  verdict::limit minimum;  ///< in Mohm, of the last visit's machine section
  std::vector<trend_visit> visits;
  checks::trend_result line;
  std::vector<verdict::finding> findings;
};

/// Insulation of one machine over its visits.
struct trend_result {
  std::string machine;
  std::vector<record::date> visits;
  double horizon_years = 0.0;
  std::vector<circuit_trend> circuits;  ///< in the order in which they first appear
};

/// Trend of insulation resistance over the visits of one machine, every circuit on its own; records in any order.
///
/// A visit without a one-minute value of a circuit, read or between readings, is passed over there. Where wound_year
/// changes between visits only those of the last winding are in the line.
///
/// @throws base::error records_do_not_match for other machines or ratings; repeated for two visits of one record::date
/// or one
///         circuit twice in a visit; empty_list without records, or where no record has a one-minute value
trend_result trend(const std::vector<record::visit_record>& records, const verdict::policy& policy);

}  // namespace rewound::job
