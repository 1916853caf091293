// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/job/simulate.hpp>
#include <rewound/record/document.hpp>

namespace job = rewound::job;
namespace record = rewound::record;
using rewound::base::error_code;
using rewound::testing::near_relative;

namespace {

job::simulate_options everything(std::uint64_t seed, const std::vector<std::string>& faults = {}) {
  job::simulate_options out;
  out.seed = seed;
  out.watts = out.rpm = out.coast_down = out.heat_run = out.polarization = true;
  for (const auto& fault : faults) out.faults.push_back(job::simulated_fault_from(fault));
  return out;
}

record::visit_record record_of(const std::string& model, const job::simulate_options& options) {
  return job::simulate(job::simulated_machine_named(model), options);
}

/// A machine with a fault and its healthy twin of the same seed.
struct twins {
  record::visit_record healthy;
  record::visit_record faulty;

  std::size_t at_rated(std::size_t speed) const {
    const auto& rows = healthy.run_up[speed].rows;
    const auto off = [&](const auto& row) { return std::abs(row.voltage_V / healthy.machine.rated_voltage_V - 1.0); };
    return static_cast<std::size_t>(
        std::min_element(rows.begin(), rows.end(), [&](const auto& a, const auto& b) { return off(a) < off(b); }) -
        rows.begin());
  }
  /// Faulty over healthy at the rated voltage, of one column of a speed.
  template <class Value>
  double ratio(std::size_t speed, Value record::run_up_row::*member) const {
    const auto i = at_rated(speed);
    return faulty.run_up[speed].column(member)[i] / healthy.run_up[speed].column(member)[i];
  }
  double amps(std::size_t speed) const { return ratio(speed, &record::run_up_row::current_A); }
  double watts(std::size_t speed) const { return ratio(speed, &record::run_up_row::power_W); }
  double rpm(std::size_t speed) const { return ratio(speed, &record::run_up_row::speed_rpm); }
  double ohms(std::size_t winding) const {
    return faulty.resistance[winding].resistance_ohm / healthy.resistance[winding].resistance_ohm;
  }
  double megohms(std::size_t i) const {
    return faulty.insulation.front().rows[i].resistance_Mohm / healthy.insulation.front().rows[i].resistance_Mohm;
  }
};

/// Holds a statement against five seeds of a model.
void always(const std::string& model, const std::string& fault, const std::function<void(const twins&)>& holds) {
  for (std::uint64_t seed = 1; seed <= 5; ++seed) {
    INFO(model, " ", fault, " seed ", seed);
    holds({record_of(model, everything(seed)), record_of(model, everything(seed, {fault}))});
  }
}

error_code refused(const std::function<void()>& call, std::string& message) {
  try {
    call();
  } catch (const rewound::base::error& trouble) {
    message = trouble.what();
    return trouble.code();
  }
  FAIL("no error");
  return error_code::precondition;
}

}  // namespace

TEST_CASE("a simulated record, written and read, is the same record, with every fault on every machine") {
  std::size_t cases = 0;
  for (const auto& model : job::simulated_models())
    for (auto fault : job::simulated_fault_names())
      for (const auto shaft : {record::shaft_condition::loaded, record::shaft_condition::bare}) {
        auto options = everything(11 + cases, {fault});
        options.shaft = shaft;
        const auto machine = job::simulated_machine_named(model);
        record::visit_record made;
        try {
          made = job::simulate(machine, options);
        } catch (const rewound::base::error& trouble) {
          CHECK(trouble.code() == error_code::usage);  // a fault that this machine cannot have
          continue;
        }
        const auto read =
            record::record_from(record::read_toml_text(job::simulated_record_text(machine, options), "simulated.toml"));
        CHECK_MESSAGE(read == made, model, " ", fault);
        ++cases;
      }
  CHECK(cases >= 4 * 2 * 16);
}

TEST_CASE("one seed gives one text, another seed another, and the first lines say that it is invented") {
  const auto machine = job::simulated_machine_named("circulator-40");
  const auto text = job::simulated_record_text(machine, everything(7, {"shorted_turns=0.05"}));
  CHECK(text == job::simulated_record_text(machine, everything(7, {"shorted_turns=0.05"})));
  CHECK(text != job::simulated_record_text(machine, everything(8, {"shorted_turns=0.05"})));
  CHECK(text.starts_with("# Invented by simulation"));
  CHECK(text.find("\n# machine circulator-40, fault shorted_turns=0.05, seed 7\n") != std::string::npos);
}

