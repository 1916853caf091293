# SPDX-License-Identifier: MIT
"""Judgement for repaired and rewound small electric machines.

A record of one visit is read with :func:`load_record` or :meth:`Record.from_dict` and judged with :func:`judge`;
:func:`fit_draw` fits current against voltage, also for many curves at once; :func:`expected_resistance` and
:func:`explain_resistance` go from a winding's wire to its ohms and back; :func:`running_points` says where a machine of
a :class:`FanDesign` runs. All errors are :class:`RewoundError`.
"""

from ._core import Record, Reference, __version__
from ._draw import DrawFit, fit_draw
from ._errors import InputError, PreconditionError, RewoundError
from ._insulation import AbsorptionFit, Trend, fit_absorption, trend
from ._judging import Result, judge, learn, load_record, load_reference
from ._machine import FanDesign, RunningPoints, SpeedStep, running_points
from ._winding import WindingExplanation, expected_resistance, explain_resistance

__all__ = [
    "AbsorptionFit",
    "DrawFit",
    "FanDesign",
    "InputError",
    "PreconditionError",
    "Record",
    "Reference",
    "Result",
    "RewoundError",
    "RunningPoints",
    "SpeedStep",
    "Trend",
    "WindingExplanation",
    "__version__",
    "expected_resistance",
    "explain_resistance",
    "fit_absorption",
    "fit_draw",
    "judge",
    "learn",
    "load_record",
    "load_reference",
    "running_points",
    "trend",
]

# Users meet these under the package's own name, in error messages and in pickles.
for _public in (
    AbsorptionFit, DrawFit, FanDesign, InputError, PreconditionError, Record, Reference, Result, RewoundError,
    RunningPoints, SpeedStep, Trend, WindingExplanation, expected_resistance, explain_resistance, fit_absorption,
    fit_draw, judge, learn, load_record, load_reference, running_points, trend,
):
    _public.__module__ = __name__
del _public
