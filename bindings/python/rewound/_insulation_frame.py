# SPDX-License-Identifier: MIT
"""Insulation tests as a frame in and a frame out."""

from __future__ import annotations

import datetime
import re
from typing import TYPE_CHECKING, Any, Dict, List, Mapping, NamedTuple, Optional, Tuple, Union

import numpy as np

from . import _core
from . import _frame_columns as columns
from ._cells import read_cell
from ._core import Record
from ._errors import InputError, RewoundError, expect_kind, refuse
from ._files import AnyPath
from ._frame_facts import Facts, trouble_with
from ._frame_units import in_own_units, only_known
from ._judging import _rules
from ._optional import pandas
from ._words import Extra

if TYPE_CHECKING:
    import pandas as pd

CIRCUIT = "winding to frame"
_TEST = ("circuit", "test", "date")  # tell the tests of one machine apart, where they are there
_SECTION = ("test_voltage_V", "winding_C", "connection")
_READING = ("time_s", "resistance_Mohm")
_FACTS = columns.FACTS + columns.BESIDE_FACTS
_KNOWN = tuple(dict.fromkeys((columns.MACHINE, *_TEST, *_SECTION, *_READING, "range_Mohm", *_FACTS)))
_TIME = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(s|min)\s*$")
_NUMBERS = (
    "at_40_C_Mohm", "at_40_C_low", "at_40_C_high", "minimum_Mohm", "polarization_index", "polarization_index_low",
    "polarization_index_high", "absorption_ratio", "absorption_ratio_low", "absorption_ratio_high",
)  # fmt: skip
_APART = " | "
# A record needs ratings, and the judgement of insulation alone does not look at the frequency.
_STAND_IN = {"rated_frequency_Hz": 50.0, "phases": 1, "speed_control": "unknown", "running_circuit": "unknown"}
_STAND_IN_V = 230.0


class Readings(NamedTuple):
    """Readings of one test: those that are numbers, ends of the range of those beyond it, and what was left out."""

    exact: Dict[float, float]
    beyond: Dict[float, float]
    left_out: List[str]


class Test(NamedTuple):
    """One test: what tells it apart, its facts, its readings."""

    machine: Any
    keys: Dict[str, Any]
    facts: Dict[str, Any]
    readings: Readings


def judge_insulation(
    frame: "pd.DataFrame",
    machines: Facts = None,
    *,
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
    extra: Extra = "refuse",
    threads: int = 1,
) -> "pd.DataFrame":
    """Judge a table of insulation tests, long or wide: one row a test out.

    Parameters
    ----------
    frame : pandas.DataFrame
        Long, one row a reading, with ``time_s`` [s] and ``resistance_Mohm`` [Mohm]; or wide, one row a test, with
        columns named by their time, ``15s``, ``30s``, ``60s``, ``10min`` and so on, in Mohm. Besides ``machine`` (as a
        column or as the index), ``test_voltage_V`` [V], ``winding_C`` [degC] (or ``ambient_C``, which then stands in),
        ``circuit`` (``winding to frame`` where there is no such column), ``connection``, and any fact of the machine
        under the record's keys: ``rated_voltage_V``, ``insulation_system``, ``winding_kind``, ``wound_year`` ... A
        machine's tests are told apart by ``circuit``, ``test`` and ``date``. ``"OL"`` and ``">2000"`` are readings
        beyond the tester's range; ``range_Mohm`` says where it ends for ``"OL"``.
    machines : pandas.DataFrame or dict, optional
        Facts of the machines, as in :func:`judge_frame`.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`.
    extra : {"refuse", "ignore"}
        What becomes of columns that are not known.
    threads : int
        Threads to share the tests among, 1 to 1024; the result does not depend on it.

    Returns
    -------
    pandas.DataFrame
        One row a test in the order of their first rows: ``machine``, ``circuit``, ``test`` and ``date`` where given;
        ``at_40_C_Mohm`` [Mohm], the one-minute value brought to 40 degC, with its 95 % interval ``at_40_C_low``,
        ``at_40_C_high``; ``minimum_Mohm`` [Mohm]; ``polarization_index`` (600 s over 60 s, read or predicted from the
        curve) and ``absorption_ratio`` (60 s over 30 s), each with ``_low`` and ``_high`` [1]; ``outcome``
        ("conforms", "fails" or "undecided"); ``reason``; ``source`` of the minimum; ``left_out``: cells that were no
        readings; ``error``: why a test could not be judged. A one-minute value beyond the range counts as at least
        its end: it can conform, but not fail; its ``at_40_C_high`` is infinite.

    Raises
    ------
    InputError
        A column that is unknown, missing or given twice; an impossible policy. A test that cannot be read raises
        nothing: see ``error``.
    PreconditionError
        ``threads`` or ``extra`` is out of range.
    MissingPackageError
        pandas is not installed.

    Notes
    -----
    The findings are those of :func:`judge` on the same readings (IEEE 43; see ``source``).

    Examples
    --------
    >>> import pandas
    >>> tests = pandas.DataFrame({"machine": ["a", "b"], "60s": [200.0, 3.0], "test_voltage_V": 500, "winding_C": 40,
    ...                           "rated_voltage_V": 230, "wound_year": 2026, "winding_kind": "random_wound"})
    >>> rewound.judge_insulation(tests)[["at_40_C_Mohm", "minimum_Mohm", "outcome"]].values.tolist()
    [[200.0, 5.0, 'conforms'], [3.0, 5.0, 'fails']]
    """
    if not 1 <= threads <= 1024:
        raise refuse("threads", repr(threads), "a whole number from 1 to 1024")
    rules = _core.read_policy(_rules(policy))
    tests = tests_of(frame, machines, extra)
    rows: List[Dict[str, Any]] = []
    records: List[Record] = []
    places: List[int] = []
    for test in tests:
        row: Dict[str, Any] = {columns.MACHINE: test.machine, **test.keys}
        row["left_out"] = _APART.join(test.readings.left_out)
        rows.append(row)
        if _all_beyond(test):
            row.update(outcome="undecided", reason=END_NOT_TOLD)
            continue
        try:
            records.append(_record(test))
            places.append(len(rows) - 1)
        except RewoundError as trouble:
            row["error"] = str(trouble)
    for place, found in zip(places, _core.judge_insulation(records, rules, threads)):
        rows[place].update(_told(found, tests[place]))
    return _framed(rows, tests)