TEST_CASE("a second visit of one unit has other readings of the same machine; one bench has the same meters") {
  auto first = everything(1), second = everything(2), other = everything(2);
  first.unit = second.unit = 40;
  first.bench = second.bench = 3;
  const auto a = record_of("blower-60", first), b = record_of("blower-60", second), c = record_of("blower-60", other);
  CHECK(a.run_up != b.run_up);
  CHECK(a.instruments == b.instruments);
  CHECK(a.machine == b.machine);
  CHECK(b.instruments != c.instruments);
  const auto cold = [](const record::visit_record& in) {
    return in.resistance.front().resistance_ohm / (234.5 + in.resistance.front().winding_C);
  };
  CHECK(near_relative(cold(b), cold(a), 2e-3));  // four digits of 0.01 ohm on 18 ohm
  CHECK_FALSE(near_relative(cold(c), cold(a), 2e-3));
}

TEST_CASE("shorted turns draw more amps and more watts on every speed and lower the main winding's ohms") {
  for (const auto& model : job::simulated_models())
    always(model, "shorted_turns=0.1", [](const twins& t) {
      for (std::size_t s = 0; s < t.healthy.run_up.size(); ++s) {
        CHECK(t.amps(s) > 1.05);
        CHECK(t.watts(s) > 1.05);
      }
      CHECK(near_relative(t.ohms(0), 0.9, 0.003));
      CHECK(near_relative(t.ohms(1), 1.0, 1e-9));
      REQUIRE(t.faulty.heat_run);
      CHECK(t.faulty.heat_run->resistance_ohm.back() / *t.faulty.heat_run->cold_ohm >
            t.healthy.heat_run->resistance_ohm.back() / *t.healthy.heat_run->cold_ohm);
    });
}

TEST_CASE("fewer turns draw more, more turns less; without a choke the slowest speed turns faster or slower by it") {
  // A choke stays as it is: behind it more turns get more of the voltage.
  const auto claims_rpm = [](const twins& t) {
    return t.healthy.machine.speed_control != rewound::record::speed_control::series_reactor;
  };
  for (const auto& model : job::simulated_models()) {
    always(model, "too_few_turns=0.1", [&](const twins& t) {
      CHECK(t.amps(0) > 1.08);
      if (claims_rpm(t)) CHECK(t.rpm(t.healthy.run_up.size() - 1) > 1.0);
      CHECK(near_relative(t.ohms(0), 0.9, 0.003));
    });
    always(model, "too_many_turns=0.1", [&](const twins& t) {
      CHECK(t.amps(0) < 0.95);
      if (claims_rpm(t)) CHECK(t.rpm(t.healthy.run_up.size() - 1) < 1.0);
      CHECK(near_relative(t.ohms(0), 1.1, 0.003));
    });
  }
}

TEST_CASE("wire a gauge too thin is found by ohms, hardly by amps or rpm") {
  for (const auto& model : job::simulated_models()) {
    always(model, "wire_too_thin=0.26", [](const twins& t) {
      CHECK(near_relative(t.ohms(0), 1.26, 0.003));
      CHECK(near_relative(t.ohms(1), 1.26, 0.003));
      CHECK(near_relative(t.amps(0), 1.0, 0.07));
      CHECK(near_relative(t.rpm(0), 1.0, 0.01));
    });
    always(model, "wire_too_thick=0.26", [](const twins& t) { CHECK(near_relative(t.ohms(0), 1.0 / 1.26, 0.003)); });
  }
}

TEST_CASE("a shorted section of the speed control leaves the fastest speed and raises the slower ones") {
  for (const auto& model : job::simulated_models())
    always(model, "speed_section_shorted=0.9", [](const twins& t) {
      CHECK(t.amps(0) == 1.0);
      for (std::size_t s = 1; s < t.healthy.run_up.size(); ++s) CHECK(t.amps(s) > 1.01);
    });
}

