// SPDX-License-Identifier: MIT
#pragma once

#include "pybind.hpp"

// Each area of the module registers itself; module.cpp only calls these.
namespace rewound::python {

/// Turns base::error into the classes of rewound/_errors.py.
void register_errors(py::module_& module);

/// Record and load_record.
void register_record(py::module_& module);

/// Reference, load_reference and learn, Judgement and judge.
void register_job(py::module_& module);

/// What a judgement's plot draws.
void register_pictures(py::module_& module);

/// AbsorptionCurves and fit_absorption, InsulationTrend and trend.
void register_insulation(py::module_& module);

/// simulate, WhatIfAnswer and whatif.
void register_simulation(py::module_& module);

/// FittedCurves and fit_draw.
void register_fit(py::module_& module);

/// CoastDownCurve and fit_coast_down, HeatRun and project_heat_run, switch_off, rise_by_resistance.
void register_running(py::module_& module);

/// Starts, losses at no load, unbalance of three phases.
void register_bench(py::module_& module);

/// Winding resistance from the wire and back.
void register_winding(py::module_& module);

/// MachineDesign, running_points and the names of faults.
void register_machine(py::module_& module);

}  // namespace rewound::python
