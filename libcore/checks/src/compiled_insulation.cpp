// SPDX-License-Identifier: MIT
#include <rewound/checks/impl/absorption.hpp>
#include <rewound/checks/impl/dew_point.hpp>
#include <rewound/checks/impl/insulation.hpp>
#include <rewound/checks/impl/insulation_curve.hpp>
#include <rewound/checks/impl/trend.hpp>
