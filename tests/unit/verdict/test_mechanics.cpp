// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <optional>
#include <string>

#include <rewound/verdict/rules/mechanics.hpp>

using namespace rewound::verdict;
namespace record = rewound::record;

// What hand, eye and ear found, at the limits.
namespace {

std::optional<finding> found(const record::visit_record& in, const std::string& quantity) {
  for (const auto& f : rules::mechanics(in, policy{}))
    if (f.quantity == quantity) return f;
  return std::nullopt;
}

}  // namespace

TEST_CASE("a protector opens at its winding's highest temperature at most; a class not stated is taken as 105") {
  const auto at = [](double celsius, std::optional<record::insulation_class> of) {
    record::visit_record in;
    in.machine.protector_C = celsius;
    in.machine.insulation_class = of;
    return *found(in, "protector_temperature");
  };
  CHECK(at(150.0, {}).outcome == outcome::conforms);
  CHECK(at(150.1, {}).outcome == outcome::undecided);
  CHECK(at(150.0, {}).numbers.front().value == 105.0);
  CHECK(at(175.0, record::insulation_class::class_130).outcome == outcome::conforms);
  CHECK(at(175.1, record::insulation_class::class_130).outcome == outcome::undecided);
  CHECK(at(175.0, record::insulation_class::class_130).numbers.front().value == 130.0);
}

TEST_CASE("a machine said to have no protector is not asked when it opens, and one that closes by itself is told") {
  record::visit_record in;
  in.machine.protector_C = 160.0;
  in.machine.thermal_protector = record::thermal_protector::none;
  CHECK_FALSE(found(in, "protector_temperature").has_value());
  in.machine.thermal_protector = record::thermal_protector::self_resetting;
  CHECK(found(in, "protector_temperature").has_value());
  CHECK(found(in, "protector")->says == statement::protector_resets);
}

TEST_CASE("play of the shaft conforms up to its limit and is looked into beyond") {
  const auto along = policy{}.practice.end_play_most_mm.value, across = policy{}.practice.side_play_most_mm.value;
  record::visit_record in;
  in.visit.end_play_mm = along;
  CHECK(found(in, "shaft_play")->outcome == outcome::conforms);
  in.visit.end_play_mm = along + 1e-6;
  CHECK(found(in, "shaft_play")->outcome == outcome::undecided);
  in.visit.end_play_mm.reset();
  in.visit.side_play_mm = across;
  CHECK(found(in, "shaft_play")->outcome == outcome::conforms);
  in.visit.side_play_mm = across + 1e-6;
  CHECK(found(in, "shaft_play")->outcome == outcome::undecided);
}

TEST_CASE("starts on faster speeds alone are told, where every start says on which") {
  record::visit_record in;
  in.machine.speeds = {"high", "low"};
  in.starts.emplace_back().speed = "high";
  CHECK(found(in, "speed_of_starts")->subject == "high");
  in.starts.emplace_back().speed = "low";
  CHECK_FALSE(found(in, "speed_of_starts").has_value());
  in.starts.back().speed.reset();
  CHECK_FALSE(found(in, "speed_of_starts").has_value());
  in.starts.pop_back();
  in.machine.speeds = {"high"};
  CHECK_FALSE(found(in, "speed_of_starts").has_value());
}

TEST_CASE("a push fails, a hum is usual and any other noise is looked into; turning the other way fails") {
  record::visit_record in;
  in.starts.emplace_back().needed_push = true;
  CHECK(found(in, "push")->outcome == outcome::fails);
  in.visit.noise = record::running_noise::hum;
  CHECK(found(in, "noise")->outcome == outcome::conforms);
  in.visit.noise = record::running_noise::quiet;
  CHECK(found(in, "noise")->outcome == outcome::conforms);
  in.visit.noise = record::running_noise::scraping;
  CHECK(found(in, "noise")->outcome == outcome::undecided);
  in.visit.rotation = record::rotation_direction::clockwise;
  in.machine.rated_rotation = record::rotation_direction::clockwise;
  CHECK(found(in, "direction_of_rotation")->outcome == outcome::conforms);
  in.machine.rated_rotation = record::rotation_direction::counterclockwise;
  CHECK(found(in, "direction_of_rotation")->outcome == outcome::fails);
}
