// SPDX-License-Identifier: MIT
#pragma once

#include <memory>

#include "one_curve.hpp"

namespace rewound::study {

/// Null where the bench was built without the library.
std::unique_ptr<rival> make_gsl();
std::unique_ptr<rival> make_cminpack();
std::unique_ptr<rival> make_ceres();
std::unique_ptr<rival> make_eigen();

}  // namespace rewound::study
