// SPDX-License-Identifier: MIT
#include <rewound/machine/impl/curve_shapes.hpp>
#include <rewound/machine/impl/design_parameters.hpp>
#include <rewound/machine/impl/fan_population.hpp>
#include <rewound/machine/impl/fault.hpp>
#include <rewound/machine/impl/parameter_tests.hpp>
#include <rewound/machine/impl/running_point.hpp>
