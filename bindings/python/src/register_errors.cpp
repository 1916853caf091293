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

py::object made_of(const base::error& trouble) {
  using namespace py::literals;
  const py::object kind = py::module_::import("rewound._errors").attr(class_of(trouble.code()));
  const auto& place = trouble.where();
  const py::object line = place.line > 0 ? py::object(py::int_(place.line)) : py::object(py::none());
  return kind(shown(trouble.what()), "code"_a = std::string(base::name(trouble.code())),
              "file"_a = file_name(place.file), "line"_a = line, "field"_a = shown(place.field),
              "read"_a = shown(trouble.read()), "allowed"_a = shown(trouble.allowed()));
}

void raise(const py::object& raised) { PyErr_SetObject(py::type::of(raised).ptr(), raised.ptr()); }

/// All of a record's errors: the first one's parts, everybody's lines.
void raise_all(const base::errors& found) {
  py::list all;
  std::string lines;
  for (const auto& each : found.all()) {
    all.append(made_of(each));
    lines += (lines.empty() ? "" : "\n") + std::string(each.what());
  }
  auto first = made_of(found);
  first.attr("args") = py::make_tuple(shown(lines));
  first.attr("_all") = py::tuple(all);
  raise(first);
}

}  // namespace

void register_errors(py::module_&) {
  py::register_local_exception_translator([](std::exception_ptr pending) {
    try {
      if (pending) std::rethrow_exception(pending);
    } catch (const base::errors& found) {
      raise_all(found);
    } catch (const base::error& trouble) {
      raise(made_of(trouble));
    }
  });
}

}  // namespace rewound::python
