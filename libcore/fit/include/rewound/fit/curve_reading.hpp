// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::fit {

/// One reading for a curve of current against voltage. Only errors that are independent from reading to reading
/// belong here; a meter's gain error moves the whole curve and is added to its level afterwards.
struct curve_reading {
  double x;        ///< voltage over rated voltage, above 0
  double current;  ///< above 0, in any one unit
  double relative_u_x;
  double relative_u_current;
};

}  // namespace rewound::fit
