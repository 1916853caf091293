// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <rewound/verdict/rules/touch_safety.hpp>

using namespace rewound::verdict;
using rules::earthing;
using rules::touch_facts;
using enum rewound::record::appliance_class;

namespace {

touch_facts facts(std::optional<rewound::record::appliance_class> appliance, std::optional<bool> earthed) {
  return {.appliance_class = appliance, .frame_earthed = earthed, .leakage = {}, .earth_ohm = {}};
}

outcome leaking(std::optional<rewound::record::appliance_class> appliance, double mA) {
  auto read = facts(appliance, {});
  read.leakage.push_back({"switch on", mA, 0.0});
  return rules::leakage(read, {}).front().outcome;
}

}  // namespace

TEST_CASE("the class decides about the earthing, and the frame where no class is stated") {
  CHECK(rules::earthing_of(facts(class_I, {})) == earthing::earthed);
  CHECK(rules::earthing_of(facts(class_I, false)) == earthing::contradiction);
  for (const auto appliance : {class_0, class_0I, class_II})
    CHECK(rules::earthing_of(facts(appliance, {})) == earthing::not_earthed);
  CHECK(rules::earthing_of(facts(class_III, {})) == earthing::low_voltage);
  CHECK(rules::earthing_of(facts({}, true)) == earthing::earthed);
  CHECK(rules::earthing_of(facts({}, false)) == earthing::not_earthed);
  CHECK(rules::earthing_of(facts({}, {})) == earthing::unknown);
}

TEST_CASE("a class I machine whose frame is not earthed fails whatever was measured") {
  auto unearthed = facts(class_I, false);
  unearthed.earth_ohm = 0.05;
  CHECK(rules::earth(unearthed, {}).front().outcome == outcome::fails);
}

TEST_CASE("leakage conforms under the stricter limit, fails above the more lenient, and is undecided between") {
  // Class I: 0.75 mA portable, 3.5 mA stationary motor-operated (IEC 60335-1 13.2); which it is, the record cannot say.
  CHECK(leaking(class_I, 0.7) == outcome::conforms);
  CHECK(leaking(class_I, 2.0) == outcome::undecided);
  CHECK(leaking(class_I, 4.0) == outcome::fails);
  CHECK(leaking(class_II, 0.3) == outcome::fails);
  CHECK(leaking({}, 0.3) == outcome::undecided);
}

TEST_CASE("earth continuity is judged wherever it was read, with its uncertainty") {
  auto read = facts(class_I, true);
  read.earth_ohm = 0.29;
  CHECK(rules::earth(read, {}).front().outcome == outcome::conforms);
  read.earth_standard_uncertainty_ohm = 0.02;
  CHECK(rules::earth(read, {}).front().outcome == outcome::undecided);
  read.earth_ohm = 0.5;
  CHECK(rules::earth(read, {}).front().outcome == outcome::fails);
}
