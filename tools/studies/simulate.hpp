// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>
#include <rewound/record/record.hpp>

// The project's own simulation of fans, meters and visits. It draws from what domain knowledge says of machines, not
// from the library's own curve families alone: the tabulated exponents are none of them.
namespace rewound::study {

using generator = std::mt19937_64;

inline constexpr double rated_voltage = 230.0;
inline constexpr std::size_t speed_count = 3;
inline const std::array<std::string, speed_count> speed_names{"high", "medium", "low"};

enum class shape {
  power,          ///< I = a x^n
  saturating,     ///< I = a x + b x^m, m between 4 and 7: bare shaft, iron saturating near the rated voltage
  fan_quadratic,  ///< ln I = A + n z + c z^2 with the exponent changing its sign within the run-up
  fan_table,      ///< exponents of a modelled fan-loaded machine, straight lines between them
  fan_low_slip    ///< the same with a low-slip rotor: the current rises while the voltage falls, then drops
};

const char* name_of(shape kind);

/// One speed's curve. ln I at z = ln x is `level` at z = 0.
struct curve {
  shape kind = shape::power;
  double level = 0.0;
  double first = 1.0;   ///< power: n; saturating: share b / (a + b); fan_quadratic: n
  double second = 0.0;  ///< saturating: m; fan_quadratic: c
  double log_current(double z) const;
};

/// A model of machine: what all of its units have in common.
struct design {
  std::array<curve, speed_count> speeds;
};

design random_design(shape kind, generator& random);

/// Standard deviations between units of one model.
struct spread {
  double level = 0.04;
  double exponent = 0.08;
  double shared = 0.7;  ///< correlation between speeds
};

/// One unit: its model's curves, moved by exp(level + exponent z).
struct unit {
  design model;
  std::array<double, speed_count> level{};
  std::array<double, speed_count> exponent{};
  double log_current(std::size_t speed, double z) const;
};

unit random_unit(const design& model, const spread& between, generator& random);

/// A meter of one bench: its gain error is drawn once, its digit errors at every reading.
struct meter {
  std::string name;
  double percent = 0.0;
  double digits = 0.0;
  double resolution = 0.0;
  double gain = 0.0;
  double read(double value, generator& random) const;
};

struct bench_meters {
  meter voltmeter;
  meter ammeter;
};

/// An ammeter of 0.8 % + 3 digits of 1 mA and a voltmeter of 0.5 % + 2 digits of 0.1 V.
bench_meters random_meters(const std::string& name, generator& random);

struct readings {
  std::vector<double> voltage_V;
  std::vector<double> current_A;
};

/// `count` readings between 45 % and 105 % of the rated voltage, about evenly spaced, `offset` moving the current.
readings run_up(const unit& machine, std::size_t speed, std::size_t count, const bench_meters& meters, double offset,
                generator& random);

/// A visit's record of all speeds, 6 to 8 readings each, with the currents of the speeds moved by `offsets`.
record::visit_record visit(const std::string& id, const unit& machine, const bench_meters& meters,
                           const std::array<double, speed_count>& offsets, generator& random);

measurement::instrument<units::voltage> as_instrument_V(const meter& in);
measurement::instrument<units::current> as_instrument_A(const meter& in);
measurement::run_up as_run_up(const readings& in);

double normal(double sd, generator& random);
double between(double low, double high, generator& random);

/// Counts hits in groups that share something (a reference, a machine): the groups tell the standard error.
class tally {
 public:
  void add(bool hit) { hits_ += hit ? 1.0 : 0.0, ++trials_; }
  void close_group();
  double percent() const;
  double standard_error_percent() const;
  std::size_t groups() const { return groups_.size(); }

 private:
  struct group {
    double hits;
    double trials;
  };
  double hits_ = 0.0;
  double trials_ = 0.0;
  std::vector<group> groups_;
};

/// What the command line asked for.
struct options {
  double scale = 1.0;  ///< multiplies the numbers of simulated cases
  std::uint64_t seed = 20260514;
};

/// `base` cases times the scale asked for, at least 5.
std::size_t cases(const options& asked, double base);

void print_coverage(const options& asked);
void print_judgement(const options& asked);
void print_bad_readings(const options& asked);
void print_learning(const options& asked);
void print_causes(const options& asked);
void print_judging(const options& asked);
void print_heat_runs(const options& asked);

}  // namespace rewound::study
