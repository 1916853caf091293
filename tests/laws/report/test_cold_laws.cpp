// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include <generated.hpp>
#include <judged.hpp>
#include <rewound/report/view.hpp>
#include <simulation_size.hpp>

using record = rewound::record::visit_record;
using rewound::job::result;
using rewound::testing::between;
using rewound::testing::factor;
using rewound::testing::findings_of;
using rewound::testing::good;
using rewound::testing::judged;
using rewound::testing::numbers;
using rewound::testing::one_of;
using rewound::testing::released;
using rewound::testing::says;
using rewound::testing::simulated;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;
using rewound::verdict::statement;

// Laws of the cold tests, each over many records made from the good one. The seed of every law is printed.
namespace {

record sound() { return good.record(); }

/// The good machine as one of class II: no earth, leakage read in all four ways.
record without_earth() {
  auto out = sound();
  out.machine.appliance_class = rewound::record::appliance_class::class_II;
  out.machine.frame_earthed = false;
  out.earth.reset();
  for (const bool reversed : {false, true})
    for (const bool on : {true, false}) {
      rewound::record::leakage_section test;
      test.condition = std::string("switch ") + (on ? "on" : "off") + (reversed ? ", reversed" : ", normal");
      test.current_mA = 0.03;
      test.reversed = reversed;
      test.switched_on = on;
      test.voltage_V = 243.8;
      out.leakage.push_back(test);
    }
  return out;
}

rewound::record::withstand_section withstand_of(double volts) {
  rewound::record::withstand_section out;
  out.circuit = "winding to frame";
  out.voltage_V = volts;
  out.duration_s = 60.0;
  out.leakage_mA = 0.9;
  return out;
}

int rank(outcome value) {
  switch (value) {
    case outcome::conforms: return 2;
    case outcome::fails: return 0;
    default: return 1;
  }
}

/// How good a check comes out: its worst finding that was judged.
int rank_of(const result& in, check which) {
  int out = 2;
  for (const auto& f : findings_of(in, which))
    if (f.bearing == rewound::verdict::bearing::decides) out = std::min(out, rank(f.outcome));
  return out;
}

}  // namespace

TEST_CASE("the machines that these laws start from are released") {
  CHECK(released(sound()));
  CHECK(released(without_earth()));
  auto tested = sound();
  tested.withstand.push_back(withstand_of(1500.0));
  CHECK(released(tested));
}

TEST_CASE("insulation counts only where the frame is one end") {
  constexpr unsigned seed = 101;
  numbers random(seed);
  MESSAGE("seed " << seed);
  const std::vector<std::string> parts{"main", "start winding", "U", "V", "lead 1", "high", "low", "line", "neutral"};
  const std::vector<std::string> frames{"frame", "Frame", "earth", "motor case", "ground", "core", "housing"};
  for (int i = 0; i < simulated(100); ++i) {
    auto in = sound();
    const auto& from = one_of(random, parts);
    in.insulation.front().circuit = from + " to " + one_of(random, parts);
    CHECK_FALSE(released(in));
    in.insulation.front().circuit = from + " to " + one_of(random, frames);
    CHECK(released(in));
  }
}

TEST_CASE("more megohms than a winding has, which open leads and ohms entered as megohms show, never conform") {
  constexpr unsigned seed = 102;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int i = 0; i < simulated(100); ++i) {
    auto in = sound();
    const double times = factor(random, 1.2e6, 4e8) / 310.0;
    for (auto& row : in.insulation.front().rows) row.resistance_Mohm *= times;
    const auto found = judged(in);
    CHECK(found.decision.decision != decision::release);
    CHECK(says(found, statement::insulation_impossible));
  }
}

TEST_CASE("a winding's temperature in another scale never makes its insulation conform") {
  constexpr unsigned seed = 103;
  numbers random(seed);
  MESSAGE("seed " << seed);
  int flattered = 0;
  for (int i = 0; i < simulated(200); ++i) {
    auto in = sound();
    const double true_C = between(random, 12.0, 30.0);
    in.visit.ambient_C = true_C + between(random, -2.0, 2.0);
    if (between(random, 0.0, 1.0) < 0.3) in.visit.ambient_C.reset();
    const double times = factor(random, 2.0, 60.0) / 310.0;
    for (auto& row : in.insulation.front().rows) row.resistance_Mohm *= times;
    in.insulation.front().winding_C = true_C;
    const int truly = rank_of(judged(in), check::insulation);
    in.insulation.front().winding_C = 32.0 + 1.8 * true_C;
    const int shown = rank_of(judged(in), check::insulation);
    if (shown == 2 && truly < 2 && in.visit.ambient_C) ++flattered;
    if (shown == 2 && truly == 0) ++flattered;
  }
  CHECK(flattered == 0);
}

