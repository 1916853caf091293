# SPDX-License-Identifier: MIT
"""Records from long frames of readings, and back."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Dict, Iterable, Iterator, List, NamedTuple, Optional

from . import _frame_columns as columns
from ._core import Record, Reference
from ._errors import InputError, RewoundError, expect_kind, refuse
from ._frame_facts import Facts, MachineFacts, trouble_with
from ._frame_readings import Entry, Readings
from ._optional import pandas

if TYPE_CHECKING:
    import pandas as pd

_FORMAT = "rewound-record/1"
_READING = re.compile(r"run_up\[(\d+)\]\.(\w+)(?:\[(\d+)\])?(?:\[(\d+)\])?$")


class Machine(NamedTuple):
    """One machine of a frame: its label there, and its record or what is wrong with it."""

    label: Any
    record: Optional[Record]
    trouble: Optional[RewoundError]


def machines_of(df: "pd.DataFrame", facts: Facts, reference: Optional[Reference]) -> Iterator[Machine]:
    """The machines of a long frame in the order of their first rows, each read by itself.

    Raises
    ------
    InputError
        Columns that are unknown, missing or given twice: mistakes of the frame, not of a machine in it.
    """
    kind = pandas().DataFrame
    expect_kind("df", df, kind, "a pandas.DataFrame")
    expect_kind("machines", facts, (kind, dict, type(None)), "a pandas.DataFrame or a dict")
    expect_kind("reference", reference, (Reference, type(None)), "a Reference")
    readings = Readings(df)
    return _each(readings, MachineFacts(facts, readings.facts, reference))


def _each(readings: Readings, facts: MachineFacts) -> Iterator[Machine]:
    for code, label in enumerate(readings.labels):
        try:
            yield Machine(label, _record(readings, facts, code), None)
        except RewoundError as trouble:
            yield Machine(label, None, trouble)


def _record(readings: Readings, facts: MachineFacts, code: int) -> Record:
    label = readings.labels[code]
    if label is None:
        raise trouble_with("missing_key", columns.MACHINE, "nothing", "the name of a machine on every row")
    entries = readings.entries(code)
    values: Dict[str, Any] = {"format": _FORMAT, "machine": {"id": columns.text(label)}, "visit": {}}
    for column, value in facts.of(label, readings.facts_of(code)).items():
        *sections, key = columns.place_in_record(column)
        place = values
        for section in sections:
            place = place.setdefault(section, {})
        place[key] = value
    if "speeds" not in values["machine"]:
        values["machine"]["speeds"] = facts.order([entry.speed for entry in entries])
    values["run_up"] = [readings.run_up(entry) for entry in entries]
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


def records_from_frame(
    df: "pd.DataFrame", machines: Facts = None, reference: Optional[Reference] = None
) -> Dict[Any, Record]:
    """Read the records of a long frame of readings, one row a reading.

    Parameters
    ----------
    df : pandas.DataFrame
        Readings; see :func:`judge_frame` for its columns.
    machines : pandas.DataFrame or dict, optional
        Facts of the machines; see :func:`judge_frame`.
    reference : Reference, optional
        Stands in for facts that have no column; see :func:`judge_frame`.

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
    """
    out: Dict[Any, Record] = {}
    for label, record, trouble in machines_of(df, machines, reference):
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
        lists = {name: run[name] for name in columns.LISTS if name in run and not _by_line(run[name])}
        lists.update({name: run[key][line] for name, (key, line) in columns.LINES.items() if _by_line(run.get(key))})
        for i in range(len(run["voltage_V"])):
            yield {**facts, **entry, **{name: values[i] for name, values in lists.items()}}


def _by_line(values: Any) -> bool:
    return isinstance(values, list) and bool(values) and isinstance(values[0], list)
