// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <rewound/job/whatif.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/record/record.hpp>

namespace rewound::job {

/// One parameter of the machine model, as far as a record's readings determine it.
struct parameter_estimate {
  std::string_view name;
  std::string_view unit;
  double value;
  measurement::interval<double> range;  ///< 95 %
  bool determined;                      ///< false: the interval is little narrower than what fan machines have anyway
};

struct parameters_result {
  std::string machine;
  std::vector<parameter_estimate> parameters;
  whatif_basis basis;  ///< what they rest on
};

/// Parameters of a machine's equivalent circuit from its run-up, with watts and rpm where read, winding resistance and
/// nameplate: designs of the population fitted to all of these, as for whatif(). Ohms are full values seen from the
/// main winding, warm as it ran, at the rated frequency.
///
/// @throws base::error as whatif() does
parameters_result machine_parameters(const record::visit_record& in);

}  // namespace rewound::job
