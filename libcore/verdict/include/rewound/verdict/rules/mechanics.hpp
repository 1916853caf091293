// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// A rotor that turns slower than it should: than at the earlier visit, than marked, than the field of its poles.
struct slow_turning {
  statement says;
  std::string speed;
  double rpm;
  double beside_rpm;
  practice_limit most;  ///< how far below it may turn, in percent
};

/// What hand, eye and ear found: the way it turns and how fast, starts that needed a push, noise, play of the shaft.
std::vector<finding> mechanics(const record::visit_record& in, const policy& rules);

/// Beside the earlier visit it fails: the machine itself has shown what it can do. A plate may be of another make-up,
/// and rpm misread.
finding turns_slowly(const slow_turning& in, record::running_circuit circuit);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/mechanics.hpp>
#endif
