// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <vector>

#include <near.hpp>
#include <rewound/job/simulate.hpp>

#include "analysis/instruments.hpp"
#include "analysis/run_up_analysis.hpp"

namespace job = rewound::job;
namespace record = rewound::record;
using rewound::testing::near_relative;

namespace {

record::visit_record read_with_watts_and_rpm() {
  job::simulate_options options;
  options.seed = 11;
  options.watts = true;
  options.rpm = true;
  return job::simulate(job::simulated_machine_named("circulator-40"), options);
}

job::visit_facts facts_of(const record::visit_record& in) { return {in, job::instruments_of(in)}; }

std::vector<rewound::checks::summary_input> channels(const record::visit_record& in) {
  const auto visit = facts_of(in);
  return job::channels_of(visit, job::analyse_run_ups(visit, {}));
}

/// Whether this reading, and no other, is set aside.
bool only_set_aside(const record::visit_record& in, std::size_t speed, std::size_t place) {
  const auto found = job::analyse_run_ups(facts_of(in), {});
  const auto aside = [](const auto& each) { return each.set_aside; };
  if (std::count_if(found.suspects.readings.begin(), found.suspects.readings.end(), aside) != 1) return false;
  const auto& each = *std::find_if(found.suspects.readings.begin(), found.suspects.readings.end(), aside);
  return found.as_read[each.run].speed == in.machine.speeds[speed] && each.index == static_cast<int>(place);
}

/// The same channels with the same readings.
void check_same(const std::vector<rewound::checks::summary_input>& a,
                const std::vector<rewound::checks::summary_input>& b) {
  REQUIRE(a.size() == b.size());
  for (std::size_t i = 0; i < a.size(); ++i) {
    CAPTURE(a[i].speed);
    CAPTURE(static_cast<int>(a[i].what));
    REQUIRE(a[i].what == b[i].what);
    REQUIRE(a[i].readings.size() == b[i].readings.size());
    for (std::size_t k = 0; k < a[i].readings.size(); ++k) {
      CHECK(near_relative(a[i].readings[k].current, b[i].readings[k].current, 1e-15));
      CHECK(near_relative(a[i].readings[k].x, b[i].readings[k].x, 1e-15));
    }
  }
}

}  // namespace

TEST_CASE("a row whose voltage or current was misread is set aside in every channel, as if it had not been read") {
  const auto sound = read_with_watts_and_rpm();
  REQUIRE(channels(sound).size() == 3 * sound.machine.speeds.size());
  std::size_t of_voltage = 0, of_current = 0;
  for (std::size_t speed = 0; speed < sound.run_up.size(); ++speed)
    for (std::size_t place = 0; place < sound.run_up[speed].rows.size(); ++place)
      for (const double factor : {0.1, 0.6, 1.7, 10.0})
        for (const bool voltage : {true, false}) {
          auto slipped = sound;
          auto& row = slipped.run_up[speed].rows[place];
          (voltage ? row.voltage_V : row.current_A) *= factor;
          if (!only_set_aside(slipped, speed, place)) continue;
          CAPTURE(speed);
          CAPTURE(place);
          CAPTURE(voltage);
          auto without = sound;
          without.run_up[speed].rows.erase(without.run_up[speed].rows.begin() + static_cast<std::ptrdiff_t>(place));
          check_same(channels(slipped), channels(without));
          ++(voltage ? of_voltage : of_current);
        }
  CHECK(of_voltage > 20);
  CHECK(of_current > 20);
}