END_NOT_TOLD = "beyond the tester's range at one minute, whose end is not told: enter it (range_Mohm)"


def _all_beyond(test: Test) -> bool:
    """Beyond the range at one minute, without its end, and nothing else that could be judged."""
    return not test.readings.exact and np.isinf(test.readings.beyond.get(60.0, 0.0))


def tests_of(frame: "pd.DataFrame", machines: Facts, extra: str) -> List[Test]:
    """The tests of a long or wide table in the order of their first rows."""
    kind = pandas().DataFrame
    expect_kind("frame", frame, kind, "a pandas.DataFrame")
    expect_kind("machines", machines, (kind, dict, type(None)), "a pandas.DataFrame or a dict")
    if extra not in ("refuse", "ignore"):
        raise refuse("extra", repr(extra), '"refuse" or "ignore"')
    table = columns.from_index(frame, _KNOWN, "insulation")
    times = {name: _seconds(str(name)) for name in table.columns if _TIME.match(str(name))}
    known = _KNOWN + tuple(times)
    table = only_known(in_own_units(table, known, "insulation"), known, extra)
    columns.expect_known(table.columns, known, "insulation")
    columns.expect_there(table.columns, (columns.MACHINE,), "insulation")
    if not times:
        columns.expect_there(table.columns, _READING, "insulation")
    elif any(name in table.columns for name in _READING):
        raise trouble_with("bad_table", "insulation", "time_s or resistance_Mohm, and columns named by their time",
                           "a long table or a wide one")  # fmt: skip
    stated = _facts_of(machines, extra)
    rows = table.astype(object).to_dict("records")
    groups: Dict[Any, List[Dict[str, Any]]] = {}
    for place, row in enumerate(rows):
        told_apart = tuple(columns.text(row[key]) for key in (columns.MACHINE, *_TEST) if key in row)
        groups.setdefault(place if times else told_apart, []).append(row)
    return [_test(group, times, stated) for group in groups.values()]


def _seconds(name: str) -> float:
    found = _TIME.match(name)
    assert found is not None
    return float(found[1]) * (60.0 if found[2] == "min" else 1.0)


