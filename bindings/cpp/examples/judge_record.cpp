// SPDX-License-Identifier: MIT
#include <cstdio>
#include <exception>

#include <rewound/job/judge.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/report/text.hpp>

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  try {
    const auto record = rewound::record::load_record(argv[1]);
    const auto result = rewound::job::judge(record, {}, rewound::job::default_policy());
    std::printf("%s\n%s", name(result.decision.decision).data(), rewound::report::text_report(result).c_str());
  } catch (const std::exception& trouble) {
    std::fprintf(stderr, "%s\n", trouble.what());
    return 1;
  }
  return 0;
}
