// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/rise.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/draw_row.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Current of a speed over that of the next slower one, beside the same ratio of the expectation.
struct step_ratio {
  std::string faster;
  std::string slower;
  measurement::uncertain<double> percent;        ///< this ratio over the expected one, less one
  std::optional<double> healthy_spread_percent;  ///< between good machines; absent beside an earlier visit
};

/// The draw of a whole machine beside what is known of it: one row a speed with currents and, against an earlier visit,
/// levels.
struct compared_draw {
  std::optional<measurement::uncertain<double>>
      log_current_by_winding;  ///< ln amperes of the fastest speed, from its ohms
  std::vector<std::optional<measurement::uncertain<double>>>
      log_slower_by_fastest;   ///< ln amperes of each row by the machine's own fastest speed; empty where not known
  std::vector<draw_row> rows;  ///< fastest first; without current where nothing usable was read
  std::vector<std::optional<measurement::uncertain<double>>> watts;  ///< of every row at the rated voltage
  bool heat_settles = false;  ///< a heat run to its end, with order, ohms and starts that hold, stands for the plate
  bool reading_in_doubt = false;              ///< a reading was set aside and is to be taken again
  std::optional<double> joint_p_value;        ///< of the joint comparison with the reference or the earlier visit
  std::optional<double> nameplate_p_value;    ///< of the joint comparison with designs scaled to the plate alone
  std::size_t good_machines = 0;              ///< behind a reference
  bool own_spread = false;                    ///< the shop has learnt or stated how its machines spread
  bool reference_shaft_differs = false;       ///< the reference was learnt with another shaft condition
  bool visit_in_reference = false;            ///< the reference was learnt from this very visit too, which was left out
  bool earlier_without_common_speed = false;  ///< the earlier visit read none of these speeds
  bool earlier_same_day = false;              ///< both visits bear one date
  bool earlier_shaft_differs = false;         ///< the earlier visit was made with another shaft condition
};

/// What was found, and the rows with their outcomes and flags.
struct draw_judgement {
  std::vector<finding> findings;
  std::vector<draw_row> rows;
};

/// The draw of every listed speed against the best expectation there is.
draw_judgement draw(const record::visit_record& in, compared_draw compared, const policy& rules);

/// How a speed's current grows from the rated voltage to today's mains, which lies above it, beside what machines of
/// the kind do.
///
/// @param row           with its currents at both
/// @param rise          absent where the speed was read at one voltage alone
/// @param heat_settles  a heat run there came out well inside its limit
finding draw_on_mains(const record::visit_record& in, const draw_row& row, double highest_read_V,
                      const std::optional<checks::rise_result>& rise, bool heat_settles, const policy& rules);

/// A step against the expected one: sections of the winding or the control that are not what they were.
finding step_size(const step_ratio& step, const policy& rules);

/// Measured input power of a speed at the rated voltage against the marked one.
finding power(const std::string& speed, double marked_W, const measurement::uncertain<double>& measured_W,
              const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/draw.hpp>
#endif
