// SPDX-License-Identifier: MIT
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <rewound/base/expect.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/machine/running_point.hpp>
#include <rewound/units/rotation.hpp>
#include <string>
#include <utility>
#include <vector>

#include "registers.hpp"

namespace rewound::python {

namespace {

using array_of_doubles = py::array_t<double, py::array::c_style | py::array::forcecast>;
using array_of_places = py::array_t<std::int64_t, py::array::c_style | py::array::forcecast>;
using named_numbers = std::vector<std::pair<std::string, double>>;
using fault_list = std::vector<std::pair<std::string, double>>;

template <class Number>
struct named_field {
  const char* name;
  std::function<void(Number&, double)> set;
};

/// Sets the fields that are named; what is not named keeps its default. A name that is not known is refused.
template <class Target>
void set_fields(Target& target, const named_numbers& values, const std::vector<named_field<Target>>& fields) {
  for (const auto& [name, value] : values) {
    bool known = false;
    for (const auto& each : fields)
      if (name == each.name) each.set(target, value), known = true;
    base::expect(known, "field", name, "a field of the design");
  }
}

template <class Target, class Member>
named_field<Target> field(const char* name, Member Target::*member) {
  return {name, [member](Target& to, double value) { to.*member = static_cast<Member>(value); }};
}

machine::induction_machine machine_from(const named_numbers& values) {
  using m = machine::induction_machine;
  static const std::vector<named_field<m>> fields = {
      field("poles", &m::poles),
      field("rated_voltage_V", &m::rated_voltage_V),
      field("rated_frequency_Hz", &m::rated_frequency_Hz),
      field("main_resistance_ohm", &m::main_resistance_ohm),
      field("main_leakage_ohm", &m::main_leakage_ohm),
      field("rotor_resistance_ohm", &m::rotor_resistance_ohm),
      field("rotor_leakage_ohm", &m::rotor_leakage_ohm),
      field("magnetising_ohm", &m::magnetising_ohm),
      field("core_loss_W", &m::core_loss_W),
      {"saturation", [](m& to, double value) { to.saturation.share = value; }},
      {"knee_V", [](m& to, double value) { to.saturation.knee_V = value; }},
      {"sharpness", [](m& to, double value) { to.saturation.sharpness = value; }}};
  m out;
  set_fields(out, values, fields);
  return out;
}

machine::auxiliary_winding auxiliary_from(const named_numbers& values) {
  using a = machine::auxiliary_winding;
  static const std::vector<named_field<a>> fields = {
      field("turns_ratio", &a::turns_ratio),
      field("resistance_ohm", &a::resistance_ohm),
      field("leakage_ohm", &a::leakage_ohm),
      field("capacitance_F", &a::capacitance_F),
      {"switched_out", [](a& to, double value) { to.switched_out = value != 0.0; }}};
  a out;
  set_fields(out, values, fields);
  return out;
}

machine::speed_step step_from(const named_numbers& values) {
  using s = machine::speed_step;
  static const std::vector<named_field<s>> fields = {field("series_resistance_ohm", &s::series_resistance_ohm),
                                                     field("series_reactance_ohm", &s::series_reactance_ohm),
                                                     field("series_capacitance_F", &s::series_capacitance_F),
                                                     field("speed_turns", &s::speed_turns),
                                                     field("speed_resistance_ohm", &s::speed_resistance_ohm),
                                                     field("speed_leakage_ohm", &s::speed_leakage_ohm),
                                                     field("speed_leakage_in_common", &s::speed_leakage_in_common),
                                                     field("autotransformer_ratio", &s::autotransformer_ratio)};
  s out;
  set_fields(out, values, fields);
  return out;
}

machine::shaft_load load_from(const named_numbers& values) {
  using l = machine::shaft_load;
  static const std::vector<named_field<l>> fields = {
      field("friction_Nm", &l::friction_Nm), field("linear_Nm_s", &l::linear_Nm_s),
      field("constant_Nm", &l::constant_Nm), field("square_Nm_s2", &l::square_Nm_s2),
      field("breakaway_Nm", &l::breakaway_Nm)};
  l out;
  set_fields(out, values, fields);
  return out;
}

machine::winding_phases phases_of(const std::string& word) {
  if (word == "single") return machine::winding_phases::single;
  if (word == "three_star") return machine::winding_phases::three_star;
  base::expect(word == "three_delta", "phases", word, "single, three_star or three_delta");
  return machine::winding_phases::three_delta;
}

machine::fault fault_of(const std::string& word) {
  for (const auto each : machine::all_faults)
    if (machine::name(each) == word) return each;
  base::expect(false, "fault", word, "the name of a fault");
  return {};
}

machine::fan_design design_from(const named_numbers& motor, const std::optional<named_numbers>& auxiliary,
                                const std::string& phases, const std::vector<named_numbers>& speeds,
                                const named_numbers& load, const fault_list& faults) {
  machine::fan_design out;
  out.machine = machine_from(motor);
  out.machine.phases = phases_of(phases);
  if (auxiliary) out.machine.auxiliary = auxiliary_from(*auxiliary);
  out.steps.clear();
  for (const auto& each : speeds) out.steps.push_back(step_from(each));
  base::expect(!out.steps.empty(), "speeds", "none", "one or more");
  out.load = load_from(load);
  for (const auto& [word, severity] : faults) out = machine::apply_fault(out, fault_of(word), severity);
  return out;
}

constexpr std::size_t column_count = 18;
constexpr std::array<const char*, column_count> point_columns = {"slip",
                                                                 "speed_rpm",
                                                                 "current_A",
                                                                 "phase_rad",
                                                                 "power_W",
                                                                 "power_factor",
                                                                 "developed_torque_Nm",
                                                                 "shaft_torque_Nm",
                                                                 "output_W",
                                                                 "efficiency",
                                                                 "stator_copper_W",
                                                                 "control_W",
                                                                 "rotor_copper_W",
                                                                 "core_W",
                                                                 "friction_and_windage_W",
                                                                 "gap_voltage_V",
                                                                 "flux_ratio",
                                                                 "capacitor_V"};

std::array<double, column_count> row_of(const machine::operating_point& p) {
  const auto& lost = p.losses;
  return {p.slip,
          units::in_rpm(p.speed),
          units::in_amperes(p.line_current),
          p.line_phase_rad,
          units::in_watts(p.input),
          p.power_factor,
          units::in_newton_metres(p.developed_torque),
          units::in_newton_metres(p.shaft_torque),
          units::in_watts(p.output),
          p.efficiency,
          units::in_watts(lost.stator_copper),
          units::in_watts(lost.control),
          units::in_watts(lost.rotor_copper),
          units::in_watts(lost.core),
          units::in_watts(lost.friction_and_windage),
          units::in_volts(p.gap_voltage),
          p.flux_ratio,
          p.capacitor_voltage ? units::in_volts(*p.capacitor_voltage) : std::nan("")};
}

/// Which point of each voltage and speed is asked for.
struct point_query {
  const machine::fan_design& design;
  std::string way;  ///< from_rest, when_turning, at_slip
  double slip;

