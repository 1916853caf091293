// SPDX-License-Identifier: MIT
#include <functional>
#include <string>

#include <rewound/record/key_table.hpp>
#include <rewound/record/record.hpp>

#include "document_from_python.hpp"
#include "document_to_python.hpp"
#include "registers.hpp"

namespace rewound::python {

namespace {

py::object calendar_day(const record::visit_record& record) {
  const auto& day = record.visit.day;
  return py::module_::import("datetime").attr("date")(day.year, day.month, day.day);
}

std::string record_repr(const record::visit_record& record) {
  return "<rewound.Record " + record.machine.id + ", " + record.visit.day.iso() + ", " +
         std::to_string(record.run_up.size()) + " run-up curves>";
}

record::visit_record record_of_text(const std::string& text) {
  return record::record_from(record::read_toml_text(text, ""));
}

py::object record_dict(const record::visit_record& record) {
  return document_to_python(record::read_toml_text(record::record_text(record), ""));
}

const char* name_of_kind(record::key_kind kind) {
  switch (kind) {
    case record::key_kind::text: return "text";
    case record::key_kind::texts: return "texts";
    case record::key_kind::number: return "number";
    case record::key_kind::whole_number: return "whole_number";
    case record::key_kind::flag: return "flag";
    case record::key_kind::date: return "date";
    case record::key_kind::word: return "word";
    case record::key_kind::numbers: return "numbers";
  }
  return "";
}

/// The list of keys, for the columns of frames.
py::list record_keys() {
  using namespace py::literals;
  py::list out;
  for (const auto& key : record::listed_keys())
    out.append(py::dict("section"_a = key.section, "name"_a = key.name, "kind"_a = name_of_kind(key.kind),
                        "unit"_a = key.unit, "needed"_a = key.needed, "of_row"_a = key.of_row,
                        "row_only"_a = key.row_only, "doc"_a = key.doc));
  return out;
}

py::list line_columns() {
  py::list out;
  for (const auto& each : record::line_columns())
    out.append(py::make_tuple(std::string(each.column), std::string(each.key), each.line));
  return out;
}

}  // namespace

void register_record(py::module_& module) {
  module.def("record_keys", &record_keys, "Keys of a record: section, name, kind, unit and what they are.");
  module.def("line_columns", &line_columns, "Columns of what is read on three lines: column, key, line.");
  py::class_<record::visit_record>(module, "Record", R"(All that was read on one machine in one visit.

Made by :func:`rewound.load_record`, :meth:`from_dict` or :func:`rewound.simulate`; it does not change afterwards. Two
records are equal when all that was read is equal.)")
      .def_static(
          "from_dict", [](const py::object& values) { return record::record_from(document_from(values)); },
          py::arg("values"), R"(Make a record of a dict with the keys of the record file.

Parameters
----------
values : dict
    Same keys, units and nesting as the TOML file (``format``, ``machine``, ``visit``, ``run_up`` ...).
    Values may be dict, list, tuple, str, bool, int, float, datetime.date, and NumPy arrays or scalars
    of these.

Returns
-------
Record

Raises
------
InputError
    A key is unknown or missing, or a value cannot be; ``field`` names it.)")
      .def_property_readonly(
          "machine", [](const record::visit_record& self) { return self.machine.id; }, "Name of the machine (str).")
      .def_property_readonly("date", &calendar_day, "Day of the visit (datetime.date).")
      .def_property_readonly(
          "speeds", [](const record::visit_record& self) { return self.machine.speeds; },
          "Names of the speeds, fastest first (list of str).")
      .def("to_text", &record::record_text, R"(The record as the text of its file.

Returns
-------
str
    TOML, format ``rewound-record/1``.)")
      .def("to_dict", &record_dict, R"(The record as a new dict with the keys of the record file.

Returns
-------
dict
    :meth:`from_dict` of it gives an equal record.)")
      .def(py::self == py::self)
      .def("__hash__",
           [](const record::visit_record& self) { return std::hash<std::string>()(record::record_text(self)); })
      .def(py::pickle([](const record::visit_record& self) { return py::str(record::record_text(self)); },
                      [](const py::str& text) { return record_of_text(text); }))
      .def("__repr__", &record_repr);
  module.def("blank_record", [] { return std::string(record::blank_record()); });
  module.def("load_record", &record::load_record, py::arg("path"), py::call_guard<py::gil_scoped_release>());
}

}  // namespace rewound::python
