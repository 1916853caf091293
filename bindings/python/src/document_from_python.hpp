// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/record/document.hpp>

#include "pybind.hpp"

namespace rewound::python {

/// A Python value as a document: dict, list, tuple, str, bool, int, float, datetime.date, and NumPy's arrays and
/// scalars of these kinds. It has no lines, only the path of each value.
///
/// @throws base::error (wrong_type, out_of_range) with the path of a value that has no place in a document
record::node document_from(const py::handle& value);

}  // namespace rewound::python
