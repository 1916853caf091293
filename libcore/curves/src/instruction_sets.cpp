// SPDX-License-Identifier: MIT
#include <rewound/curves/instruction_set.hpp>

namespace rewound::curves {

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
    __builtin_cpu_init();
    if (!__builtin_cpu_supports("avx2") || !__builtin_cpu_supports("fma")) return out;
    out.push_back(instruction_set::avx2);
    const bool wide = __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
                      __builtin_cpu_supports("avx512vl") && __builtin_cpu_supports("avx512bw");
    if (wide) out.push_back(instruction_set::avx512);
#endif
    return out;
  }();
  return found;
}

}  // namespace rewound::curves