TEST_CASE("less insulation never comes out better, in any class, at any temperature") {
  constexpr unsigned seed = 104;
  numbers random(seed);
  MESSAGE("seed " << seed);
  using enum rewound::record::appliance_class;
  for (int i = 0; i < simulated(150); ++i) {
    auto in = sound();
    in.machine.appliance_class =
        one_of<std::optional<rewound::record::appliance_class>>(random, {class_I, class_0, class_0I, std::nullopt});
    in.insulation.front().winding_C = between(random, 5.0, 80.0);
    auto& rows = in.insulation.front().rows;
    const double times = factor(random, 0.1, 1e4) / 310.0;
    for (auto& row : rows) row.resistance_Mohm *= times;
    const int better = rank_of(judged(in), check::insulation);
    std::vector<double> megohms;
    for (const auto& row : rows) megohms.push_back(row.resistance_Mohm * between(random, 0.1, 0.9));
    std::sort(megohms.begin(), megohms.end());
    for (std::size_t k = 0; k < rows.size(); ++k) rows[k].resistance_Mohm = megohms[k];
    const auto worse = judged(in);
    if (!says(worse, statement::insulation_curve_steep)) CHECK(rank_of(worse, check::insulation) <= better);
    if (megohms[2] < 0.8) CHECK(worse.decision.decision != decision::release);  // the floor as read, whatever the class
  }
}

TEST_CASE("insulation that fell by more than ten times to a low value since the earlier visit is not released") {
  constexpr unsigned seed = 105;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int i = 0; i < simulated(60); ++i) {
    auto now = sound(), before = sound();
    before.visit.day = {2026, 5, 2};
    const double today = factor(random, 15.0, 60.0), fell = factor(random, 16.0, 500.0);
    for (auto& row : now.insulation.front().rows) row.resistance_Mohm *= today / 310.0;
    for (auto& row : before.insulation.front().rows) row.resistance_Mohm *= today * fell / 310.0;
    const auto found = judged(now, before);
    CHECK(says(found, statement::insulation_fell));
    CHECK(found.decision.decision != decision::release);
  }
}

TEST_CASE("a current or a voltage that no sound winding sees in a withstand test never conforms") {
  constexpr unsigned seed = 106;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int i = 0; i < simulated(60); ++i) {
    auto in = sound();
    in.withstand.push_back(withstand_of(between(random, 1500.0, 1800.0)));
    in.withstand.front().leakage_mA = factor(random, 101.0, 5000.0);
    CHECK(judged(in).decision.decision == decision::hold);
    in.withstand.front().leakage_mA = between(random, 10.5, 99.0);
    CHECK_FALSE(released(in));
    in.withstand.front().leakage_mA.reset();
    in.withstand.front().voltage_V = 1500.0 * factor(random, 2.05, 50.0);
    CHECK_FALSE(released(in));
  }
}

TEST_CASE("a winding's withstand test is judged as a winding's, and of a rewound one as new") {
  constexpr unsigned seed = 107;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int i = 0; i < simulated(60); ++i) {
    auto in = sound();
    in.withstand.push_back(withstand_of(between(random, 1000.0, 1450.0)));
    in.withstand.front().state = rewound::record::winding_state::overhauled;
    CHECK_FALSE(released(in));
    in.withstand.front().state = rewound::record::winding_state::as_new;
    in.withstand.front().component = true;
    in.machine.rated_voltage_V = 230.0;
    in.withstand.front().circuit = one_of<std::string>(random, {"winding to frame", "main to frame", "Stator to case"});
    CHECK_FALSE(released(in));
  }
}

TEST_CASE("a rewound winding without a withstand test is released with a condition that says so") {
  const auto shown = rewound::report::view_of(judged(sound()));
  CHECK(std::any_of(shown.conditions.begin(), shown.conditions.end(),
                    [](const std::string& line) { return line.find("no withstand test") != std::string::npos; }));
  auto component = sound();
  component.withstand.push_back(withstand_of(1500.0));
  component.withstand.front().component = true;
  component.withstand.front().circuit = "thermostat to frame";
  CHECK(says(judged(component), statement::withstand_skipped));
}

