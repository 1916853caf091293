// SPDX-License-Identifier: MIT
#pragma once

// The one place that includes pybind11: type casters must be the same in every file of the module.

#include <pybind11/numpy.h>
#include <pybind11/operators.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

namespace rewound::python {

namespace py = pybind11;

}  // namespace rewound::python
