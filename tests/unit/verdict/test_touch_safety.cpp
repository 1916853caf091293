// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <rewound/verdict/rules/touch_safety.hpp>

using namespace rewound::verdict;
namespace record = rewound::record;
using rules::earthing;
using enum rewound::record::appliance_class;

namespace {

using stated_class = std::optional<record::appliance_class>;

record::machine_section of_class(stated_class of, std::optional<bool> earthed) {
  record::machine_section out;
  out.appliance_class = of;
  out.frame_earthed = earthed;
  return out;
}

earthing earthed_as(stated_class of, std::optional<bool> earthed) { return rules::earthing_of(of_class(of, earthed)); }

outcome leaks(stated_class of, double mA) {
  record::visit_record read;
  read.machine = of_class(of, {});
  read.leakage.emplace_back();
  read.leakage.front().current_mA = mA;
  return rules::leakage(read, {{1.0}, {}, {0.0}}, {}, {}).front().outcome;
}

outcome earth_of(bool frame_earthed, double ohm, double u_ohm = 0.0) {
  record::visit_record read;
  read.machine = of_class(class_I, frame_earthed);
  read.earth.emplace().continuity_ohm = ohm;
  return rules::earth(read, {}, u_ohm, {}).front().outcome;
}

}  // namespace

TEST_CASE("the class decides about the earthing, and the frame where no class is stated") {
  CHECK(earthed_as(class_I, {}) == earthing::earthed);
  CHECK(earthed_as(class_I, false) == earthing::contradiction);
  for (const auto unearthed : {class_0, class_0I, class_II}) CHECK(earthed_as(unearthed, {}) == earthing::not_earthed);
  CHECK(earthed_as(class_III, {}) == earthing::low_voltage);
  CHECK(earthed_as({}, true) == earthing::earthed);
  CHECK(earthed_as({}, false) == earthing::not_earthed);
  CHECK(earthed_as({}, {}) == earthing::unknown);
}

TEST_CASE("a class I machine whose frame is not earthed fails whatever was measured") {
  CHECK(earth_of(false, 0.05) == outcome::fails);
}

TEST_CASE("leakage conforms under the stricter limit, fails above the more lenient, and is undecided between") {
  // Class I: 0.75 mA portable, 3.5 mA stationary motor-operated (IEC 60335-1 13.2); which it is, the record cannot say.
  CHECK(leaks(class_I, 0.7) == outcome::conforms);
  CHECK(leaks(class_I, 2.0) == outcome::undecided);
  CHECK(leaks(class_I, 4.0) == outcome::fails);
  CHECK(leaks(class_II, 0.3) == outcome::fails);
  CHECK(leaks({}, 0.3) == outcome::undecided);
}

TEST_CASE("earth continuity is judged wherever it was read, with its uncertainty") {
  CHECK(earth_of(true, 0.29) == outcome::conforms);
  CHECK(earth_of(true, 0.29, 0.02) == outcome::undecided);
  CHECK(earth_of(true, 0.5, 0.02) == outcome::fails);
}
