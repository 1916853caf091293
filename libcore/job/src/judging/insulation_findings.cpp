// SPDX-License-Identifier: MIT
#include <iterator>

#include <rewound/job/insulation.hpp>
#include <rewound/verdict/rules/insulation.hpp>

#include "analysis/insulation_analysis.hpp"

namespace rewound::job {

std::vector<verdict::finding> insulation_findings(const record::visit_record& in, const verdict::policy& policy) {
  const auto instruments = instruments_of(in);
  std::vector<verdict::finding> out;
  for (const auto& entry : in.insulation) {
    const auto circuit = analyse_insulation(in, instruments, entry, policy);
    auto found = verdict::rules::insulation({in, entry, circuit}, policy);
    out.insert(out.end(), std::make_move_iterator(found.begin()), std::make_move_iterator(found.end()));
  }
  return out;
}

}  // namespace rewound::job