def _facts_of(machines: Facts, extra: str) -> Any:
    """From a machine's name to its facts."""
    if machines is None:
        return lambda name: {}
    if isinstance(machines, dict):
        columns.expect_known(machines, _FACTS, "machines")
        return lambda name: machines
    known = (columns.MACHINE,) + _FACTS
    table = columns.from_index(machines, known, "machines")
    table = only_known(in_own_units(table, known, "machines"), known, extra)
    columns.expect_known(table.columns, known, "machines")
    columns.expect_there(table.columns, (columns.MACHINE,), "machines")
    rows = {columns.text(row[columns.MACHINE]): row for row in table.astype(object).to_dict("records")}
    return lambda name: rows.get(name, {})


def _test(rows: List[Dict[str, Any]], times: Dict[str, float], stated: Any) -> Test:
    machine = rows[0][columns.MACHINE]
    keys = {key: rows[0][key] for key in _TEST if key in rows[0]}
    keys.setdefault("circuit", CIRCUIT)
    if columns.absent(keys["circuit"]):
        keys["circuit"] = CIRCUIT
    facts = {name: value for name, value in stated(columns.text(machine)).items() if not columns.absent(value)}
    facts.pop(columns.MACHINE, None)
    for row in rows:
        facts.update({
            name: value
            for name, value in row.items()
            if name in _FACTS + _SECTION + ("range_Mohm",) and not columns.absent(value)
        })  # fmt: skip
    for name in facts:
        different = {str(row[name]) for row in rows if name in row and not columns.absent(row[name])}
        if len(different) > 1:
            facts[name] = _Differs(sorted(different))
    return Test(machine, keys, facts, _readings(rows, times, facts.get("range_Mohm")))


class _Differs(NamedTuple):
    """Values of a fact that is not the same on all rows of a test."""

    values: List[str]


def _readings(rows: List[Dict[str, Any]], times: Dict[str, float], end: Any) -> Readings:
    out = Readings({}, {}, [])
    if times:
        cells = [(seconds, rows[0][name]) for name, seconds in times.items()]
    else:
        cells = [(row["time_s"], row["resistance_Mohm"]) for row in rows]
    for time, cell in cells:
        _take(time, cell, end, out)
    return out


def _take(time: Any, cell: Any, end: Any, out: Readings) -> None:
    """One reading; one that cannot be costs itself and not the test."""
    try:
        read, when = read_cell(cell), read_cell(time)
    except ValueError:
        out.left_out.append(f"{time!r} s, {cell!r} Mohm: not a number")
        return
    if np.isnan(read.value):
        return
    if not (np.isfinite(when.value) and when.value > 0.0 and read.value > 0.0):
        out.left_out.append(f"{time} s, {cell} Mohm: time and resistance are above 0")
    elif when.value in out.exact or when.value in out.beyond:
        out.left_out.append(f"{time} s, {cell} Mohm: this time twice; a column test or date tells tests apart")
    elif not read.beyond:
        out.exact[when.value] = read.value
    else:
        stated = float(end) if np.isinf(read.value) and isinstance(end, (int, float)) else read.value
        out.beyond[when.value] = stated


def entry_of(test: Test) -> Dict[str, Any]:
    """The test under the keys of a record's insulation section.

    A one-minute reading beyond the range stands there alone, as the end of the range; later ones are left out.
    """
    for name in _SECTION + ("circuit",):
        if isinstance(test.facts.get(name), _Differs):
            read = " and ".join(test.facts[name].values)
            raise trouble_with("bad_table", name, read, "the same value on all rows of one test")
    entry = {name: test.facts[name] for name in _SECTION if name in test.facts}
    entry["circuit"] = columns.text(test.keys["circuit"])
    readings = test.readings.exact
    if beyond_at_one_minute(test) is not None:
        readings = {60.0: test.readings.beyond[60.0]}
    if not readings:
        raise trouble_with("missing_key", "resistance_Mohm", "no reading that is a number", "one or more")
    entry["time_s"] = sorted(readings)
    entry["resistance_Mohm"] = [readings[time] for time in entry["time_s"]]
    return entry


def facts_of(test: Test) -> Dict[str, Any]:
    """Facts of the machine, of the visit and of the instruments that stand beside a test, as a record has them.

    Raises
    ------
    InputError
        One that is not the same on all rows of the test.
    """
    out: Dict[str, Any] = {}
    for name, value in test.facts.items():
        if name not in _FACTS or name in _SECTION + _TEST:
            continue
        if isinstance(value, _Differs):
            read = " and ".join(value.values)
            raise trouble_with("bad_table", name, read, "the same value on all rows of one test")
        out[name] = columns.plain(name, value)
    return out