TEST_CASE(
    "leakage that is needed counts with the switch on in both polarities, near the rated voltage, and not as nothing") {
  constexpr unsigned seed = 108;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int subset = 0; subset < 16; ++subset) {
    auto in = without_earth();
    in.leakage.clear();
    const auto all = without_earth().leakage;
    for (std::size_t i = 0; i < all.size(); ++i)
      if ((subset >> i & 1) != 0) in.leakage.push_back(all[i]);
    const bool both_on = (subset & 1) != 0 && (subset >> 2 & 1) != 0;
    CAPTURE(subset);
    CHECK(released(in) == both_on);
  }
  for (int i = 0; i < simulated(60); ++i) {
    auto in = without_earth();
    for (auto& test : in.leakage) test.voltage_V = between(random, 1.0, 200.0);
    CHECK_FALSE(released(in));
    in = without_earth();
    in.instruments["leakage_meter"] = {.reading_percent = 1.0, .digits = 1.0, .resolution = 1e-6};
    for (auto& test : in.leakage) test.current_mA = 0.0;
    CHECK_FALSE(released(in));
    in = without_earth();
    const double low = factor(random, 0.01, 1.0);
    in.leakage[0].current_mA = low;
    const int better = rank_of(judged(in), check::leakage);
    in.leakage[0].current_mA = low * factor(random, 1.0, 5.0);
    CHECK(rank_of(judged(in), check::leakage) <= better);
  }
}

TEST_CASE("where the market decides it decides leakage and withstand alike, by frequency or by the policy") {
  auto in = without_earth();
  for (auto& test : in.leakage) test.current_mA = 0.4;  // over class II's 0.25 mA of IEC, under the 0.5 of UL
  in.withstand.push_back(withstand_of(1200.0));         // under IEC's 1500 V, over the 1000 V of NEMA
  const auto by = [&](const char* market) {
    const auto policy = rewound::testing::policy_of(std::string("market = \"") + market + "\"\n");
    const auto found = rewound::job::judge(in, {}, policy);
    return std::pair{rank_of(found, check::leakage), rank_of(found, check::withstand)};
  };
  CHECK(by("IEC") == std::pair{0, 1});
  CHECK(by("UL") == std::pair{2, 2});
  CHECK(by("by_frequency") == by("IEC"));
}

TEST_CASE("an earth connection that is due and not measured, or whose cord is told twice otherwise, is not released") {
  constexpr unsigned seed = 109;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int i = 0; i < simulated(60); ++i) {
    auto in = sound();
    in.earth = rewound::record::earth_section{0.0, between(random, 10.0, 100.0)};
    in.cord =
        rewound::record::cord_section{.conductor_mm2 = 0.75, .length_m = between(random, 1.0, 3.0), .conductors = 3};
    in.earth->continuity_ohm = between(random, 0.02, 1.0);
    CHECK_FALSE(released(in));
    const int better = rank_of(judged(in), check::earth);
    in.earth->continuity_ohm *= factor(random, 1.0, 3.0);
    CHECK(rank_of(judged(in), check::earth) <= better);
  }
  auto open_class = without_earth();
  open_class.machine.appliance_class = rewound::record::appliance_class::class_0I;
  open_class.machine.frame_earthed.reset();
  CHECK_FALSE(released(open_class));
  open_class.earth = rewound::record::earth_section{0.05, {}};
  CHECK(released(open_class));
}

TEST_CASE("ohms that the supply cannot drive the running current through are never released; lone ones are noted") {
  constexpr unsigned seed = 110;
  numbers random(seed);
  MESSAGE("seed " << seed);
  const double impedance = 230.0 / 0.42;
  for (int i = 0; i < simulated(100); ++i) {
    auto in = sound();
    auto& main = in.resistance.front();
    main.expected_ohm.reset();
    if (between(random, 0.0, 1.0) < 0.3) main.expected_ohm = 18.2;
    main.resistance_ohm = impedance * factor(random, 1.1, 1000.0);
    CHECK_FALSE(released(in));
    main.expected_ohm = main.resistance_ohm;  // a slip made twice is one still
    CHECK_FALSE(released(in));
    main.resistance_ohm = impedance * factor(random, 1e-5, 9e-3);
    CHECK_FALSE(released(in));
    main.expected_ohm.reset();
    main.resistance_ohm = impedance * between(random, 0.02, 0.5);
    const auto noted = judged(in);
    CHECK(noted.decision.decision != decision::hold);
    for (const auto& f : findings_of(noted, check::resistance)) CHECK(f.outcome != outcome::conforms);
  }
}