  machine::operating_point operator()(std::int64_t speed, double volts) const {
    base::expect(speed >= 0 && static_cast<std::size_t>(speed) < design.steps.size(), "speed",
                 static_cast<double>(speed), "a speed that the design has, from 0");
    const auto at = static_cast<std::size_t>(speed);
    if (way == "from_rest") return machine::running_point(design, at, units::volts(volts));
    if (way == "when_turning") return machine::running_point_when_turning(design, at, units::volts(volts));
    return machine::point_at_slip(design.machine, design.steps[at], design.load, units::volts(volts),
                                  machine::supply_frequency(design), slip);
  }
};

/// States as words, and an array of shape (points, point_columns).
py::tuple solved_points(const machine::fan_design& design, const array_of_doubles& voltage,
                        const array_of_places& speed, const std::string& way, double slip) {
  const auto volts = voltage.unchecked<1>();
  const auto speeds = speed.unchecked<1>();
  const py::ssize_t count = volts.shape(0);
  base::expect(speeds.shape(0) == count, "speed", static_cast<double>(speeds.shape(0)), "as many as voltages");
  py::array_t<double> rows({count, static_cast<py::ssize_t>(column_count)});
  auto out = rows.mutable_unchecked<2>();
  std::vector<std::string> states(static_cast<std::size_t>(count));
  const point_query query{design, way, slip};
  {
    const py::gil_scoped_release free;
    for (py::ssize_t i = 0; i < count; ++i) {
      const auto p = query(speeds(i), volts(i));
      states[static_cast<std::size_t>(i)] = machine::name(p.state);
      const auto row = row_of(p);
      for (std::size_t k = 0; k < column_count; ++k) out(i, static_cast<py::ssize_t>(k)) = row[k];
    }
  }
  return py::make_tuple(states, rows);
}

std::optional<double> lowest_starting_voltage(const machine::fan_design& design, std::int64_t speed) {
  base::expect(speed >= 0 && static_cast<std::size_t>(speed) < design.steps.size(), "speed", static_cast<double>(speed),
               "a speed that the design has, from 0");
  const auto found = machine::lowest_starting_voltage(design.machine, design.steps[static_cast<std::size_t>(speed)],
                                                      design.load, machine::supply_frequency(design));
  if (!found) return {};
  return units::in_volts(*found);
}

}  // namespace

void register_machine(py::module_& module) {
  py::class_<machine::fan_design>(module, "MachineDesign");
  module.def("machine_design", &design_from, py::arg("machine"), py::arg("auxiliary"), py::arg("phases"),
             py::arg("speeds"), py::arg("load"), py::arg("faults"));
  module.def("running_points", &solved_points);
  module.def("running_point_columns",
             [] { return std::vector<std::string>(point_columns.begin(), point_columns.end()); });
  module.def("lowest_starting_voltage", &lowest_starting_voltage);
  module.def("fault_names", [] {
    std::vector<std::string> out;
    for (const auto each : machine::all_faults) out.emplace_back(machine::name(each));
    return out;
  });
}

}  // namespace rewound::python
