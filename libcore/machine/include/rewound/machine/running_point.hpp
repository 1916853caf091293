// SPDX-License-Identifier: MIT
#pragma once

// Steady running of an induction machine on a supply: double revolving fields, any loops of coils on the two axes.

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/machine/induction_machine.hpp>
#include <rewound/machine/operating_point.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::machine {

/// The point at a slip that is given, whatever the load: 1 at rest, 0 at synchronism, above 1 against the field.
///
/// @param with_start_winding  whether a start winding that is switched out when running is connected
/// @throws base::error  precondition, when a parameter cannot be
operating_point point_at_slip(const induction_machine& machine, const speed_step& step, const shaft_load& load,
                              units::voltage supply, units::frequency frequency, double slip,
                              bool with_start_winding = false);

/// What the machine reaches at this voltage from rest, and so also when the voltage is raised slowly from zero.
///
/// It starts when its torque at rest exceeds what standing parts resist with, and speeds up to the first slip at which
/// its torque falls to the load's. A start winding is switched out at three quarters of synchronous speed (common
/// practice, no source); a machine that does not get there runs with it. A machine that does not start gives what it
/// takes at rest.
///
/// @throws base::error  precondition, when a parameter cannot be
operating_point running_point(const induction_machine& machine, const speed_step& step, const shaft_load& load,
                              units::voltage supply, units::frequency frequency);

/// What a machine that already turns settles at: the stable point of least slip, on the main winding alone where the
/// start winding is switched out. Stalled, with what it takes at rest, when there is none.
///
/// @throws base::error  precondition, when a parameter cannot be
operating_point running_point_when_turning(const induction_machine& machine, const speed_step& step,
                                           const shaft_load& load, units::voltage supply, units::frequency frequency);

/// Torque at rest, the start winding connected.
units::torque starting_torque(const induction_machine& machine, const speed_step& step, units::voltage supply,
                              units::frequency frequency);

/// The voltage above which the machine starts; none when it does not below twice its rated voltage.
std::optional<units::voltage> lowest_starting_voltage(const induction_machine& machine, const speed_step& step,
                                                      const shaft_load& load, units::frequency frequency);

/// The frequency that a design is supplied with.
inline units::frequency supply_frequency(const fan_design& design) {
  return units::hertz(design.machine.rated_frequency_Hz * design.supply_frequency_ratio);
}

/// running_point() of one of a design's speeds, 0 the fastest, at its supply's frequency.
inline operating_point running_point(const fan_design& design, std::size_t speed, units::voltage supply) {
  base::expect(speed < design.steps.size(), "speed", static_cast<double>(speed), "a speed that the design has");
  return running_point(design.machine, design.steps[speed], design.load, supply, supply_frequency(design));
}

/// running_point_when_turning() of one of a design's speeds, 0 the fastest, at its supply's frequency.
inline operating_point running_point_when_turning(const fan_design& design, std::size_t speed, units::voltage supply) {
  base::expect(speed < design.steps.size(), "speed", static_cast<double>(speed), "a speed that the design has");
  return running_point_when_turning(design.machine, design.steps[speed], design.load, supply, supply_frequency(design));
}

/// running_point_when_turning() for a design much like one that settled at `near`: several times quicker, and the same
/// point save where a machine has two stable speeds.
operating_point running_point_near(const fan_design& design, std::size_t speed, units::voltage supply,
                                   const settled_point& near);

/// From this slip on a machine may have a second, slower stable speed, and runs at the faster: no point is sought next
/// to one that slips more (project's choice).
inline constexpr double followed_up_to_slip = 0.35;

/// The same at one voltage after another, of a machine that turns: ends with the first at which it stalls. Each point
/// is sought from that of the voltage before, the first from synchronism.
///
/// @param supplies  falling
/// @param near  where a design much like this one settles, one a voltage; nothing is sought where that one stalls.
///              Empty where none is known
/// @throws base::error (precondition) for another number of these
std::vector<operating_point> running_points(const fan_design& design, std::size_t speed,
                                            const std::vector<units::voltage>& supplies,
                                            const std::vector<settled_point>& near = {});

}  // namespace rewound::machine

#ifndef REWOUND_COMPILED
#include <rewound/machine/impl/running_point.hpp>
#endif
