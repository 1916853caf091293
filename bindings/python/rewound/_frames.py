# SPDX-License-Identifier: MIT
"""Records from long frames of readings, and back."""

from __future__ import annotations

import datetime
import re
from typing import TYPE_CHECKING, Any, Dict, Iterable, Iterator, List, NamedTuple, Optional

from . import _frame_columns as columns
from ._core import Record, Reference
from ._errors import InputError, RewoundError, expect_kind, refuse
from ._frame_facts import Facts, MachineFacts, trouble_with
from ._frame_readings import Entry, Readings
from ._frame_sections import Sections
from ._optional import pandas
from ._words import Extra, still_called

if TYPE_CHECKING:
    import pandas as pd

_FORMAT = "rewound-record/1"
_READING = re.compile(r"run_up\[(\d+)\]\.(\w+)(?:\[(\d+)\])?(?:\[(\d+)\])?$")


class Machine(NamedTuple):
    """One machine of a frame: its label there, and its record or what is wrong with it."""

    label: Any
    record: Optional[Record]
    trouble: Optional[RewoundError]
    left_out: str = ""


def machines_of(
    df: "pd.DataFrame",
    facts: Facts,
    reference: Optional[Reference],
    beside: Optional[Sections] = None,
    extra: str = "refuse",
) -> Iterator[Machine]:
    """The machines of a long frame in the order of their first rows, each read by itself.

    Raises
    ------
    InputError
        Columns that are unknown, missing or given twice: mistakes of the frame, not of a machine in it.
    """
    kind = pandas().DataFrame
    expect_kind("run_up", df, kind, "a pandas.DataFrame")
    expect_kind("machines", facts, (kind, dict, type(None)), "a pandas.DataFrame or a dict")
    expect_kind("reference", reference, (Reference, type(None)), "a Reference")
    readings = Readings(df, extra)
    return _each(readings, MachineFacts(facts, readings.facts, reference, extra), beside)


def _each(readings: Readings, facts: MachineFacts, beside: Optional[Sections]) -> Iterator[Machine]:
    there = {columns.text(label) for label in readings.labels if label is not None}
    others = [] if beside is None else [label for label in beside.labels() if columns.text(label) not in there]
    places = [*enumerate(readings.labels), *((None, label) for label in others)]
    for code, label in places:
        said: List[str] = []
        record, wrong = None, None
        try:
            record = _record(readings, facts, code, label, beside, said)
        except RewoundError as trouble:
            wrong = trouble
        if beside is not None and label is not None:
            said += beside.left_out.get(columns.text(label), [])
        yield Machine(label, record, wrong, " | ".join(said))


def _record(
    readings: Readings,
    facts: MachineFacts,
    code: Optional[int],
    label: Any,
    beside: Optional[Sections],
    said: List[str],
) -> Record:
    if label is None:
        raise trouble_with("missing_key", columns.MACHINE, "nothing", "the name of a machine on every row")
    whole = [] if code is None else readings.entries(code)
    entries = [entry for entry in (readings.without_bad(one, said) for one in whole) if len(entry.places)]
    if whole and not entries:
        raise trouble_with("missing_key", "readings", "no reading that is a number", "one or more")
    values: Dict[str, Any] = {"format": _FORMAT, "machine": {"id": columns.text(label)}, "visit": {}}
    for column, value in facts.of(label, {} if code is None else readings.facts_of(code)).items():
        *sections, key = columns.place_in_record(column)
        place = values
        for section in sections:
            place = place.setdefault(section, {})
        place[key] = value
    if "speeds" not in values["machine"]:
        values["machine"]["speeds"] = facts.order([entry.speed for entry in entries]) or ["unnamed"]
    values["visit"].setdefault("date", datetime.date.today())  # of a machine without run-ups where these carry dates
    values["run_up"] = [readings.run_up(entry) for entry in entries]
    if beside is not None:
        beside.put(label, values)
    try:
        return Record.from_dict(values)
    except InputError as trouble:
        raise _placed(trouble, entries) from None


def _placed(trouble: InputError, entries: List[Entry]) -> InputError:
    """The same error with the frame's words for the place: column, reading and speed."""
    field = trouble.field or ""
    found = _READING.match(field)
    if found:
        entry, key, first, second = found.groups()
        column = next((name for name, place in columns.LINES.items() if second and place == (key, int(first))), key)
        reading = second or first
        at = f"reading {int(reading) + 1} of speed" if reading else "speed"
        field = f"{column}, {at} {entries[int(entry)].speed}"
    elif field.startswith(("machine.", "visit.")):
        field = field.split(".", 1)[1]
    return trouble_with(trouble.code, field, trouble.read or "", trouble.allowed or "")


