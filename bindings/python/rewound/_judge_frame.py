# SPDX-License-Identifier: MIT
"""Many machines at once, as a frame in and a frame out."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any, Callable, Dict, Iterable, Iterator, List, Mapping, Optional, Union

from . import _core
from . import _frame_columns as columns
from ._core import Record, Reference
from ._errors import RewoundError, expect_kind, refuse
from ._files import AnyPath
from ._frame_facts import Facts
from ._frame_sections import Sections
from ._frames import Machine, machines_of
from ._judging import _rules
from ._optional import pandas
from ._partitions import in_partitions, judge_partitions
from ._result import Result
from ._words import Extra, still_called

if TYPE_CHECKING:
    import pandas as pd

_FIRST = (
    "machine", "decision", "reasons", "next", "fails", "abnormality", "likeliest_cause", "cause_probability",
    "steps_flag", "suspect_readings", "reference_machines",
)  # fmt: skip
_NUMBERS = ("abnormality", "cause_probability", "reference_machines")
_LEVELS = ("level_percent", "level_low", "level_high")
_APART = " | "


@still_called("machines", df="run_up")
def judge_frame(
    run_up: "pd.DataFrame",
    reference: Union[None, Reference, Iterable[Reference]] = None,
    *,
    machines: Facts = None,
    insulation: "Optional[pd.DataFrame]" = None,
    resistance: "Optional[pd.DataFrame]" = None,
    starts: "Optional[pd.DataFrame]" = None,
    peers: bool = False,
    extra: Extra = "refuse",
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
    speeds: Optional[Iterable[str]] = None,
    threads: int = 1,
) -> "pd.DataFrame":
    """Judge the machines of a long frame of readings, one row a reading in and one row a machine out.

    Nothing but the arguments counts, so that a part of the frame gives the same rows as the whole, in any process. A
    frame of Dask is judged partition by partition, and gives one; a machine whose rows lie in two partitions is
    refused, which costs a pass over the column ``machine`` unless that is the index with known divisions.

    Parameters
    ----------
    run_up : pandas.DataFrame or dask.dataframe.DataFrame
        Readings. ``machine`` (as a column or as the index), ``speed``, ``voltage_V`` [V], ``current_A`` [A]; where
        read ``power_W`` [W], ``speed_rpm`` [rpm], ``turning``, ``winding_C`` [degC]; of three phases
        ``current_L1_A`` to ``current_L3_A``, ``voltage_L1_L2_V`` to ``voltage_L3_L1_V`` and ``leads``, as in the
        tables of a record. Any fact of the machine may stand beside them, the same on all of its rows. A cell that is
        empty (NaN, None, "") says nothing; a list has a value for every reading of a speed or for none. A column in
        another unit (``current_mA``, ``voltage_kV``) is converted, and a warning says so; a cell that is no number
        costs its reading and is said under ``left_out``.
    reference : Reference or iterable of Reference, optional
        What good machines of the model draw, as in :func:`judge`. One holds for all machines of the frame, and stands
        in for facts that have no column: model, ratings, condition of the shaft, order of the speeds. Of several, each
        machine is held against that of its ``model``.
    machines : pandas.DataFrame or dict, optional
        Facts of the machines under the record's keys of ``[machine]`` and ``[visit]`` (``rated_voltage_V``,
        ``rated_frequency_Hz``, ``date``, ``model``, ``speeds`` ...) and ``instruments.ammeter.reading_percent`` and the
        like, of ohmmeter, insulation_tester and thermometer too: one row a machine under ``machine``, or a dict for all
        alike; machines that no table knows are passed over. ``rated_voltage_V`` and ``rated_frequency_Hz`` are needed,
        from here, ``run_up`` or the reference. ``speeds`` are texts with semicolons, ``"high;medium;low"``, fastest
        first; without them the speeds count in the order of the reference, else of a machine's rows. Where nothing is
        said ``phases`` is 1, ``state`` as_found, ``speed_control`` and ``running_circuit`` unknown; without a column
        ``date`` it is today.
    insulation : pandas.DataFrame, optional
        Insulation tests, long or wide, with the columns of :func:`judge_insulation`. Facts of the machine beside them
        count as those of ``machines`` do, and may not say something else.
    resistance : pandas.DataFrame, optional
        Winding resistances, one a row: ``machine``, ``section``, ``resistance_ohm`` [ohm], ``winding_C`` [degC] and
        the record's other keys of a resistance.
    starts : pandas.DataFrame, optional
        Start attempts, a position a row: ``machine``, ``position``, ``attempts``, ``successes``,
        ``lowest_starting_V`` [V], ``time_to_speed_s`` [s].
    peers : bool
        True: a machine without a reference is held against the others of its model, rating, speeds and shaft in the
        frame, itself left out; one that is very improbable beside the others stands behind none of them, as in
        :func:`learn`.
    extra : {"refuse", "ignore"}
        What becomes of columns that are not known.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`. The default policy needs more than run-ups for a release:
        ``{"format": "rewound-policy/1", "needed": ["draw", "steps"]}`` asks for nothing else.
    speeds : iterable of str, optional
        Speeds to tell the levels of. Where None those of the reference, without one those of ``run_up`` in the order
        of its rows; name them there where frames of several partitions are to have the same columns.
    threads : int
        Threads to share the machines among, 1 to 1024; the result does not depend on it.

    Returns
    -------
    pandas.DataFrame, or dask.dataframe.DataFrame of one
        In the order of the machines' first rows, named as in the results of ``rewound batch``: ``machine``, which is
        the index too; ``decision``, ``reasons`` (sentences), ``next`` (the first step), ``fails`` (checks that fail),
        ``abnormality`` (-log10 p against healthy machines), ``likeliest_cause`` and its ``cause_probability``,
        ``steps_flag``, ``suspect_readings``; ``reference_machines``: how many good machines stand behind what is
        expected, 0 without a reference; a speed's current off the expected one with its 95 % interval in
        ``level_percent.high``, ``level_low.high``, ``level_high.high`` [%] and so on; ``left_out``: cells that cost a
        reading; ``error``: why a machine could not be judged, and then everything else is empty.

    Raises
    ------
    InputError
        A column that is unknown (with the nearest known one), missing, or given in both frames; an impossible policy;
        a machine in two partitions of Dask. A machine that cannot be read raises nothing: see ``error``.
    PreconditionError
        ``threads`` is out of range; or of a frame of Dask other tables or ``peers``, which a partition cannot know, or
        neither ``speeds`` nor one reference.
    TypeError
        ``run_up``, ``machines`` or ``reference`` is something else.
    MissingPackageError
        pandas is not installed.

    Examples
    --------
    >>> readings = rewound.frame_from_records(rewound.simulate("circulator-40", seed=n) for n in (1, 2))
    >>> rewound.judge_frame(readings, policy={"format": "rewound-policy/1", "needed": ["draw"]})["machine"].tolist()
    ['circulator-40-1', 'circulator-40-2']
    """
    if in_partitions(run_up):
        named = {
            "machines": machines, "insulation": insulation, "resistance": resistance, "starts": starts, "peers": peers,
            "extra": extra, "policy": policy, "speeds": None if speeds is None else list(speeds), "threads": threads,
        }  # fmt: skip
        return judge_partitions(judge_frame, run_up, reference, named)
    pd = pandas()
    if not 1 <= threads <= 1024:
        raise refuse("threads", repr(threads), "a whole number from 1 to 1024")
    if extra not in ("refuse", "ignore"):
        raise refuse("extra", repr(extra), '"refuse" or "ignore"')
    rules = _core.read_policy(_rules(policy))
    one, by_model = _references(reference)
    beside = Sections(insulation, resistance, starts, rules, extra)
    read: Iterable[Machine] = machines_of(run_up, machines, one, beside, extra)
    nothing: Dict[str, Any] = dict.fromkeys([*_FIRST, "left_out", "error"])
    if speeds is not None:
        shown = list(speeds)
    else:
        shown = _speeds_in(run_up) if one is None else one.speeds
    if peers:
        read = list(read)
    company = _Company(read, rules) if peers else None

    def row_of(machine: Machine) -> Dict[str, Any]:
        row = {**nothing, "left_out": machine.left_out}
        if machine.record is None:
            return {**row, "error": str(machine.trouble)}
        try:
            good = one
            if by_model:
                good = by_model.get(machine.record.to_dict()["machine"].get("model", ""))
            if good is None and company is not None:
                good = company.of(machine)
            judged = Result(_core.judge(machine.record, good, None, rules), machine.record, good)
            return {**row, **_row(judged, shown, good)}
        except RewoundError as trouble:
            return {**row, "error": str(trouble)}

    labels: List[Any] = []
    rows = list(_in_order(row_of, _noting(read, labels), threads))
    frame = pd.DataFrame(rows, columns=_columns(shown), index=pd.Index(labels, dtype=object))
    frame[columns.MACHINE] = frame.index
    numbers = {name for name in frame.columns if name in _NUMBERS or name.startswith(_LEVELS)}
    return frame.astype({name: float if name in numbers else object for name in frame.columns})


def _references(given: Any) -> "tuple[Optional[Reference], Dict[str, Reference]]":
    """The one reference of all machines, or several by their models."""
    if given is None or isinstance(given, Reference):
        return given, {}
    if isinstance(given, (str, bytes)):
        raise TypeError(f"reference: read a value of type {type(given).__name__}, allowed: a Reference, or several")
    expect_kind("reference", given, Iterable, "a Reference, or several")
    several = list(given)
    for place, each in enumerate(several):
        expect_kind(f"reference[{place}]", each, Reference, "a Reference")
    by_model = {each.model: each for each in several}
    if len(by_model) < len(several):
        raise refuse("reference", "two of one model", "one a model")
    return (several[0] if len(several) == 1 else None), by_model


class _Company:
    """The machines of a frame beside each other: for each, a reference of the others that can be compared with it."""

    def __init__(self, machines: Iterable[Machine], rules: Any) -> None:
        self._rules = rules
        self._alike: Dict[Any, List[Machine]] = {}
        for machine in machines:
            if machine.record is not None:
                self._alike.setdefault(_kind(machine.record), []).append(machine)

    def of(self, machine: Machine) -> Optional[Reference]:
        assert machine.record is not None
        others = [m.record for m in self._alike[_kind(machine.record)] if m is not machine]
        return _core.learn([record for record in others if record is not None], self._rules) if others else None


def _kind(record: Record) -> Any:
    values = record.to_dict()
    machine, visit = values["machine"], values["visit"]
    rating = machine["rated_voltage_V"], machine["rated_frequency_Hz"], machine.get("phases")
    return machine.get("model"), rating, visit.get("shaft"), tuple(record.speeds)


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
    return [*_FIRST, *levels, "left_out", "error"]


def _row(result: Result, speeds: List[str], reference: Optional[Reference]) -> Dict[str, Any]:
    likeliest = result.causes[0] if result.causes else {"cause": None, "probability": None}
    row: Dict[str, Any] = {
        "decision": result.decision,
        "reasons": _APART.join(result.reasons),
        "next": next(iter(result._table_at("brief")["next"]), ""),
        "fails": ", ".join(dict.fromkeys(f["check"] for f in result.findings if f["outcome"] == "fails")),
        "abnormality": result.abnormality,
        "likeliest_cause": likeliest["cause"],
        "cause_probability": likeliest["probability"],
        "steps_flag": result.steps["flag"],
        "suspect_readings": _APART.join(_suspect(reading) for reading in result.suspect_readings),
        "reference_machines": 0 if reference is None else reference.machines,
    }
    for draw in result.draw:
        if draw["speed"] in speeds:
            row.update({f"{name}.{draw['speed']}": draw[name] for name in _LEVELS})
    return row


def _suspect(reading: Mapping[str, Any]) -> str:
    words = reading["explanation"].replace("_", " ")
    return f"{reading['speed']} reading {reading['index'] + 1}, {reading['quantity']} {reading['read']:.6g}: {words}"
