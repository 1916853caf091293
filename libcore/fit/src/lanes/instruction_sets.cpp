// SPDX-License-Identifier: MIT
#include <rewound/base/lanes.hpp>
#include <rewound/fit/instruction_set.hpp>

namespace rewound::fit {

std::string_view name(instruction_set set) {
  switch (set) {
    case instruction_set::plain: return "plain";
    case instruction_set::avx2: return "avx2";
    case instruction_set::avx512: return "avx512";
  }
  return "unknown";
}

const std::vector<instruction_set>& instruction_sets() {
  static const std::vector<instruction_set> found = [] {
    std::vector<instruction_set> out{instruction_set::plain};
#ifdef REWOUND_X86
    if (base::widest_lanes() >= 4) out.push_back(instruction_set::avx2);
    if (base::widest_lanes() >= 8) out.push_back(instruction_set::avx512);
#endif
    return out;
  }();
  return found;
}

}  // namespace rewound::fit
