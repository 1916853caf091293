# SPDX-License-Identifier: MIT
"""Judgement for repaired and rewound small electric machines.

A record of one visit is read with :func:`load_record` or :meth:`Record.from_dict` and judged with :func:`judge`;
:func:`fit_draw` fits current against voltage, also for many curves at once; :func:`expected_resistance` and
:func:`explain_resistance` go from a winding's wire to its ohms and back; :func:`simulate` makes records of invented machines and
:func:`whatif` says what other turns, wire or mains would change. All errors are :class:`RewoundError`.
"""

from ._core import Record, Reference, __version__
from ._draw import DrawFit, fit_draw
from ._errors import InputError, PreconditionError, RewoundError
from ._insulation import AbsorptionFit, Trend, fit_absorption, trend
from ._judging import Result, judge, learn, load_record, load_reference
from ._simulation import WhatIf, simulate, whatif
from ._winding import WindingExplanation, expected_resistance, explain_resistance

__all__ = [
    "AbsorptionFit",
    "DrawFit",
    "InputError",
    "PreconditionError",
    "Record",
    "Reference",
    "Result",
    "RewoundError",
    "Trend",
    "WhatIf",
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
    "simulate",
    "trend",
    "whatif",
]

# Users meet these under the package's own name, in error messages and in pickles.
for _public in (
    AbsorptionFit, DrawFit, InputError, PreconditionError, Record, Reference, Result, RewoundError, Trend,
    WhatIf, WindingExplanation, expected_resistance, explain_resistance, fit_absorption, fit_draw, judge, learn,
    load_record, load_reference, simulate, trend, whatif,
):
    _public.__module__ = __name__
del _public
