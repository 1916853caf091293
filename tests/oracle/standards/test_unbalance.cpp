// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <oracle_table.hpp>
#include <rewound/checks/rolled_leads.hpp>
#include <rewound/checks/unbalance.hpp>
#include <rewound/verdict/rules/unbalance.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using inputs = rewound::testing::row_inputs;

namespace {

checks::rolled_leads_result rolled(const inputs& in) {
  return checks::rolled_leads({{units::amperes(in("a")), units::amperes(in("b")), units::amperes(in("c"))},
                               {units::amperes(in("d")), units::amperes(in("e")), units::amperes(in("f"))},
                               static_cast<int>(in("shift")),
                               units::amperes(0.0)});
}

}  // namespace

TEST_CASE("unbalance: every row of the oracle table is met") {
  rewound::testing::check_table(
      "standards/unbalance.csv",
      {{"voltage_percent",
        [](const inputs& in) {
          return checks::unbalance_percent<units::voltage>(
              {units::volts(in("a")), units::volts(in("b")), units::volts(in("c"))});
        }},
       {"current_percent",
        [](const inputs& in) {
          return checks::unbalance_percent<units::current>(
              {units::amperes(in("a")), units::amperes(in("b")), units::amperes(in("c"))});
        }},
       {"derating",
        [](const inputs& in) { return rewound::verdict::rules::voltage_unbalance_derating(in("percent")).value(); }},
       {"winding_part", [](const inputs& in) { return rolled(in).winding_percent.value; }},
       {"line_part", [](const inputs& in) { return rolled(in).line_percent.value; }}});
}
