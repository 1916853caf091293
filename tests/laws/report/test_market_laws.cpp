// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include <generated.hpp>
#include <judged.hpp>
#include <simulation_size.hpp>

using rewound::testing::between;
using rewound::testing::finding_saying;
using rewound::testing::good;
using rewound::testing::judged;
using rewound::testing::numbers;
using rewound::testing::one_of;
using rewound::testing::policy_of;
using rewound::testing::released;
using rewound::testing::says;
using rewound::testing::simulated;
using rewound::verdict::check;
using rewound::verdict::outcome;
using rewound::verdict::statement;

// One place decides by whose standards a machine is judged, and the mains it meets is no fault of the machine.
namespace {

enum class said_by { record, policy };

rewound::job::result judged_in(rewound::record::visit_record in, bool iec, said_by who) {
  using rewound::record::market;
  if (who == said_by::record) in.machine.market = iec ? market::iec : market::north_america;
  const auto policy = policy_of(who == said_by::record ? "" : iec ? "market = \"IEC\"\n" : "market = \"UL\"\n");
  return rewound::job::judge(in, {}, policy);
}

}  // namespace

TEST_CASE(
    "the market decides marked current, supply window, leakage and earth alike, said by the record or the policy") {
  numbers random(811);
  for (int i = 0; i < simulated(40); ++i) {
    auto in = good.record();
    in.visit.supply_voltage_V = in.machine.rated_voltage_V;
    in.visit.supply_frequency_Hz = in.machine.rated_frequency_Hz * between(random, 1.031, 1.049);
    in.cord = rewound::record::cord_section{.conductor_mm2 = 0.75, .length_m = 3.0, .conductors = 3};
    in.earth = rewound::record::earth_section{between(random, 0.2, 0.29), 3.0};
    for (const auto who : {said_by::record, said_by::policy}) {
      const auto iec = judged_in(in, true, who), ul = judged_in(in, false, who);
      CHECK(says(iec, statement::supply_frequency_of_run_up));
      CHECK_FALSE(says(ul, statement::supply_frequency_of_run_up));
      const auto ceiling = [](const auto& of) {
        return *finding_saying(of, statement::draw_against_nameplate).limit_high;
      };
      CHECK(ceiling(iec) > ceiling(ul));
      CHECK(finding_saying(iec, statement::earth_without_cord).bearing == rewound::verdict::bearing::informs);
      CHECK(finding_saying(ul, statement::earth_without_cord).bearing == rewound::verdict::bearing::decides);
      CHECK(ul.decision.decision != rewound::verdict::decision::release);
    }
    // The record knows its machine better than the shop's policy does.
    in.machine.market = rewound::record::market::iec;
    CHECK(says(rewound::job::judge(in, {}, policy_of("market = \"UL\"\n")), statement::supply_frequency_of_run_up));
  }
}

TEST_CASE("mains outside the window, by volts or by hertz or by both, is a condition and never fails") {
  numbers random(812);
  for (int i = 0; i < simulated(200); ++i) {
    auto in = good.record();
    CAPTURE(i);
    in.visit.supply_voltage_V =
        in.machine.rated_voltage_V * one_of(random, std::vector<double>{0.5, 0.95, 1.0, 1.02, 2.0});
    in.visit.supply_frequency_Hz =
        in.machine.rated_frequency_Hz * one_of(random, std::vector<double>{0.8, 0.94, 1.0, 1.04, 1.2, 2.0});
    const double percent = 100.0 * (*in.visit.supply_frequency_Hz / in.machine.rated_frequency_Hz - 1.0);
    const bool outside = percent < -5.0 || percent > 3.0;
    const auto unsaid = judged(in);
    CHECK(says(unsaid, statement::supply_frequency_of_run_up) == outside);
    CHECK(unsaid.decision.decision ==
          (outside ? rewound::verdict::decision::undecided : rewound::verdict::decision::release));
    in.visit.run_up_frequency_Hz = in.machine.rated_frequency_Hz;
    const auto result = judged(in);
    CHECK(says(result, statement::supply_frequency_outside) == outside);
    CHECK(released(in));
  }
}
