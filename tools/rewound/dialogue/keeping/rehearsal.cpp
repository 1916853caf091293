// SPDX-License-Identifier: MIT
#include "dialogue/keeping/rehearsal.hpp"

namespace rewound::tool::dialogue {

bool is_rehearsal(const record::visit_record& in) {
  const auto found = in.checks.find(no_rehearsal_key);
  return found != in.checks.end() && !found->second;
}

std::vector<std::string> answered_checks(const record::visit_record& in) {
  std::vector<std::string> out;
  for (const auto& [key, passed] : in.checks)
    if (key != no_rehearsal_key) out.push_back(key);
  return out;
}

}  // namespace rewound::tool::dialogue
