// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/record/document.hpp>

#include "pybind.hpp"

namespace rewound::python {

/// A document as Python's own values: dict, list, str, bool, int, float, datetime.date; document_from() of it gives the
/// same document.
py::object document_to_python(const record::node& value);

}  // namespace rewound::python