TEST_CASE("an open section leaves the slower speeds without current, standing, and without a start") {
  for (const auto& model : job::simulated_models())
    always(model, "speed_section_open", [](const twins& t) {
      CHECK(t.faulty.run_up[0] == t.healthy.run_up[0]);
      for (std::size_t s = 1; s < t.faulty.run_up.size(); ++s) {
        CHECK(t.amps(s) == 0.0);
        for (const auto& row : t.faulty.run_up[s].rows) CHECK_FALSE(row.turns());
      }
      CHECK(t.faulty.starts.front().successes == 0);
      CHECK(t.healthy.starts.front().successes > 0);
    });
}

TEST_CASE("a start winding left in multiplies the amps and the watts") {
  always("wall-30", "start_winding_left_in", [](const twins& t) {
    CHECK(t.amps(0) > 1.5);
    CHECK(t.watts(0) > 1.5);
  });
}

TEST_CASE("a tight bearing slows every speed, the slowest most, takes more watts and coasts shorter") {
  for (const auto& model : job::simulated_models())
    always(model, "tight_bearing=0.3", [](const twins& t) {
      const auto slowest = t.healthy.run_up.size() - 1;
      CHECK(t.rpm(0) < 0.99);
      CHECK(t.rpm(slowest) < t.rpm(0));
      CHECK(t.amps(0) > 1.0);
      CHECK(t.watts(0) > 1.0);
      CHECK(t.faulty.coast_down->time_s.back() < t.healthy.coast_down->time_s.back());
      constexpr double none_found = 1e9;  // it starts at no voltage that was tried
      CHECK(t.faulty.starts.front().lowest_starting_V.value_or(none_found) >
            t.healthy.starts.front().lowest_starting_V.value());
    });
}

TEST_CASE("a rotor of higher resistance slows the machine; a weak capacitor takes starting torque and watts of pull") {
  for (const auto& model : job::simulated_models())
    always(model, "rotor_fault=0.3", [](const twins& t) {
      for (std::size_t s = 0; s < t.healthy.run_up.size(); ++s) CHECK(t.rpm(s) < 0.995);
      CHECK(t.ohms(0) == 1.0);
    });
  for (const char* model : {"circulator-40", "desk-25", "blower-60"})
    always(model, "weak_capacitor=0.5", [](const twins& t) {
      CHECK(t.rpm(0) < 0.995);
      CHECK(*t.faulty.starts.front().lowest_starting_V > 1.1 * *t.healthy.starts.front().lowest_starting_V);
      CHECK(t.ohms(1) == 1.0);
    });
}

TEST_CASE("on another frequency the amps are others, and no speed above the nameplate's synchronous one is written") {
  always("wall-30", "wrong_frequency", [](const twins& t) {  // 50 Hz on a machine for 60: more flux
    CHECK(t.amps(0) > 1.05);
    CHECK(t.rpm(0) < 0.95);
  });
  always("circulator-40", "wrong_frequency", [](const twins& t) {
    CHECK(std::abs(t.amps(0) - 1.0) > 0.01);
    CHECK_FALSE(t.faulty.visit.supply_frequency_Hz);
  });
  auto bare = everything(3, {"wrong_frequency"});
  bare.shaft = record::shaft_condition::bare;
  CHECK(record_of("circulator-40", bare).run_up.front().column(&record::run_up_row::speed_rpm).empty());
}

TEST_CASE("exchanged leads exchange what two speeds show") {
  for (const auto& model : job::simulated_models())
    always(model, "speed_leads_exchanged=1", [](const twins& t) {
      for (const auto& [from, to] : {std::pair<std::size_t, std::size_t>{0, 1}, {1, 0}})
        CHECK(near_relative(*t.faulty.run_up[from].rows[t.at_rated(from)].speed_rpm,
                            *t.healthy.run_up[to].rows[t.at_rated(to)].speed_rpm, 0.01));
    });
}

