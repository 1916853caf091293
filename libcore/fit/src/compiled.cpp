// SPDX-License-Identifier: MIT
#include <rewound/fit/impl/current_curve.hpp>
#include <rewound/fit/impl/curve_choice.hpp>
#include <rewound/fit/impl/curve_family.hpp>
#include <rewound/fit/impl/dense.hpp>
#include <rewound/fit/impl/fit_curve.hpp>
#include <rewound/fit/impl/mean_shape.hpp>
#include <rewound/fit/impl/pooling.hpp>
#include <rewound/fit/impl/profile_intervals.hpp>
