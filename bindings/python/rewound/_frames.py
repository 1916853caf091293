# SPDX-License-Identifier: MIT
"""Records from long frames of readings, and back."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Dict, Iterable, Iterator, List, Mapping, NamedTuple, Optional, Tuple, Union

import numpy as np

from . import _frame_columns as columns
from ._core import Record
from ._errors import InputError, RewoundError, refuse
from ._optional import pandas

if TYPE_CHECKING:
    import pandas as pd

Facts = Union[None, "pd.DataFrame", Mapping[str, Any]]
_FORMAT = "rewound-record/1"
_READING = re.compile(r"run_up\[(\d+)\]\.(\w+)(?:\[(\d+)\])?(?:\[(\d+)\])?$")


class Entry(NamedTuple):
    """The readings of one speed: their rows in the frame."""

    speed: str
    leads: Optional[str]
    rows: Any


class Machine(NamedTuple):
    """One machine of a frame: its label there, and its record or what is wrong with it."""

    label: Any
    record: Optional[Record]
    trouble: Optional[RewoundError]


def machines_of(df: "pd.DataFrame", facts: Facts) -> Iterator[Machine]:
    """The machines of a long frame in the order of their first rows, each read by itself.

    Raises
    ------
    InputError
        Columns that are unknown, missing or given twice: mistakes of the frame, not of a machine in it.
    """
    return _each(_Readings(df, facts))


def _each(table: "_Readings") -> Iterator[Machine]:
    for code, label in enumerate(table.labels):
        try:
            yield Machine(label, table.record(code), None)
        except RewoundError as trouble:
            yield Machine(label, None, trouble)


class _Readings:
    """A long frame as arrays, with the rows of each machine."""

    def __init__(self, df: "pd.DataFrame", facts: Facts) -> None:
        pd = pandas()
        frame = df.reset_index() if df.index.name == columns.MACHINE else df
        known = (columns.MACHINE,) + columns.READINGS + columns.FACTS
        columns.expect_known(frame.columns, known, "readings")
        columns.expect_there(frame.columns, (columns.MACHINE, "speed", "voltage_V"), "readings")
        if "current_L1_A" not in frame.columns:
            columns.expect_there(frame.columns, ("current_A",), "readings")
        codes, labels = pd.factorize(frame[columns.MACHINE], sort=False, use_na_sentinel=False)
        self.labels: List[Any] = [None if columns.absent(label) else label for label in labels]
        self._order = np.argsort(codes, kind="stable")
        self._bounds = np.searchsorted(codes[self._order], np.arange(len(labels) + 1))
        self._cells: Dict[str, Any] = {str(name): frame[name].to_numpy(dtype=object) for name in frame.columns}
        self._facts = _Facts(facts, [name for name in frame.columns if name in columns.FACTS])
        self._facts.expect_needed()

    def record(self, code: int) -> Record:
        rows = self._order[self._bounds[code] : self._bounds[code + 1]]
        label = self.labels[code]
        if label is None:
            raise _trouble("missing_key", columns.MACHINE, "nothing", "the name of a machine on every row")
        entries = self._entries(rows)
        values: Dict[str, Any] = {"format": _FORMAT, "machine": {"id": columns.text(label)}, "visit": {}}
        for column, value in self._facts_of(label, rows).items():
            *sections, key = columns.place_in_record(column)
            place = values
            for section in sections:
                place = place.setdefault(section, {})
            place[key] = value
        values["machine"].setdefault("speeds", list(dict.fromkeys(entry.speed for entry in entries)))
        values["run_up"] = [self._run_up(entry) for entry in entries]
        try:
            return Record.from_dict(values)
        except InputError as trouble:
            raise _placed(trouble, entries) from None

    def _facts_of(self, label: Any, rows: Any) -> Dict[str, Any]:
        out = dict(self._facts.common(label))
        for column in self._facts.beside_readings:
            value = self._constant(column, rows, "of one machine")
            if value is not None:
                out[column] = value
        return {**self._facts.defaults(out), **out}

    def _constant(self, column: str, rows: Any, whose: str) -> Any:
        """The one value of some rows; None where all are empty."""
        found: Any = None
        for value in self._cells[column][rows]:
            if columns.absent(value):
                continue
            value = columns.plain(column, value)
            if found is not None and value != found:
                raise _trouble("bad_table", column, f"{found} and {value}", f"the same value on all rows {whose}")
            found = value
        return found

    def _entries(self, rows: Any) -> List[Entry]:
        found: Dict[Tuple[str, Optional[str]], List[int]] = {}
        leads = self._cells.get("leads")
        for row in rows:
            speed = self._cells["speed"][row]
            if columns.absent(speed):
                raise _trouble("missing_key", "speed", "nothing", "the name of a speed on every row")
            apart = None if leads is None or columns.absent(leads[row]) else str(leads[row])
            found.setdefault((columns.text(speed), apart), []).append(row)
        return [Entry(speed, apart, np.array(where)) for (speed, apart), where in found.items()]

    def _run_up(self, entry: Entry) -> Dict[str, Any]:
        out: Dict[str, Any] = {"speed": entry.speed}
        if entry.leads is not None:
            out["leads"] = entry.leads
        if "winding_C" in self._cells:
            value = self._constant("winding_C", entry.rows, f"of speed {entry.speed}")
            if value is not None:
                out["winding_C"] = value
        for column in columns.LISTS:
            values = self._list(column, entry)
            if values is not None:
                out[column] = values
        for column, (key, line) in columns.LINES.items():
            values = self._list(column, entry)
            if values is None:
                continue
            lines: Any = out.setdefault(key, [[], [], []])
            if not isinstance(lines[0], list):
                raise _trouble("bad_table", key, "one column and columns by line", "either")
            lines[line] = values
        return out

    def _list(self, column: str, entry: Entry) -> Optional[List[Any]]:
        """The cells of one run-up; None where all are empty."""
        if column not in self._cells:
            return None
        cells = self._cells[column][entry.rows]
        empty = [columns.absent(cell) for cell in cells]
        if all(empty):
            return None
        if any(empty):
            place = f"{column}, reading {empty.index(True) + 1} of speed {entry.speed}"
            raise _trouble("unequal_lengths", place, "nothing", "a value for every reading of a speed, or for none")
        return [columns.plain(column, cell) for cell in cells]


class _Facts:
    """What is known of the machines besides their readings: of all alike, or one row a machine."""

    def __init__(self, facts: Facts, beside_readings: List[str]) -> None:
        self.beside_readings = beside_readings
        self._all: Dict[str, Any] = {}
        self._rows: Dict[str, Dict[str, Any]] = {}
        self._columns: Tuple[str, ...] = ()
        if isinstance(facts, Mapping):
            columns.expect_known(facts, columns.FACTS, "machines")
            self._all = _stated(facts)
            self._columns = tuple(facts)
        elif facts is not None:
            self._read(facts)
        for column in self._columns:
            if column in beside_readings:
                raise columns.given_twice(column)

    def _read(self, facts: "pd.DataFrame") -> None:
        frame = facts.reset_index() if facts.index.name == columns.MACHINE else facts
        columns.expect_known(frame.columns, (columns.MACHINE,) + columns.FACTS, "machines")
        columns.expect_there(frame.columns, (columns.MACHINE,), "machines")
        self._columns = tuple(name for name in frame.columns if name != columns.MACHINE)
        for row in frame.astype(object).to_dict("records"):
            name = columns.text(row.pop(columns.MACHINE))
            if name in self._rows:
                raise _trouble("repeated", "machines.machine", f"{name} twice", "one row a machine")
            self._rows[name] = _stated(row)

    def expect_needed(self) -> None:
        """Refuses a frame without a column that every record needs."""
        there = set(self.beside_readings) | set(self._columns)
        needed = tuple(name for name, otherwise in columns.NEEDED.items() if otherwise is None)
        columns.expect_there(there, needed, "machines")

    def common(self, label: Any) -> Dict[str, Any]:
        """Facts that do not stand beside the readings."""
        return self._all if not self._rows else self._rows.get(columns.text(label), {})

    def defaults(self, facts: Dict[str, Any]) -> Dict[str, Any]:
        """What a record has to say and the frame does not."""
        return {name: value for name, value in columns.NEEDED.items() if value is not None and name not in facts}


def _stated(facts: Mapping[str, Any]) -> Dict[str, Any]:
    return {name: columns.plain(name, value) for name, value in facts.items() if not columns.absent(value)}


def _trouble(code: str, field: str, read: str, allowed: str) -> InputError:
    return InputError(f"{field}: read {read}, allowed: {allowed}", code=code, field=field, read=read, allowed=allowed)


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
    return _trouble(trouble.code, field, trouble.read or "", trouble.allowed or "")


def records_from_frame(df: "pd.DataFrame", machines: Facts = None) -> Dict[Any, Record]:
    """Read the records of a long frame of readings, one row a reading.

    Parameters
    ----------
    df : pandas.DataFrame
        Readings; see :func:`judge_frame` for its columns.
    machines : pandas.DataFrame or dict, optional
        Facts of the machines; see :func:`judge_frame`.

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
    for label, record, trouble in machines_of(df, machines):
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
    there = [name for name in _ALL if any(name in row for row in rows)] or [columns.MACHINE, *columns.READINGS[:1]]
    return pd.DataFrame(rows, columns=there)


_ALL = (columns.MACHINE,) + columns.READINGS + columns.FACTS


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
