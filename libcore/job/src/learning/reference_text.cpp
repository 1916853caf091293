// SPDX-License-Identifier: MIT
#include <rewound/job/learn.hpp>

#include <cmath>
#include <sstream>

#include <toml++/toml.h>

#include <rewound/base/number_text.hpp>
#include <rewound/base/error.hpp>

#include "learning/reference_format.hpp"

namespace rewound::job {

namespace {

const char* name_of(fit::channel what) {
  switch (what) {
    case fit::channel::current: return "current";
    case fit::channel::power: return "power";
    case fit::channel::rotation: return "rotation";
  }
  return "";
}

/// Nothing is written that cannot be read again.
double finite(double value) {
  if (std::isfinite(value)) return value;
  throw base::error(base::error_code::out_of_range, {}, base::general_digits(value, 6) + " in what was learnt",
                    "readings from which finite curves follow");
}

template <class Vector>
toml::array list_of(const Vector& values) {
  toml::array out;
  for (Eigen::Index i = 0; i < values.size(); ++i) out.push_back(finite(static_cast<double>(values[i])));
  return out;
}

toml::array rows_of(const Eigen::MatrixXd& matrix) {
  toml::array out;
  for (Eigen::Index i = 0; i < matrix.rows(); ++i) out.push_back(list_of(Eigen::VectorXd(matrix.row(i).transpose())));
  return out;
}

toml::table block_table(const fit::summary_block& block) {
  toml::table out{{"speed", block.speed},
                  {"channel", name_of(block.what)},
                  {"readings", block.readings},
                  {"tested", block.tested},
                  {"precision", rows_of(block.information.precision)},
                  {"weighted", list_of(block.information.weighted)}};
  if (block.lowest_share) out.insert("lowest_share", finite(*block.lowest_share));
  return out;
}

toml::table coasting_table(const reference_coasting& coasting) {
  const auto& friction = coasting.friction.terms;
  return toml::table{{"fastest_rpm", finite(coasting.fastest_rpm)},
                     {"terms", toml::array{finite(friction[0]), finite(friction[1]), finite(friction[2])}},
                     {"covariance", rows_of(coasting.friction.covariance)}};
}

toml::table machine_table(const reference_machine& machine) {
  toml::table meters;
  for (const auto& [kind, meter] : machine.meters)
    meters.insert(kind, toml::table{{"name", meter.name}, {"gain_uncertainty", finite(meter.gain_uncertainty)}});
  toml::array blocks;
  for (const auto& block : machine.blocks) blocks.push_back(block_table(block));
  toml::table out{{"id", machine.id}, {"date", machine.day.iso()}, {"meters", meters}, {"block", blocks}};
  if (machine.coast_down) out.insert("coast_down", coasting_table(*machine.coast_down));
  return out;
}

/// The mean curves and their spread, for people: they are worked out again when the file is read.
toml::array curve_tables(const pooled_reference& pooled) {
  toml::array out;
  for (std::size_t i = 0; i < pooled.blocks.size(); ++i) {
    const auto at = static_cast<Eigen::Index>(3 * i);
    const Eigen::VectorXd spread = pooled.population.between.diagonal().segment(at, 3).cwiseSqrt();
    out.push_back(toml::table{{"speed", pooled.blocks[i].speed},
                              {"channel", name_of(pooled.blocks[i].what)},
                              {"mean", list_of(Eigen::VectorXd(pooled.population.mean.segment(at, 3)))},
                              {"shape", list_of(pooled.shapes[i].coefficients)},
                              {"spread", list_of(spread)}});
  }
  return out;
}

}  // namespace

std::string reference_text(const reference& in, const verdict::policy& policy) {
  toml::array machines;
  for (const auto& machine : in.machines) machines.push_back(machine_table(machine));
  toml::array aside;
  for (const auto& machine : in.set_aside) aside.push_back(machine_table(machine));
  const auto pooled = pool_reference(in, between_machines(policy));
  const toml::table out{{"format", reference_format},
                        {"model", in.model},
                        {"rated_voltage_V", in.rated_voltage_V},
                        {"rated_frequency_Hz", in.rated_frequency_Hz},
                        {"shaft", in.shaft == record::shaft_condition::bare ? "bare" : "loaded"},
                        {"machines", static_cast<std::int64_t>(in.machines.size())},
                        {"curve", curve_tables(pooled)},
                        {"between_covariance", rows_of(pooled.population.between)},
                        {"machine", machines},
                        {"set_aside", aside}};
  std::ostringstream text;
  text << "# What good machines of one model draw: ln value = mean . (1, z, z^2) + shape . functions(z), z = "
          "ln(voltage / rated);\n"
          "# the functions are those of reference/machines/curve_shape_basis.table, without z and z^2.\n"
          "# [[curve]] and between_covariance are for reading; they are worked out again from [[machine]].\n"
       << out << "\n";
  return text.str();
}

}  // namespace rewound::job