TEST_CASE("the wire's own spread never holds a machine: ohms of sound windings beside their design value") {
  constexpr unsigned seed = 111;
  numbers random(seed);
  std::normal_distribution<double> spread(0.0, 0.025);  // wire of 4 % and mean turn of 3 %, rectangular
  int held = 0;
  const int runs = simulated(400);
  for (int i = 0; i < runs; ++i) {
    auto in = sound();
    in.resistance.front().resistance_ohm = 18.2 * 1.004 * (1.0 + spread(random));
    if (rank_of(judged(in), check::resistance) == 0) ++held;
  }
  MESSAGE("seed " << seed << ": held " << held << " of " << runs);
  CHECK(held <= runs / 100);
}

TEST_CASE("a cord goes by the marked current, not by the milliampere that is drawn over it") {
  constexpr unsigned seed = 112;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int i = 0; i < simulated(40); ++i) {
    auto in = sound();
    in.cord =
        rewound::record::cord_section{.conductor_mm2 = 0.5, .length_m = between(random, 0.5, 2.0), .conductors = 3};
    in.machine.rated_current_A = 3.0;
    in.machine.rated_power_W.reset();
    for (auto& run : in.run_up)
      for (auto& row : run.rows) row.current_A *= between(random, 0.999, 1.003) * 3.0 / 0.42;
    const auto found = judged(in);
    for (const auto& f : findings_of(found, check::checks))
      if (f.subject == "cord") CHECK(f.outcome == outcome::conforms);
  }
}

TEST_CASE(
    "a lowest starting voltage that is the voltage of the test holds no machine; one that nothing starts at, or a "
    "minute to speed, releases none") {
  constexpr unsigned seed = 113;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int i = 0; i < simulated(60); ++i) {
    auto in = sound();
    const double mains = in.visit.supply_voltage_V.value_or(230.0);
    in.starts.front().lowest_starting_V =
        one_of<double>(random, {230.0, mains, 0.5 * (230.0 + mains)}) + between(random, -1.0, 1.0);
    if (std::abs(*in.starts.front().lowest_starting_V - 235.0) > 3.0)
      CHECK(judged(in).decision.decision != decision::hold);
    in.starts.front().lowest_starting_V = factor(random, 0.1, 20.0);
    CHECK_FALSE(released(in));
    in.starts.front().lowest_starting_V.reset();
    in.starts.front().time_to_speed_s = between(random, 31.0, 600.0);
    CHECK_FALSE(released(in));
  }
}

TEST_CASE("entries that contradict each other are found, each named, and never released") {
  constexpr unsigned seed = 114;
  numbers random(seed);
  MESSAGE("seed " << seed);
  using alteration = void (*)(record&, numbers&);
  const std::vector<alteration> slips{
      [](record& in, numbers& r) { in.visit.day.year = static_cast<int>(between(r, 1850, 1979)); },
      [](record& in, numbers& r) { in.visit.day.year = static_cast<int>(between(r, 2101, 2400)); },
      [](record& in, numbers& r) { in.machine.wound_year = in.visit.day.year + static_cast<int>(between(r, 1, 70)); },
      [](record& in, numbers& r) { in.machine.rated_power_W = 230.0 * 0.42 * factor(r, 1.06, 100.0); },
      [](record& in, numbers& r) { in.visit.ambient_C = between(r, 46.0, 110.0); },
      [](record& in, numbers&) { in.instruments["ammeter"].reading_percent = in.instruments["ammeter"].digits = 0.0; }};
  for (int i = 0; i < simulated(20); ++i)
    for (const auto slip : slips) {
      auto in = sound();
      slip(in, random);
      const auto found = judged(in);
      CHECK(found.decision.decision != decision::release);
      CHECK(says(found, statement::entries_contradict));
    }
}

