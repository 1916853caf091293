// SPDX-License-Identifier: MIT
#include <array>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/expected_current.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/measurement/distribution.hpp>

#include "simulate.hpp"

namespace rewound::study {

namespace {

constexpr std::array<double, 3> places{0.80, 1.00, 1.05};
constexpr std::array<double, 2> levels{0.95, 0.99};

/// The predictive band of one new machine's reading at x: between machines, of the mean, of the meters.
checks::expected_current_result predict(const job::pooled_reference& reference, std::size_t block, double x,
                                        const bench_meters& now, bool same_meters) {
  checks::expected_current_input in{reference.population, reference.shapes[block], static_cast<Eigen::Index>(3 * block),
                                    x};
  const double amperes = std::exp(checks::expected_current(in).log_value);
  const auto ammeter = as_instrument_A(now.ammeter);
  const auto voltmeter = as_instrument_V(now.voltmeter);
  // Two meters of one kind: the new one's gain and the one that read the good machines.
  const double gains = same_meters ? 0.0 : std::sqrt(2.0);
  in.ammeter_uncertainty =
      std::hypot(ammeter.digit_uncertainty().value() / amperes, gains * ammeter.gain_uncertainty());
  in.voltmeter_uncertainty =
      std::hypot(voltmeter.digit_uncertainty().value() / (x * rated_voltage), gains * voltmeter.gain_uncertainty());
  return checks::expected_current(in);
}

struct covered {
  std::array<std::array<tally, levels.size()>, places.size()> inside;
  double half_width = 0.0;  ///< sum of relative half-widths at the rated voltage, 95 %
  double count = 0.0;
};

void try_machine(const job::pooled_reference& reference, const unit& machine, const bench_meters& now, bool same_meters,
                 covered& out, generator& random) {
  for (std::size_t block = 0; block < reference.blocks.size(); ++block)
    for (std::size_t p = 0; p < places.size(); ++p) {
      const double x = places[p];
      std::size_t speed = 0;
      while (speed_names[speed] != reference.blocks[block].speed) ++speed;
      // The voltmeter shows x to its own errors; the machine sees what is there.
      const double shown = now.voltmeter.read(x * rated_voltage, random) - x * rated_voltage;
      const double z = std::log(x - shown / rated_voltage);
      const double read = std::log(now.ammeter.read(std::exp(machine.log_current(speed, z)), random));
      const auto expected = predict(reference, block, x, now, same_meters);
      for (std::size_t l = 0; l < levels.size(); ++l) {
        const double factor = measurement::coverage_factor(levels[l], expected.degrees_of_freedom);
        out.inside[p][l].add(std::abs(read - expected.log_value) <= factor * expected.log_uncertainty);
        if (l == 0 && x == 1.0) out.half_width += std::expm1(factor * expected.log_uncertainty), ++out.count;
      }
    }
}

covered cover(shape kind, const spread& spread, std::size_t machines, bool same_meters, std::size_t references,
              std::size_t each, generator& random) {
  const auto policy = job::default_policy();
  covered out;
  for (std::size_t r = 0; r < references; ++r) {
    const auto model = random_design(kind, random);
    const auto meters = random_meters("shop", random);
    std::vector<record::visit_record> records;
    for (std::size_t i = 0; i < machines; ++i)
      records.push_back(visit("unit" + std::to_string(i), random_unit(model, spread, random), meters, {}, random));
    const auto pooled = job::pool_reference(job::learn(records, policy), job::between_machines(policy));
    for (std::size_t t = 0; t < each; ++t) {
      const auto now = same_meters ? meters : random_meters("other", random);
      try_machine(pooled, random_unit(model, spread, random), now, same_meters, out, random);
    }
    for (auto& place : out.inside)
      for (auto& level : place) level.close_group();
  }
  return out;
}

void print_row(shape kind, double spread_factor, std::size_t machines, bool same_meters, const covered& seen) {
  std::printf("  %-16s %6.1f %4zu  %-6s", name_of(kind), spread_factor, machines, same_meters ? "same" : "other");
  for (std::size_t l = 0; l < levels.size(); ++l)
    for (std::size_t p = 0; p < places.size(); ++p)
      std::printf(" %5.1f (%.1f)", seen.inside[p][l].percent(), seen.inside[p][l].standard_error_percent());
  std::printf("   +-%.1f %%\n", 100.0 * seen.half_width / seen.count);
  std::fflush(stdout);
}

}  // namespace

void print_coverage(const options& asked) {
  generator random(asked.seed + 3);
  std::printf("\nCoverage of the predictive band of one new machine's reading, percent (standard error)\n");
  std::printf(
      "spread: of the machines simulated, times 4 %% level and 0.08 exponent; last column: mean half-width, 95 %%\n");
  std::printf("  %-16s %6s %4s  %-6s %s\n", "curves", "spread", "K", "meter",
              "95 %: at 80 %   at 100 %   at 105 % | 99 %: at 80 %   at 100 %   at 105 % of rated");
  struct size {
    std::size_t machines;
    double references;
    std::size_t each;
  };
  for (const auto kind : {shape::power, shape::saturating, shape::fan_quadratic, shape::fan_table})
    for (const double factor : {1.0, 0.5, 1.5}) {
      if (factor != 1.0 && kind != shape::power) continue;
      for (const auto& [machines, references, each] :
           {size{1, 400, 4}, size{3, 200, 8}, size{10, 40, 40}, size{30, 12, 120}})
        for (const bool same : {true, false})
          print_row(
              kind, factor, machines, same,
              cover(kind, {0.04 * factor, 0.08 * factor, 0.7}, machines, same, cases(asked, references), each, random));
    }
}

}  // namespace rewound::study