@still_called("reference", df="run_up")
def records_from_frame(
    run_up: "pd.DataFrame",
    machines: Facts = None,
    *,
    reference: Optional[Reference] = None,
    insulation: "Optional[pd.DataFrame]" = None,
    resistance: "Optional[pd.DataFrame]" = None,
    starts: "Optional[pd.DataFrame]" = None,
    extra: Extra = "refuse",
) -> Dict[Any, Record]:
    """Read the records of a long frame of readings, one row a reading.

    Parameters
    ----------
    run_up : pandas.DataFrame
        Readings; see :func:`judge_frame` for its columns.
    machines : pandas.DataFrame or dict, optional
        Facts of the machines; see :func:`judge_frame`.
    reference : Reference, optional
        Stands in for facts that have no column; see :func:`judge_frame`.
    insulation, resistance, starts : pandas.DataFrame, optional
        Tables of the record's other sections; see :func:`judge_frame`.
    extra : {"refuse", "ignore"}
        What becomes of columns that are not known.

    Returns
    -------
    dict
        One :class:`Record` a machine, under its label in the frame, in the order of their first rows.

    Raises
    ------
    InputError
        A column that is unknown, missing or given twice; or the first machine whose record cannot be: ``field`` names
        the column, and the machine stands in the message.
    MissingPackageError
        pandas is not installed.

    See Also
    --------
    frame_from_records : the way back

    Examples
    --------
    >>> frame = rewound.frame_from_records([rewound.simulate("circulator-40", seed=3, id="GH-03")])
    >>> rewound.records_from_frame(frame)
    {'GH-03': <rewound.Record GH-03, 2026-05-14, 3 run-up curves>}
    """
    out: Dict[Any, Record] = {}
    beside = Sections(insulation, resistance, starts, None, extra)
    for label, record, trouble, _ in machines_of(run_up, machines, reference, beside, extra):
        if trouble is not None:
            raise InputError(
                f"machine {label}: {trouble}", code=trouble.code, field=trouble.field, read=trouble.read,
                allowed=trouble.allowed,
            ) from trouble  # fmt: skip
        if record is not None:
            out[label] = record
    return out


def frame_from_records(records: Iterable[Record]) -> "pd.DataFrame":
    """Lay the run-ups of records out as a long frame, one row a reading.

    Parameters
    ----------
    records : iterable of Record
        Visits of different machines.

    Returns
    -------
    pandas.DataFrame
        Columns as :func:`judge_frame` takes them, those of which some record has something; voltages in V, currents
        in A, power in W, speeds in rpm. Only run-ups and facts of machine and visit are in it: insulation,
        resistance, starts and the other sections are not.

    Raises
    ------
    PreconditionError
        Two records are of one machine.
    MissingPackageError
        pandas is not installed.

    Examples
    --------
    >>> frame = rewound.frame_from_records([rewound.simulate("circulator-40", seed=3, id="GH-03")])
    >>> frame.loc[0, ["machine", "speed", "rated_voltage_V"]].tolist()
    ['GH-03', 'high', 230]
    """
    pd = pandas()
    rows: List[Dict[str, Any]] = []
    seen = set()
    for record in records:
        if record.machine in seen:
            raise refuse("records", f"machine {record.machine} twice", "one record a machine")
        seen.add(record.machine)
        rows.extend(_rows(record))
    there = [name for name in columns.KNOWN if any(name in row for row in rows)] or [
        columns.MACHINE,
        *columns.READINGS[:1],
    ]
    return pd.DataFrame(rows, columns=there)


def _rows(record: Record) -> Iterator[Dict[str, Any]]:
    values = record.to_dict()
    facts: Dict[str, Any] = {columns.MACHINE: record.machine}
    for column in columns.FACTS:
        place: Any = values
        for key in columns.place_in_record(column):
            place = place.get(key, {})
        if not columns.absent(place) and place != {}:
            facts[column] = ";".join(place) if isinstance(place, list) else place
    for run in values["run_up"]:
        entry = {name: run[name] for name in columns.RUN_UP if name in run}
        for row in run.get("rows") or _as_rows(run):
            readings = {name: row[name] for name in columns.LISTS if name in row and not isinstance(row[name], list)}
            for name, (key, line) in columns.LINES.items():
                if isinstance(row.get(key), list):
                    readings[name] = row[key][line]
            yield {**facts, **entry, **readings}


def _as_rows(run: Dict[str, Any]) -> Iterator[Dict[str, Any]]:
    """Lists side by side as rows; three lists, one a line, as three values a row."""
    keys = [key for key in (*columns.LISTS, "line_voltage_V") if key in run]
    by_line = {key for key in keys if isinstance(run[key][0], list)}
    for i in range(len(run["voltage_V"])):
        yield {key: [line[i] for line in run[key]] if key in by_line else run[key][i] for key in keys}