TEST_CASE("a fact that is left out never fails a machine, and a true one entered never does") {
  using forget = void (*)(record&);
  const std::vector<forget> facts{[](record& in) { in.machine.wound_year.reset(); },
                                  [](record& in) { in.machine.insulation_class.reset(); },
                                  [](record& in) { in.machine.insulation_system.reset(); },
                                  [](record& in) { in.machine.winding_kind.reset(); },
                                  [](record& in) { in.machine.rated_power_W.reset(); },
                                  [](record& in) { in.machine.poles.reset(); },
                                  [](record& in) { in.visit.ambient_C.reset(); },
                                  [](record& in) { in.visit.humidity_percent.reset(); },
                                  [](record& in) { in.visit.work.clear(); },
                                  [](record& in) { in.resistance.front().expected_ohm.reset(); }};
  for (unsigned chosen = 0; chosen < (1U << facts.size()); chosen += 7) {
    auto in = sound();
    for (std::size_t i = 0; i < facts.size(); ++i)
      if ((chosen >> i & 1U) != 0) facts[i](in);
    CAPTURE(chosen);
    CHECK(judged(in).decision.decision != decision::hold);
  }
}

TEST_CASE("ohms before a heat run are those of the sections at that temperature, or the rise is not believed") {
  constexpr unsigned seed = 117;
  numbers random(seed);
  MESSAGE("seed " << seed);
  for (int i = 0; i < simulated(60); ++i) {
    auto in = sound();
    in.machine.insulation_class = rewound::record::insulation_class::class_130;
    auto& run = in.heat_run.emplace();
    run.cold_C = between(random, 16.0, 28.0);
    run.ambient_C = run.cold_C;
    const auto& main = in.resistance.front();
    const double there = main.resistance_ohm * (234.5 + run.cold_C) / (234.5 + main.winding_C);
    const double off = i % 3 == 0 ? between(random, 0.985, 1.015) : factor(random, 1.08, 3.0);
    run.cold_ohm = there * (i % 3 == 2 ? 1.0 / off : off);
    for (int k = 0; k <= 12; ++k) {
      run.time_s.push_back(900.0 * k);
      run.resistance_ohm.push_back(*run.cold_ohm * (1.0 + 40.0 * (1.0 - std::exp(-0.5 * k)) / (234.5 + run.cold_C)));
    }
    const auto found = judged(in);
    CHECK(says(found, statement::entries_contradict) == (i % 3 != 0));
    CHECK((found.decision.decision == decision::release) == (i % 3 == 0));
  }
}

TEST_CASE("whatever the frame is called, in any case, a withstand test and a megohm test know it alike") {
  for (const auto* frame :
       {"frame", "Frame", "EARTH", "Casing", "iron", "Shaft", "stack", "metal base", "PE", "shell", "L/N-PE"}) {
    auto in = sound();
    in.insulation.front().circuit = std::string("main and start to ") + frame;
    CAPTURE(frame);
    CHECK_FALSE(says(judged(in), statement::insulation_without_frame));
    in.withstand = {withstand_of(1500.0)};
    in.withstand.front().circuit = std::string("main to ") + frame;
    const auto found = judged(in);
    CHECK_FALSE(says(found, statement::withstand_component_only));
    CHECK_FALSE(says(found, statement::withstand_not_tested));
  }
  auto in = sound();
  in.withstand = {withstand_of(1500.0)};
  in.withstand.front().circuit = "main to start winding";
  CHECK((says(judged(in), statement::withstand_component_only) || says(judged(in), statement::withstand_skipped)));
}

TEST_CASE("the polarization index informs on a random-wound winding, and decides on a form-wound one or where asked") {
  constexpr unsigned seed = 115;
  numbers random(seed);
  MESSAGE("seed " << seed);
  auto asking = rewound::testing::policy_of(
      "needed = [\"readings\", \"draw\", \"steps\", \"insulation\", \"polarization_index\", \"resistance\", "
      "\"starting\", "
      "\"leakage\", \"earth\"]\n");
  for (int i = 0; i < simulated(40); ++i) {
    auto in = sound();
    const double level = factor(random, 50.0, 2000.0);
    // Absorption over within the first half minute: 60 over 30 s near 1, index near 1.
    in.insulation.front().rows = {{15, 0.97 * level},
                                  {30, level},
                                  {60, level * between(random, 1.0, 1.02)},
                                  {600, level * between(random, 1.02, 1.1)}};
    CHECK(released(in));
    CHECK(rewound::job::judge(in, {}, asking).decision.decision != decision::release);
    in.machine.winding_kind = rewound::record::winding_kind::form_wound;
    CHECK_FALSE(released(in));
  }
}
