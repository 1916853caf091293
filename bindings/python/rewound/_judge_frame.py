# SPDX-License-Identifier: MIT
"""Many machines at once, as a frame in and a frame out."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any, Callable, Dict, Iterable, Iterator, List, Mapping, Optional, Union

from . import _core
from . import _frame_columns as columns
from ._core import Reference
from ._errors import RewoundError, refuse
from ._frame_facts import Facts
from ._frames import Machine, machines_of
from ._judging import AnyPath, Result, _rules
from ._optional import pandas

if TYPE_CHECKING:
    import pandas as pd

_FIRST = (
    "machine", "decision", "reasons", "fails", "abnormality", "likeliest_cause", "cause_probability", "steps_flag",
    "suspect_readings",
)  # fmt: skip
_NUMBERS = ("abnormality", "cause_probability")
_LEVELS = ("level_percent", "level_low", "level_high")
_APART = " | "


def judge_frame(
    df: "pd.DataFrame",
    reference: Optional[Reference] = None,
    machines: Facts = None,
    *,
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
    speeds: Optional[Iterable[str]] = None,
    threads: int = 1,
) -> "pd.DataFrame":
    """Judge the machines of a long frame of readings, one row a reading in and one row a machine out.

    Nothing but the arguments counts, so that a partition gives the same rows as the whole, in any process: under Dask
    ``frame.map_partitions(rewound.judge_frame, reference)``. All rows of a machine have to be in one partition, as they
    are with the machine as the index.

    Parameters
    ----------
    df : pandas.DataFrame
        Readings. ``machine`` (as a column or as the index), ``speed``, ``voltage_V`` [V], ``current_A`` [A]; where
        read ``power_W`` [W], ``speed_rpm`` [rpm], ``turning``, ``winding_C`` [degC]; of three phases
        ``current_L1_A`` to ``current_L3_A``, ``voltage_L1_L2_V`` to ``voltage_L3_L1_V`` and ``leads``, as in the
        tables of a record. Any fact of the machine may stand beside them, the same on all of its rows. A cell that is
        empty (NaN, None, "") says nothing; a list has a value for every reading of a speed or for none.
    reference : Reference, optional
        What good machines of the model draw, as in :func:`judge`; it holds for all machines of the frame. It stands in
        for facts that have no column: model, ratings, condition of the shaft, order of the speeds.
    machines : pandas.DataFrame or dict, optional
        Facts of the machines under the record's keys of ``[machine]`` and ``[visit]`` (``rated_voltage_V``,
        ``rated_frequency_Hz``, ``date``, ``model``, ``speeds`` ...) and ``instruments.ammeter.reading_percent`` and
        the like: one row a machine under ``machine``, or a dict for all alike; machines that ``df`` has no readings of
        are passed over. ``rated_voltage_V`` and
        ``rated_frequency_Hz`` are needed, from here, ``df`` or the reference. ``speeds`` are texts with semicolons,
        ``"high;medium;low"``, fastest first; without them the speeds count in the order of the reference, else of a
        machine's rows. Where nothing is said ``phases`` is 1, ``state`` as_found, ``speed_control`` and
        ``running_circuit`` unknown; without a column ``date`` it is today.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`. A frame has run-ups only, and the default policy needs more than these for a release:
        ``{"format": "rewound-policy/1", "needed": ["draw", "steps"]}`` asks for nothing else.
    speeds : iterable of str, optional
        Speeds to tell the levels of. Where None those of the reference, without one those of ``df`` in the order of its
        rows; name them there where frames of several partitions are to have the same columns.
    threads : int
        Threads to share the machines among, 1 to 1024; the result does not depend on it.

    Returns
    -------
    pandas.DataFrame
        In the order of the machines' first rows, named as in the results of ``rewound batch``: ``machine``, which is
        the index too; ``decision``, ``reasons`` (sentences), ``fails`` (checks that fail), ``abnormality`` (-log10 p
        against healthy machines), ``likeliest_cause`` and its ``cause_probability``, ``steps_flag``,
        ``suspect_readings``; a speed's current off the expected one with its 95 % interval in ``level_percent.high``,
        ``level_low.high``, ``level_high.high`` [%] and so on; ``error``: why a machine could not be judged, and then
        everything else is empty.

    Raises
    ------
    InputError
        A column that is unknown (with the nearest known one), missing, or given in both frames; an impossible policy.
        A machine that cannot be read raises nothing: see ``error``.
    PreconditionError
        ``threads`` is out of range.
    TypeError
        ``df``, ``machines`` or ``reference`` is something else.
    MissingPackageError
        pandas is not installed.

    Examples
    --------
    >>> readings = rewound.frame_from_records(rewound.simulate("circulator-40", seed=n) for n in (1, 2))
    >>> rewound.judge_frame(readings, policy={"format": "rewound-policy/1", "needed": ["draw"]})["machine"].tolist()
    ['circulator-40-1', 'circulator-40-2']
    """
    pd = pandas()
    if not 1 <= threads <= 1024:
        raise refuse("threads", repr(threads), "a whole number from 1 to 1024")
    read = machines_of(df, machines, reference)
    nothing: Dict[str, Any] = dict.fromkeys([*_FIRST, "error"])
    if speeds is not None:
        named = list(speeds)
    else:
        named = _speeds_in(df) if reference is None else reference.speeds
    rules = _core.read_policy(_rules(policy))

    def row_of(machine: Machine) -> Dict[str, Any]:
        if machine.record is None:
            return {**nothing, "error": str(machine.trouble)}
        try:
            return {
                **nothing,
                **_row(Result(_core.judge(machine.record, reference, None, rules), machine.record, reference), named),
            }
        except RewoundError as trouble:
            return {**nothing, "error": str(trouble)}

    labels: List[Any] = []
    rows = list(_in_order(row_of, _noting(read, labels), threads))
    frame = pd.DataFrame(rows, columns=_columns(named), index=pd.Index(labels, dtype=object))
    frame[columns.MACHINE] = frame.index
    numbers = {name for name in frame.columns if name in _NUMBERS or name.startswith(_LEVELS)}
    return frame.astype({name: float if name in numbers else object for name in frame.columns})


def _in_order(
    work: Callable[[Machine], Dict[str, Any]], items: Iterable[Machine], threads: int
) -> Iterator[Dict[str, Any]]:
    """The results in the order of the items."""
    if threads == 1:
        yield from map(work, items)
        return
    with ThreadPoolExecutor(threads) as pool:
        yield from pool.map(work, items)


def _noting(machines: Iterable[Machine], labels: List[Any]) -> Iterator[Machine]:
    """The machines, their labels noted in passing."""
    for machine in machines:
        labels.append(machine.label)
        yield machine


def _speeds_in(df: "pd.DataFrame") -> List[str]:
    speeds = columns.from_index(df, ("speed",), "readings")["speed"].unique()
    return [columns.text(speed) for speed in speeds if not columns.absent(speed)]


def _columns(speeds: List[str]) -> List[str]:
    levels = [f"{name}.{speed}" for speed in speeds for name in _LEVELS]
    return [*_FIRST, *levels, "error"]


def _row(result: Result, speeds: List[str]) -> Dict[str, Any]:
    likeliest = result.causes[0] if result.causes else {"cause": None, "probability": None}
    row: Dict[str, Any] = {
        "decision": result.decision,
        "reasons": _APART.join(result.reasons),
        "fails": ", ".join(dict.fromkeys(f["check"] for f in result.findings if f["outcome"] == "fails")),
        "abnormality": result.abnormality,
        "likeliest_cause": likeliest["cause"],
        "cause_probability": likeliest["probability"],
        "steps_flag": result.steps["flag"],
        "suspect_readings": _APART.join(_suspect(reading) for reading in result.suspect_readings),
    }
    for draw in result.draw:
        if draw["speed"] in speeds:
            row.update({f"{name}.{draw['speed']}": draw[name] for name in _LEVELS})
    return row


def _suspect(reading: Mapping[str, Any]) -> str:
    words = reading["explanation"].replace("_", " ")
    return f"{reading['speed']} reading {reading['index'] + 1}, {reading['quantity']} {reading['read']:.6g}: {words}"
