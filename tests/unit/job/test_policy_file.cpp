// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <sstream>
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
  CHECK(policy.own_numbers().empty());
  CHECK(policy.polarization_index_informs_only);
}

TEST_CASE("a shop's policy keeps the default for what it leaves out") {
  const auto policy = read("[limits]\nminimum_starts = 8\n");
  CHECK(policy.needed == rewound::job::default_policy().needed);
  CHECK(policy.practice.minimum_starts.value == 8.0);
}

TEST_CASE("every number of practice can be set by its name, to the ends of its range and not beyond") {
  for (const auto& [number, member] : rewound::verdict::practice_list) {
    const auto number_shown = number;
    CAPTURE(number_shown.name);
    const auto set_to = [&, name = number.name](double value) {
      std::ostringstream line;
      line.precision(17);
      line << "[limits]\n" << name << " = { value = " << value << ", source = \"bench rule 4\" }\n";
      return read(line.str());
    };
    for (const double border : {number.low, number.high}) {
      const auto policy = set_to(border);
      CHECK((policy.practice.*member).value == border);
      CHECK((policy.practice.*member).source == "the shop's own limit bench rule 4");
    }
    for (const double beside : {number.low - 1e-5, 1.01 * number.high}) CHECK_THROWS_AS(set_to(beside), error);
  }
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
      {"[limits]\nminimum_starts = -1\n", error_code::out_of_range, 3, "a number from 1 to 100000 starts, ours is 5"},
      {"[limits]\nleakage_maximum_mA = 1001\n", error_code::out_of_range, 3, "a number from 0 to 1000 mA"},
      {"[limits]\nminimum_starts = { value = 0, source = \"bench rule 4\" }\n", error_code::out_of_range, 3,
       "a number from 1 to 100000 starts"},
      {"needs = [\"draw\"]\n", error_code::unknown_key, 2, "did you mean needed?"},
      {"required_checks = [true]\n", error_code::wrong_type, 2, "text"},
  };
  for (const auto& [lines, code, line, allowed] : rows) {
    const auto lines_shown = lines;
    CAPTURE(lines_shown);
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
