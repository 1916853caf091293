// SPDX-License-Identifier: MIT
#include <concepts>
#include <type_traits>

#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/rotation.hpp>
#include <rewound/units/temperature.hpp>

// What units forbid is asked of the compiler here: each law stands beside the sum that must not compile.
namespace {

namespace units = rewound::units;

template <class A, class B>
concept addable = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept subtractable = requires(A a, B b) {
  a - b;
};
template <class A, class B>
concept comparable = requires(A a, B b) {
  a < b;
};

static_assert(addable<units::voltage, units::voltage>);
static_assert(!addable<units::voltage, units::current>);
static_assert(!addable<units::resistance, units::voltage>);
static_assert(!addable<units::voltage, double>);
static_assert(!comparable<units::voltage, units::current>);
static_assert(comparable<units::current, units::current>);

static_assert(std::same_as<decltype(units::voltage{} / units::current{}), units::resistance>);
static_assert(std::same_as<decltype(units::current{} * units::resistance{}), units::voltage>);
static_assert(std::same_as<decltype(units::voltage{} * units::current{}), units::power>);
static_assert(std::same_as<decltype(units::length{} * units::length{}), units::area>);
static_assert(!std::same_as<decltype(units::voltage{} * units::resistance{}), units::power>);

// That two temperatures cannot be added is tested by structure/temperature_sum.cpp, which must not compile: Boost's
// operator is an error in its body, which no requires-expression can ask about.
static_assert(subtractable<units::temperature, units::temperature>);
static_assert(std::same_as<decltype(units::temperature{} - units::temperature{}), units::temperature_difference>);
static_assert(std::same_as<decltype(units::temperature{} + units::temperature_difference{}), units::temperature>);
static_assert(!addable<units::temperature, double>);

static_assert(!std::convertible_to<units::frequency, units::angular_velocity>);
static_assert(!std::convertible_to<double, units::voltage>);
static_assert(!std::convertible_to<units::voltage, double>);

}  // namespace

TEST_CASE("Ohm's law holds in values as it does in types") {
  const units::resistance r = units::volts(230.0) / units::amperes(0.5);
  CHECK(rewound::testing::near_relative(units::in_ohms(r), 460.0, 1e-15));
  CHECK(rewound::testing::near_relative(units::in_watts(units::volts(230.0) * units::amperes(0.5)), 115.0, 1e-15));
}
