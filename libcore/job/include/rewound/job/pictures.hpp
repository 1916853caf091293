// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/job/judge.hpp>

// What a report draws: readings, and the curves that the judgement made of them. Plain numbers, units in the names.
namespace rewound::job {

/// A curve in steps small enough to be drawn with straight lines. `low` and `high` bound it at 95 % and are empty where
/// the curve has no interval.
struct drawn_curve {
  std::vector<double> x;
  std::vector<double> y;
  std::vector<double> low;
  std::vector<double> high;

  bool empty() const { return x.empty(); }
};

/// A reading as it stands in the record.
struct drawn_reading {
  int index = 0;  ///< in its list, from 0
  double x = 0.0;
  double y = 0.0;
  bool suspect = false;
  bool at_rest = false;  ///< the rotor did not turn
};

/// Amperes over volts of one speed.
struct draw_picture {
  std::string speed;
  std::vector<drawn_reading> readings;
  drawn_curve fitted;  ///< through the readings that were not set aside, with its own interval
  drawn_curve
      expected;  ///< one more good machine's reading, or this machine's by its earlier visit; empty without either
};

/// Megohms over seconds of one circuit.
struct insulation_picture {
  std::string circuit;
  std::vector<drawn_reading> readings;
  std::vector<drawn_reading> earlier;  ///< of the earlier visit, as read then
  drawn_curve fitted;                  ///< leakage and absorption, up to ten minutes
};

/// Kelvins of rise over seconds.
struct heat_picture {
  std::vector<drawn_reading> readings;
  drawn_curve fitted;     ///< through the readings
  drawn_curve projected;  ///< from the last reading towards the final rise
};

/// Rpm over seconds.
struct coast_picture {
  std::vector<drawn_reading> readings;
  std::vector<drawn_reading> earlier;
  drawn_curve fitted;  ///< to standstill, where the terms say when
};

struct pictures {
  std::vector<draw_picture> draw;  ///< one a speed that was run, in the record's order of speeds
  std::vector<insulation_picture> insulation;
  std::optional<heat_picture> heat_run;
  std::optional<coast_picture> coast_down;
};

/// The pictures that go with judge() of the same arguments: the same readings are suspect, the same curves are drawn.
///
/// @throws base::error as judge() does
pictures pictures_of(const record::visit_record& now, const sources& compare_with, const verdict::policy& policy);

}  // namespace rewound::job
