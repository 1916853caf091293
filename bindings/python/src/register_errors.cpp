// SPDX-License-Identifier: MIT
#include <string>

#include <rewound/base/error.hpp>

#include "registers.hpp"

namespace rewound::python {

namespace {

using base::error_code;

/// The text of an error may hold broken bytes of a file, which must not hide the error itself.
py::object shown(const std::string& text) {
  if (text.empty()) return py::none();
  return py::reinterpret_steal<py::object>(
      PyUnicode_DecodeUTF8(text.data(), static_cast<Py_ssize_t>(text.size()), "replace"));
}

py::object file_name(const std::string& name) {
  if (name.empty()) return py::none();
  return py::reinterpret_steal<py::object>(
      PyUnicode_DecodeFSDefaultAndSize(name.data(), static_cast<Py_ssize_t>(name.size())));
}

const char* class_of(error_code code) {
  return code == error_code::precondition || code == error_code::usage ? "PreconditionError" : "InputError";
}

void raise(const base::error& trouble) {
  using namespace py::literals;
  const py::object kind = py::module_::import("rewound._errors").attr(class_of(trouble.code()));
  const auto& place = trouble.where();
  const py::object line = place.line > 0 ? py::object(py::int_(place.line)) : py::object(py::none());
  const py::object raised = kind(shown(trouble.what()), "code"_a = std::string(base::name(trouble.code())),
                                 "file"_a = file_name(place.file), "line"_a = line, "field"_a = shown(place.field),
                                 "read"_a = shown(trouble.read()), "allowed"_a = shown(trouble.allowed()));
  PyErr_SetObject(kind.ptr(), raised.ptr());
}

}  // namespace

void register_errors(py::module_&) {
  py::register_local_exception_translator([](std::exception_ptr pending) {
    try {
      if (pending) std::rethrow_exception(pending);
    } catch (const base::error& trouble) {
      raise(trouble);
    }
  });
}

}  // namespace rewound::python
