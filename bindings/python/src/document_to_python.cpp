// SPDX-License-Identifier: MIT
#include "document_to_python.hpp"

#include <cstdint>
#include <string>
#include <variant>

namespace rewound::python {

namespace {

struct as_python {
  py::object operator()(std::monostate) const { return py::none(); }
  py::object operator()(bool value) const { return py::bool_(value); }
  py::object operator()(std::int64_t value) const { return py::int_(value); }
  py::object operator()(double value) const { return py::float_(value); }
  py::object operator()(const std::string& value) const { return py::str(value); }
  py::object operator()(const record::date& value) const {
    return py::module_::import("datetime").attr("date")(value.year, value.month, value.day);
  }
  py::object operator()(const record::node_list& values) const {
    py::list out;
    for (const auto& value : values) out.append(document_to_python(value));
    return out;
  }
  py::object operator()(const record::node_table& values) const {
    py::dict out;
    for (const auto& [key, value] : values) out[py::str(key)] = document_to_python(value);
    return out;
  }
};

}  // namespace

py::object document_to_python(const record::node& value) { return std::visit(as_python{}, value.value); }

}  // namespace rewound::python
