// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <set>

#include <rewound/checks/suspect.hpp>

#include "simulate.hpp"

namespace rewound::study {

namespace {

constexpr double blunder = 0.10;

struct searched {
  std::set<int> aside;
  std::set<int> reported;
};

searched search(const readings& read, const bench_meters& meters) {
  const auto found = checks::suspect({{as_run_up(read)},
                                      as_instrument_V(meters.voltmeter),
                                      as_instrument_A(meters.ammeter),
                                      {std::nullopt},
                                      units::volts(rated_voltage)});
  searched out;
  for (const auto& each : found.readings) {
    out.reported.insert(each.index);
    if (each.set_aside) out.aside.insert(each.index);
  }
  return out;
}

readings clean(shape kind, std::size_t count, bench_meters& meters, generator& random) {
  meters = random_meters("bench", random);
  const auto machine = random_unit(random_design(kind, random), {}, random);
  return run_up(machine, std::uniform_int_distribution<std::size_t>(0, 2)(random), count, meters, 0.0, random);
}

void spoil(readings& read, std::size_t place, double sign) {
  read.current_A[place] = std::round(read.current_A[place] * (1.0 + sign * blunder) * 1000.0) / 1000.0;
}

double random_sign(generator& random) { return between(-1.0, 1.0, random) < 0.0 ? -1.0 : 1.0; }

struct alarms {
  tally reported;  ///< any reading said to be suspect
  tally aside;     ///< any reading set aside
};

alarms false_alarms(shape kind, std::size_t count, std::size_t trials, generator& random) {
  alarms out;
  for (std::size_t t = 0; t < trials; ++t) {
    bench_meters meters;
    const auto read = clean(kind, count, meters, random);
    const auto seen = search(read, meters);
    out.reported.add(!seen.reported.empty());
    out.aside.add(!seen.aside.empty());
    out.reported.close_group();
    out.aside.close_group();
  }
  return out;
}

struct detection {
  tally exact;     ///< set aside: the blunders and nothing else
  tally found;     ///< all blunders set aside, whatever else
  tally reported;  ///< at least one blunder is among the readings reported
  tally innocent;  ///< a good reading set aside
};

void note(detection& out, const searched& seen, const std::set<int>& bad) {
  const bool all = std::includes(seen.aside.begin(), seen.aside.end(), bad.begin(), bad.end());
  const bool wrong = std::any_of(seen.aside.begin(), seen.aside.end(), [&](int i) { return !bad.contains(i); });
  const bool told = std::any_of(bad.begin(), bad.end(), [&](int i) { return seen.reported.contains(i); });
  out.exact.add(all && !wrong);
  out.found.add(all);
  out.reported.add(told);
  out.innocent.add(wrong);
  for (auto* each : {&out.exact, &out.found, &out.reported, &out.innocent}) each->close_group();
}

/// One blunder of either sign at a place, or anywhere (place == count).
detection one_blunder(shape kind, std::size_t count, std::size_t place, std::size_t trials, generator& random) {
  detection out;
  for (std::size_t t = 0; t < trials; ++t) {
    bench_meters meters;
    auto read = clean(kind, count, meters, random);
    const std::size_t at = place < count ? place : std::uniform_int_distribution<std::size_t>(0, count - 1)(random);
    spoil(read, at, random_sign(random));
    note(out, search(read, meters), {static_cast<int>(at)});
  }
  return out;
}

detection two_blunders(shape kind, std::size_t count, std::size_t trials, generator& random) {
  detection out;
  for (std::size_t t = 0; t < trials; ++t) {
    bench_meters meters;
    auto read = clean(kind, count, meters, random);
    const auto a = std::uniform_int_distribution<std::size_t>(0, count - 1)(random);
    const auto b = (a + std::uniform_int_distribution<std::size_t>(1, count - 1)(random)) % count;
    spoil(read, a, random_sign(random));
    spoil(read, b, random_sign(random));
    note(out, search(read, meters), {static_cast<int>(a), static_cast<int>(b)});
  }
  return out;
}

void print_row(const char* what, const detection& seen) {
  std::printf("    %-22s %7.1f %7.1f %9.1f %9.1f   (%.1f)\n", what, seen.exact.percent(), seen.found.percent(),
              seen.reported.percent(), seen.innocent.percent(), seen.found.standard_error_percent());
}

}  // namespace

void print_bad_readings(const options& asked) {
  generator random(asked.seed);
  const auto trials = cases(asked, 1000);
  std::printf("Bad readings: one run-up, blunders of 10 %%, ammeter 0.8 %% + 3 digits; percent of %zu run-ups a row\n",
              trials);
  std::printf(
      "exact: the blunders set aside and nothing else; found: set aside; reported: said to be suspect;\n"
      "innocent: a good reading set aside; in brackets the standard error of 'found'\n");
  for (const auto kind :
       {shape::power, shape::saturating, shape::fan_quadratic, shape::fan_table, shape::fan_low_slip}) {
    std::printf("  %s\n", name_of(kind));
    for (const std::size_t count : {8u, 6u, 4u}) {
      const auto seen = false_alarms(kind, count, 3 * trials, random);
      std::printf("    false alarms on %zu clean readings: reported %.2f (%.2f), set aside %.2f (%.2f)\n", count,
                  seen.reported.percent(), seen.reported.standard_error_percent(), seen.aside.percent(),
                  seen.aside.standard_error_percent());
    }
    std::printf("    %-22s %7s %7s %9s %9s\n", "", "exact", "found", "reported", "innocent");
    for (std::size_t place = 0; place < 8; ++place) {
      char label[40];
      std::snprintf(label, sizeof label, "one of 8, place %zu", place + 1);
      print_row(label, one_blunder(kind, 8, place, trials / 2, random));
    }
    print_row("one of 8, anywhere", one_blunder(kind, 8, 8, trials, random));
    print_row("two of 8", two_blunders(kind, 8, trials, random));
    print_row("one of 4", one_blunder(kind, 4, 4, trials, random));
  }
}

}  // namespace rewound::study
