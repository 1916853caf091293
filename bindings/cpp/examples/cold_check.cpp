// SPDX-License-Identifier: MIT
#include <cstdio>

#include <rewound/checks/supply.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/verdict/policy.hpp>

// Needs the header-only floors alone, the generated limit tables among them.
int main() {
  using namespace rewound;
  const auto mains = checks::supply({units::volts(110.0), units::hertz(60.0), units::volts(120.0), units::hertz(60.0)});
  const auto at_25 = machine::at_temperature(units::ohms(10.0), units::celsius(31.0), units::celsius(25.0),
                                             record::conductor_material::copper);
  std::printf("120 V on 110 V: %.1f %%, 10 ohm at 31 degC is %.3f ohm at 25 degC\n", mains.voltage_percent,
              units::in_ohms(at_25));
  const verdict::policy rules;
  return rules.practice.minimum_starts.value == 5.0 ? 0 : 1;
}
