// SPDX-License-Identifier: MIT
#include <vector>

#include <rewound/job/pictures.hpp>

#include "judging_from_python.hpp"
#include "registers.hpp"

namespace rewound::python {

namespace {

template <class Value, class List, class Of>
py::array_t<Value> column_of(const List& rows, const Of& of) {
  py::array_t<Value> out(static_cast<py::ssize_t>(rows.size()));
  for (std::size_t i = 0; i < rows.size(); ++i) out.mutable_data()[i] = of(rows[i]);
  return out;
}

py::array_t<double> array_of(const std::vector<double>& values) {
  return column_of<double>(values, [](double value) { return value; });
}

/// x, y and both bounds; None where there is no curve.
py::object curve_of(const job::drawn_curve& curve) {
  if (curve.empty()) return py::none();
  return py::make_tuple(array_of(curve.x), array_of(curve.y), array_of(curve.low), array_of(curve.high));
}

py::dict picture_of(const job::draw_picture& picture) {
  const auto& readings = picture.readings;
  using reading = job::drawn_reading;
  py::dict out;
  out["speed"] = picture.speed;
  out["index"] = column_of<int>(readings, [](const reading& r) { return r.index; });
  out["voltage_V"] = column_of<double>(readings, [](const reading& r) { return r.x; });
  out["current_A"] = column_of<double>(readings, [](const reading& r) { return r.y; });
  out["suspect"] = column_of<bool>(readings, [](const reading& r) { return r.suspect; });
  out["at_rest"] = column_of<bool>(readings, [](const reading& r) { return r.at_rest; });
  out["fitted"] = curve_of(picture.fitted);
  out["expected"] = curve_of(picture.expected);
  return out;
}

py::list draw_pictures(const record::visit_record& record, const job::reference* good,
                       const record::visit_record* earlier, const py::object& policy) {
  const auto rules = policy_from_python(policy);
  const auto compare_with = sources_of(good, earlier);
  const auto drawn = [&] {
    const py::gil_scoped_release unlocked;
    return job::pictures_of(record, compare_with, rules).draw;
  }();
  py::list out;
  for (const auto& picture : drawn) out.append(picture_of(picture));
  return out;
}

}  // namespace

void register_pictures(py::module_& module) {
  module.def("draw_pictures", &draw_pictures, py::arg("record"), py::arg("reference").none(true),
             py::arg("earlier").none(true), py::arg("policy").none(true));
}

}  // namespace rewound::python
