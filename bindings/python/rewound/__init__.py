# SPDX-License-Identifier: MIT
"""Judgement for repaired and rewound small electric machines.

A record of one visit is read with :func:`load_record` or :meth:`Record.from_dict` and judged with :func:`judge`;
:func:`fit_draw` fits current against voltage, also for many curves at once; :func:`expected_resistance` and
:func:`explain_resistance` go from a winding's wire to its ohms and back; :func:`running_points` says where a machine of
a :class:`FanDesign` runs. Running down and warming up are :func:`fit_coast_down` and :func:`project_heat_run`; starts,
no-load losses and unbalance are :func:`proven_starts`, :func:`separate_no_load` and :func:`unbalance_percent`.
:func:`simulate` makes records of invented machines, :func:`machine_parameters` finds the equivalent circuit of a real
one, and :func:`whatif` says what other turns, wire or mains would change. :func:`judge_frame` judges a whole frame of
readings; it needs pandas, and the ``plot`` methods need Matplotlib. All errors are :class:`RewoundError`.
"""

from ._about import blank_record, default_policy, sample_names, sample_record, show_versions
from ._bench import (
    NoLoadLosses,
    PositionDifference,
    ProvenStarts,
    RolledLeads,
    compare_positions,
    compare_rolled_leads,
    proven_starts,
    separate_no_load,
    unbalance_derating,
    unbalance_percent,
)
from ._coasting import CoastDown, fit_coast_down
from ._core import Record, Reference, Spread, __version__
from ._draw import DrawFit, fit_draw
from ._errors import InputError, MissingPackageError, PreconditionError, RewoundError
from ._files import MissingFileError
from ._frames import frame_from_records, records_from_frame
from ._heating import (
    HeatProjection,
    SwitchOff,
    project_heat_run,
    resistance_at_switch_off,
    rise_by_resistance,
)
from ._insulation import (
    AbsorptionFit,
    correct_insulation,
    fit_absorption,
    insulation_minimum,
    polarization_index,
)
from ._insulation_frame import judge_insulation
from ._judge_frame import judge_frame
from ._judging import judge, learn, learn_spread, load_record, load_reference, load_spread
from . import _methods  # noqa: F401  (gives the compiled classes their methods)
from ._machine import FanDesign, RunningPoints, SpeedStep, running_points
from ._result import Result
from ._simulation import WhatIf, machine_parameters, simulate, whatif
from ._trend import Trend, trend
from ._winding import WindingExplanation, expected_resistance, explain_resistance

__all__ = [
    "AbsorptionFit",
    "CoastDown",
    "DrawFit",
    "FanDesign",
    "HeatProjection",
    "InputError",
    "MissingFileError",
    "MissingPackageError",
    "NoLoadLosses",
    "PositionDifference",
    "PreconditionError",
    "ProvenStarts",
    "Record",
    "Reference",
    "Result",
    "RewoundError",
    "RolledLeads",
    "RunningPoints",
    "SpeedStep",
    "Spread",
    "SwitchOff",
    "Trend",
    "WhatIf",
    "WindingExplanation",
    "__version__",
    "blank_record",
    "compare_positions",
    "compare_rolled_leads",
    "correct_insulation",
    "default_policy",
    "expected_resistance",
    "explain_resistance",
    "fit_absorption",
    "fit_coast_down",
    "fit_draw",
    "frame_from_records",
    "insulation_minimum",
    "judge",
    "judge_frame",
    "judge_insulation",
    "learn",
    "learn_spread",
    "load_record",
    "load_reference",
    "load_spread",
    "machine_parameters",
    "polarization_index",
    "project_heat_run",
    "proven_starts",
    "records_from_frame",
    "resistance_at_switch_off",
    "rise_by_resistance",
    "running_points",
    "sample_names",
    "sample_record",
    "separate_no_load",
    "show_versions",
    "simulate",
    "trend",
    "unbalance_derating",
    "unbalance_percent",
    "whatif",
]

# Users meet these under the package's own name, in error messages and in pickles.
for _name in set(__all__) - {"__version__"}:
    globals()[_name].__module__ = __name__
del _name
