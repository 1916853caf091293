// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/job/policy_file.hpp>

using rewound::base::error;
using rewound::base::error_code;
using rewound::verdict::check;

namespace {

rewound::verdict::policy read(const std::string& lines) {
  return rewound::job::policy_from(
      rewound::record::read_toml_text("format = \"rewound-policy/1\"\n" + lines, "policy.toml"));
}

}  // namespace

TEST_CASE("the default policy needs what a release is said to need") {
  const auto policy = rewound::job::default_policy();
  CHECK(policy.needed == std::vector{check::readings, check::draw, check::steps, check::insulation, check::resistance,
                                     check::starting, check::leakage, check::earth});
  CHECK(policy.own_limits.empty());
  CHECK(policy.polarization_index_informs_only);
}

TEST_CASE("a shop's policy keeps the default for what it leaves out") {
  const auto policy = read("[limits]\nminimum_starts = 8\n");
  CHECK(policy.needed == rewound::job::default_policy().needed);
  CHECK(policy.practice("minimum_starts").value == 8.0);
}

TEST_CASE("whatever a shop needs, suspect readings count, and so do the checks it requires") {
  CHECK(read("needed = [\"draw\"]\n").needs(check::readings));
  CHECK_FALSE(read("needed = [\"draw\"]\n").needs(check::steps));
  CHECK(read("needed = [\"draw\"]\nrequired_checks = [\"quiet\"]\n").needs(check::checks));
}

TEST_CASE("a policy that is not one is refused with its place") {
  struct row {
    std::string lines;
    error_code code;
    int line;
    std::string allowed;
  };
  const std::vector<row> rows{
      {"needed = [\"drew\"]\n", error_code::not_a_choice, 2, "draw"},
      {"[limits]\nminimum_start = 8\n", error_code::unknown_key, 3, "did you mean minimum_starts?"},
      {"[limits]\nminimum_starts = -1\n", error_code::out_of_range, 3, "1 or more"},
      {"needs = [\"draw\"]\n", error_code::unknown_key, 2, "did you mean needed?"},
      {"required_checks = [true]\n", error_code::wrong_type, 2, "text"},
  };
  for (const auto& [lines, code, line, allowed] : rows) {
    CAPTURE(lines);
    try {
      read(lines);
      FAIL_CHECK("no error");
    } catch (const error& trouble) {
      CHECK(name(trouble.code()) == name(code));
      CHECK(trouble.where().line == line);
      CHECK_MESSAGE(trouble.allowed().find(allowed) != std::string::npos, trouble.what());
    }
  }
}

TEST_CASE("a record is no policy") {
  const auto document = rewound::record::read_toml_text("format = \"rewound-record/1\"\n", "policy.toml");
  CHECK_THROWS_AS(rewound::job::policy_from(document), error);
}
