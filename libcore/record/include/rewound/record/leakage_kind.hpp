// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

/// Which current a leakage reading is of.
enum class leakage_kind {
  appliance,            ///< to the frame or to what can be touched, judged by the class of protection (IEC 60335-1)
  touch,                ///< the after-repair test of touchable parts that are not earthed (VDE 0701-0702)
  protective_conductor  ///< the after-repair test of the earth conductor (VDE 0701-0702)
};

}  // namespace rewound::record
