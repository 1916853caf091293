// SPDX-License-Identifier: MIT
#include "document_from_python.hpp"

#include <string>

#include <rewound/base/error.hpp>

namespace rewound::python {

namespace {

using base::error;
using base::error_code;

// Records nest four deep; the limit only stops a dict that contains itself.
constexpr int deepest = 32;

constexpr const char* allowed_kinds =
    "a dict, list, tuple, str, bool, int, float, datetime.date, or a NumPy array or scalar of these";

std::string type_name(const py::handle& value) {
  return "a value of type " + py::type::handle_of(value).attr("__name__").cast<std::string>();
}

bool is_of(const py::handle& value, const char* module, const char* name) {
  return py::isinstance(value, py::module_::import(module).attr(name));
}

std::string text_from(const py::handle& value, const std::string& path) {
  Py_ssize_t size = 0;
  const char* text = PyUnicode_AsUTF8AndSize(value.ptr(), &size);
  if (text != nullptr) return {text, static_cast<std::size_t>(size)};
  PyErr_Clear();
  throw error(error_code::wrong_type, {"", 0, path}, "a text with lone surrogates", "a text of valid Unicode");
}

std::int64_t whole_from(const py::handle& value, const std::string& path) {
  int overflow = 0;
  const auto whole = PyLong_AsLongLongAndOverflow(value.ptr(), &overflow);
  if (overflow == 0) return whole;
  throw error(error_code::out_of_range, {"", 0, path}, "a whole number of more than 64 bits",
              "a whole number within 64 bits");
}

record::node convert(const py::handle& value, const std::string& path, int depth);

record::node_table table_from(const py::handle& value, const std::string& path, int depth) {
  record::node_table out;
  for (const auto& [key, item] : py::reinterpret_borrow<py::dict>(value)) {
    if (!PyUnicode_Check(key.ptr()))
      throw error(error_code::wrong_type, {"", 0, path}, "a key that is " + type_name(key), "keys of type str");
    auto name = text_from(key, path);
    auto field = path.empty() ? name : path + "." + name;
    out.emplace_back(std::move(name), convert(item, field, depth + 1));
  }
  return out;
}

record::node_list list_from(const py::handle& value, const std::string& path, int depth) {
  record::node_list out;
  for (const auto& item : py::reinterpret_borrow<py::sequence>(value)) {
    auto field = path + "[" + std::to_string(out.size()) + "]";
    out.push_back(convert(item, field, depth + 1));
  }
  return out;
}

/// Python's own value for one of NumPy's; a wide float has none and is rounded to double.
py::object plain_from(const py::handle& value) {
  if (py::isinstance<py::array>(value)) return value.attr("tolist")();
  if (is_of(value, "numpy", "floating")) return py::float_(py::reinterpret_borrow<py::object>(value));
  return value.attr("item")();
}

record::date date_from(const py::handle& value) {
  return {value.attr("year").cast<int>(), value.attr("month").cast<int>(), value.attr("day").cast<int>()};
}

record::node convert(const py::handle& value, const std::string& path, int depth) {
  if (depth > deepest)
    throw error(error_code::out_of_range, {"", 0, ""}, "values nested more than 32 deep", "a document of finite depth");
  if (PyBool_Check(value.ptr())) return {value.cast<bool>()};
  if (PyLong_Check(value.ptr())) return {whole_from(value, path)};
  if (PyFloat_Check(value.ptr())) return {PyFloat_AS_DOUBLE(value.ptr())};
  if (PyUnicode_Check(value.ptr())) return {text_from(value, path)};
  if (PyDict_Check(value.ptr())) return {table_from(value, path, depth)};
  if (PyList_Check(value.ptr()) || PyTuple_Check(value.ptr())) return {list_from(value, path, depth)};
  if (py::isinstance<py::array>(value) || is_of(value, "numpy", "generic")) {
    const py::object plain = plain_from(value);
    const bool same_kind = py::type::handle_of(plain).is(py::type::handle_of(value));
    if (!same_kind) return convert(plain, path, depth + 1);
  }
  if (is_of(value, "datetime", "date") && !is_of(value, "datetime", "datetime")) return {date_from(value)};
  throw error(error_code::wrong_type, {"", 0, path}, value.is_none() ? "None" : type_name(value),
              value.is_none() ? "a value; leave the key out where there is none" : allowed_kinds);
}

}  // namespace

record::node document_from(const py::handle& value) { return convert(value, "", 0); }

}  // namespace rewound::python
