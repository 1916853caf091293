// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/section_balance.hpp>
#include <rewound/checks/section_order.hpp>
#include <rewound/machine/speed_control.hpp>
#include <rewound/record/insulation_class.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Sections that the record says are equal.
struct balance_facts {
  std::string group;
  std::vector<std::string> sections;
  checks::section_balance_result result;
  std::optional<record::winding_kind> kind;
};

/// Equal sections: the farthest from the mean, against AR100's limit for the kind of winding (random wound where the
/// record does not say).
finding resistance_balance(const balance_facts& facts, const policy& rules);

/// Resistances from common to each speed's lead, fastest first.
struct order_facts {
  std::vector<std::string> speeds;
  checks::section_order_result result;
  record::speed_control control = record::speed_control::unknown;
};

/// The resistance has to rise from speed to speed where the speed control implies it. The step that is surest to fall
/// speaks for all.
finding resistance_order(const order_facts& facts, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/resistance_sections.hpp>
#endif