TEST_CASE("damp, dirt and age lower the megohms, each in its own way") {
  for (const auto& model : job::simulated_models()) {
    const auto flatness = [](const twins& t) {
      return t.megohms(2) / t.megohms(0);
    };  // one minute over a quarter of one
    always(model, "damp_insulation", [&](const twins& t) {
      CHECK(t.megohms(2) < 0.2);
      CHECK(flatness(t) < 0.8);
      CHECK(*t.faulty.visit.humidity_percent > *t.healthy.visit.humidity_percent);
    });
    always(model, "contaminated_insulation", [&](const twins& t) {
      CHECK(t.megohms(2) < 0.2);
      CHECK(flatness(t) < 0.7);
      CHECK(t.faulty.run_up == t.healthy.run_up);
    });
    always(model, "aged_insulation", [&](const twins& t) {
      CHECK(t.megohms(2) < 0.3);
      CHECK(flatness(t) > 0.95);
    });
  }
  always("desk-25", "damp_insulation=4", [](const twins& t) {
    for (std::size_t i = 0; i < t.faulty.leakage.size(); ++i)
      CHECK(t.faulty.leakage[i].current_mA > t.healthy.leakage[i].current_mA);
  });
}

TEST_CASE("a misread reading changes one current of all, a wrong range changes all of them alike") {
  for (const auto& model : job::simulated_models()) {
    always(model, "misread_reading=0.2", [](const twins& t) {
      int changed = 0;
      for (std::size_t s = 0; s < t.faulty.run_up.size(); ++s)
        for (std::size_t i = 0; i < t.faulty.run_up[s].rows.size(); ++i) {
          const double ratio = t.faulty.run_up[s].rows[i].current_A / t.healthy.run_up[s].rows[i].current_A;
          if (ratio == 1.0) continue;
          ++changed;
          CHECK(near_relative(ratio, 1.2, 0.01));
        }
      CHECK(changed == 1);
    });
    always(model, "meter_range=-1", [](const twins& t) {
      for (std::size_t s = 0; s < t.faulty.run_up.size(); ++s) CHECK(near_relative(t.amps(s), 0.1, 1e-6));
    });
  }
}

TEST_CASE("healthy units beside ten learnt ones are mostly released, and few are held") {
  const auto policy = job::default_policy();
  int released = 0, held = 0, judged = 0;
  for (const auto& model : job::simulated_models()) {
    std::vector<record::visit_record> good;
    const auto of_bench = [&](std::uint64_t seed) {
      job::simulate_options options;
      options.seed = seed;
      options.bench = 5;
      return record_of(model, options);
    };
    for (std::uint64_t seed = 100; seed < 110; ++seed) good.push_back(of_bench(seed));
    const auto learnt = job::learn(good, policy);
    for (std::uint64_t seed = 200; seed < 225; ++seed) {
      const auto result = job::judge(of_bench(seed), {{}, learnt}, policy);
      ++judged;
      released += result.decision.decision == rewound::verdict::decision::release;
      held += result.decision.decision == rewound::verdict::decision::hold;
    }
  }
  MESSAGE(released << " released, " << held << " held of " << judged);
  // The others are undecided: the spread of healthy_spread.table moves the fastest speed's current by 4 to 5.5 % (one
  // standard deviation), for which the default limit of 10 % on the level leaves little room.
  CHECK(released >= judged * 55 / 100);
  CHECK(held <= judged * 10 / 100);
}

TEST_CASE("what cannot be simulated is refused in one line that names what can") {
  std::string message;
  CHECK(refused([] { job::simulated_machine_named("nothing"); }, message) == error_code::usage);
  for (const auto& model : job::simulated_models()) CHECK(message.find(model) != std::string::npos);
  CHECK(refused([] { job::simulated_fault_from("nothing=1"); }, message) == error_code::usage);
  for (const auto& fault : job::simulated_fault_names()) CHECK(message.find(fault) != std::string::npos);
  for (const char* text : {"shorted_turns=", "shorted_turns=x", "shorted_turns=0.1 ", "shorted_turns=nan",
                           "shorted_turns=inf", "tight_bearing=1e999"})
    CHECK_MESSAGE(refused([&] { job::simulated_fault_from(text); }, message) == error_code::usage, text);
  for (const char* fault :
       {"shorted_turns=1", "shorted_turns=-0.1", "too_many_turns=1e9", "speed_leads_exchanged=3",
        "speed_leads_exchanged=1.5", "meter_range=4", "misread_reading=-1", "start_winding_left_in"}) {
    CHECK_MESSAGE(refused([&] { record_of("circulator-40", everything(1, {fault})); }, message) == error_code::usage,
                  fault);
    CHECK(message.find('\n') == std::string::npos);
  }
}
