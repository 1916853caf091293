// SPDX-License-Identifier: MIT
#include <rewound/job/learn.hpp>

#include <sstream>

#include <toml++/toml.h>

#include <rewound/machine/curve_shapes.hpp>
#include <rewound/record/fields.hpp>
#include <rewound/record/words.hpp>

namespace rewound::job {

using base::error;
using base::error_code;

namespace {

/// Level, slope, curvature and the shape coefficients: see checks/summary.hpp.
constexpr std::size_t terms = 1 + machine::shape_function_count;

constexpr const char* reference_format = "rewound-reference/1";

const char* name_of(fit::channel what) {
  switch (what) {
    case fit::channel::current: return "current";
    case fit::channel::power: return "power";
    case fit::channel::rotation: return "rotation";
  }
  return "";
}

template <class Vector>
toml::array list_of(const Vector& values) {
  toml::array out;
  for (Eigen::Index i = 0; i < values.size(); ++i) out.push_back(static_cast<double>(values[i]));
  return out;
}

toml::array rows_of(const Eigen::MatrixXd& matrix) {
  toml::array out;
  for (Eigen::Index i = 0; i < matrix.rows(); ++i) out.push_back(list_of(Eigen::VectorXd(matrix.row(i).transpose())));
  return out;
}

toml::table block_table(const fit::summary_block& block) {
  return toml::table{{"speed", block.speed},
                     {"channel", name_of(block.what)},
                     {"readings", block.readings},
                     {"tested", block.tested},
                     {"precision", rows_of(block.information.precision)},
                     {"weighted", list_of(block.information.weighted)}};
}

toml::table coasting_table(const reference_coasting& coasting) {
  const auto& friction = coasting.friction.terms;
  return toml::table{{"fastest_rpm", coasting.fastest_rpm},
                     {"terms", toml::array{friction[0], friction[1], friction[2]}},
                     {"covariance", rows_of(coasting.friction.covariance)}};
}

toml::table machine_table(const reference_machine& machine) {
  toml::table meters;
  for (const auto& [kind, meter] : machine.meters)
    meters.insert(kind, toml::table{{"name", meter.name}, {"gain_uncertainty", meter.gain_uncertainty}});
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

Eigen::VectorXd vector_from(record::fields& in, const char* key, std::size_t size) {
  const auto values = in.numbers(key, record::range{-1e15, 1e15, "a finite number"});
  if (values.size() != size)
    throw error(error_code::unequal_lengths, in.place_of(key), std::to_string(values.size()) + " values",
                std::to_string(size));
  return Eigen::Map<const Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(size));
}

Eigen::MatrixXd matrix_from(record::fields& in, const char* key, std::size_t size) {
  const auto rows = in.number_lists(key, record::range{-1e15, 1e15, "a finite number"});
  const auto order = static_cast<Eigen::Index>(size);
  Eigen::MatrixXd out(order, order);
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = 0; j < size; ++j) {
      if (rows.size() != size || rows[i].size() != size)
        throw error(error_code::unequal_lengths, in.place_of(key), "another size",
                    std::to_string(size) + " rows of " + std::to_string(size) + " numbers");
      out(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = rows[i][j];
    }
  return out;
}

fit::summary_block block_from(record::fields& in) {
  fit::summary_block out;
  out.speed = in.text("speed");
  out.what = in.choice<fit::channel>(
      "channel",
      {{"current", fit::channel::current}, {"power", fit::channel::power}, {"rotation", fit::channel::rotation}});
  out.readings = in.whole("readings", 1, 1000000);
  out.tested = in.whole("tested", 0, 2);
  out.information = {matrix_from(in, "precision", terms), vector_from(in, "weighted", terms)};
  in.finish();
  return out;
}

reference_coasting coasting_from(record::fields& in) {
  reference_coasting out;
  out.fastest_rpm = in.number("fastest_rpm", record::above_zero);
  const auto friction = vector_from(in, "terms", 3);
  if (!(friction.minCoeff() >= 0.0 && friction.sum() > 0.0))
    throw error(error_code::out_of_range, in.place_of("terms"), "a term below 0, or all of them 0",
                "friction terms of 0 or above");
  for (std::size_t k = 0; k < 3; ++k) out.friction.terms[k] = friction[static_cast<Eigen::Index>(k)];
  out.friction.covariance = matrix_from(in, "covariance", 3);
  if (!(out.friction.covariance.diagonal().minCoeff() >= 0.0))
    throw error(error_code::out_of_range, in.place_of("covariance"), "a variance below 0", "variances of 0 or above");
  in.finish();
  return out;
}

reference_machine machine_from(record::fields& in) {
  reference_machine out;
  out.id = in.text("id");
  out.day = in.day("date");
  auto meters = in.table("meters");
  for (auto& [kind, meter] : meters.member_tables())
    out.meters[kind] = {meter.optional_any_text("name").value_or(""),
                        meter.number("gain_uncertainty", record::not_negative)};
  for (auto& block : in.tables("block")) out.blocks.push_back(block_from(block));
  if (auto coasting = in.optional_table("coast_down")) out.coast_down = coasting_from(*coasting);
  if (out.blocks.empty())
    throw error(error_code::empty_list, in.place_of("block"), "no [[machine.block]]", "at least one");
  in.finish();
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

reference reference_from(const record::node& document) {
  record::fields root(document, "");
  root.expect_format(reference_format);
  reference out;
  out.model = root.text("model");
  out.rated_voltage_V = root.number("rated_voltage_V", record::above_zero);
  out.rated_frequency_Hz = root.number("rated_frequency_Hz", record::above_zero);
  out.shaft = root.choice<record::shaft_condition>("shaft", record::words::shaft);
  const int count = root.whole("machines", 1, 1000000);
  for (auto& machine : root.tables("machine")) out.machines.push_back(machine_from(machine));
  for (auto& machine : root.tables("set_aside")) out.set_aside.push_back(machine_from(machine));
  if (static_cast<int>(out.machines.size()) != count)
    throw error(error_code::unequal_lengths, root.place_of("machines"), std::to_string(count),
                "the number of [[machine]], here " + std::to_string(out.machines.size()));
  root.skip("curve");
  root.skip("between_covariance");
  root.finish();
  return out;
}

reference load_reference(const std::string& path) { return reference_from(record::read_toml_file(path)); }

}  // namespace rewound::job
