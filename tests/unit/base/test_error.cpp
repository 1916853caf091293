// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <set>
#include <string>
#include <string_view>

#include <rewound/base/error.hpp>
#include <rewound/base/expect.hpp>

using rewound::base::error;
using rewound::base::error_code;

TEST_CASE("an error says in one line where it is, what was read and what is allowed") {
  const error trouble(error_code::out_of_range, {"job.toml", 31, "run_up[0].current_A[2]"}, "-0.26",
                      "a number above 0");
  CHECK(std::string(trouble.what()) == "job.toml:31: run_up[0].current_A[2]: read -0.26, allowed: a number above 0");
  CHECK(trouble.code() == error_code::out_of_range);
  CHECK(trouble.where().line == 31);
  CHECK(trouble.read() == "-0.26");
  CHECK(trouble.allowed() == "a number above 0");
}

TEST_CASE("an error without a place leaves the place out") {
  CHECK(std::string(error(error_code::usage, {}, "two files", "one file").what()) ==
        "read two files, allowed: one file");
}

TEST_CASE("control characters of a hostile file stay out of the message") {
  const std::string what = error(error_code::not_toml, {"a\x1b[2J.toml", 1, ""}, "line\nbreak", "TOML").what();
  CHECK(what.find('\x1b') == std::string::npos);
  CHECK(what.find('\n') == std::string::npos);
}

TEST_CASE("a very long value is cut short in the message but kept whole in the error") {
  const std::string read(5000, 'x');
  const error trouble(error_code::wrong_type, {}, read, "a number");
  CHECK(std::string(trouble.what()).size() < 600);
  CHECK(trouble.read() == read);
}

TEST_CASE("every error code has a name of its own") {
  std::set<std::string_view> names;
  int count = 0;
  for (int i = 0; i <= static_cast<int>(error_code::precondition); ++i, ++count)
    names.insert(name(static_cast<error_code>(i)));
  CHECK(names.size() == static_cast<std::size_t>(count));
  CHECK_FALSE(names.contains("unknown"));
}

TEST_CASE("a broken precondition throws its argument and value, and a held one does nothing") {
  CHECK_NOTHROW(rewound::base::expect(true, "dof", 3.0, "a number above 0"));
  try {
    rewound::base::expect(false, "dof", -1.0, "a number above 0");
    FAIL("no error");
  } catch (const error& trouble) {
    CHECK(trouble.code() == error_code::precondition);
    CHECK(trouble.where().field == "dof");
    CHECK(trouble.read() == "-1");
  }
}