def beyond_at_one_minute(test: Test) -> Optional[float]:
    """Where the range ended that the one-minute reading was beyond."""
    end = test.readings.beyond.get(60.0)
    return None if end is None or np.isinf(end) else end


def _record(test: Test) -> Record:
    if columns.absent(test.machine):
        raise trouble_with("missing_key", columns.MACHINE, "nothing", "the name of a machine on every row")
    entry = entry_of(test)
    rated = test.facts.get("rated_voltage_V", _STAND_IN_V)
    values: Dict[str, Any] = {
        "format": "rewound-record/1",
        "machine": {"id": columns.text(test.machine), "rated_voltage_V": rated, "speeds": ["only"], **_STAND_IN},
        "visit": {"date": datetime.date.today(), "state": "as_found"},
        "run_up": [],
        "insulation": [entry],
    }
    facts = facts_of(test)
    if not columns.absent(test.keys.get("date")):
        facts["date"] = columns.plain("date", test.keys["date"])
    facts.pop("speeds", None)
    for name, value in facts.items():
        *sections, key = columns.place_in_record(name)
        place = values
        for section in sections:
            place = place.setdefault(section, {})
        place[key] = value
    try:
        return Record.from_dict(values)
    except InputError as trouble:
        field = (trouble.field or "").replace("insulation[0].", "").replace("machine.", "").replace("visit.", "")
        raise trouble_with(trouble.code, field, trouble.read or "", trouble.allowed or "") from None


def _told(findings: List[Dict[str, Any]], test: Test) -> Dict[str, Any]:
    """What the findings come to, as a row."""
    by = {finding["quantity"]: finding for finding in findings}
    row: Dict[str, Any] = {}
    _put(row, "at_40_C", by.get("insulation_at_40_C"), "at_40_C_Mohm")
    _put(row, "polarization_index", by.get("polarization_index"))
    _put(row, "absorption_ratio", by.get("absorption_ratio"))
    minimum = by.get("insulation_at_40_C", {})
    row["minimum_Mohm"], row["source"] = minimum.get("limit_low"), minimum.get("source")
    row["outcome"], row["reason"] = _decided(findings)
    end = beyond_at_one_minute(test)
    if end is not None:
        row["at_40_C_high"] = np.inf
        row["reason"] = f"beyond the tester's range, taken as at least {end:g} Mohm: {row['reason']}"
        if row["outcome"] == "fails":
            row["outcome"] = "undecided"
    elif 60.0 in test.readings.beyond:
        row["reason"] = END_NOT_TOLD
        if row["outcome"] == "conforms":
            row["outcome"] = "undecided"
    elif 600.0 in test.readings.beyond and 60.0 in test.readings.exact:
        at_least = test.readings.beyond[600.0] / test.readings.exact[60.0]
        low = at_least if np.isfinite(at_least) else np.nan
        row.update(polarization_index=np.nan, polarization_index_low=low, polarization_index_high=np.inf)
    if "rated_voltage_V" not in test.facts:
        row["minimum_Mohm"] = None
        if row["outcome"] == "conforms":
            row["outcome"] = "undecided"
        row["reason"] = f"rated_voltage_V is not stated: enter it{_APART}{row['reason']}"
    return row


def _put(row: Dict[str, Any], name: str, finding: Optional[Dict[str, Any]], value: str = "") -> None:
    if finding is not None:
        row[value or name] = finding["value"]
        row[f"{name}_low"], row[f"{name}_high"] = finding["low"], finding["high"]


def _decided(findings: List[Dict[str, Any]]) -> Tuple[str, str]:
    """The outcome of the findings that decide, one that fails whether it decides or not, and their sentences."""
    failing = [finding["message"] for finding in findings if finding["outcome"] == "fails"]
    if failing:
        return "fails", _APART.join(failing)
    open_ones = [f["message"] for f in findings if f["decides"] and f["outcome"] != "conforms"]
    if open_ones:
        return "undecided", _APART.join(open_ones)
    return "conforms", _APART.join(f["message"] for f in findings if f["decides"])


def _framed(rows: List[Dict[str, Any]], tests: List[Test]) -> "pd.DataFrame":
    keys = [key for key in _TEST if key == "circuit" or any(key in test.keys for test in tests)]
    names = [columns.MACHINE, *keys, *_NUMBERS, "outcome", "reason", "source", "left_out", "error"]
    frame = pandas().DataFrame([{name: row.get(name) for name in names} for row in rows], columns=names)
    return frame.astype({name: float for name in _NUMBERS})
