# SPDX-License-Identifier: MIT
"""A long frame of readings as arrays, machine by machine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Dict, List, NamedTuple, Optional, Tuple

import numpy as np

from . import _frame_columns as columns
from ._cells import read_cell
from ._frame_facts import trouble_with
from ._frame_units import in_own_units, only_known
from ._optional import pandas

if TYPE_CHECKING:
    import pandas as pd


class Entry(NamedTuple):
    """The readings of one speed: their places among the sorted rows."""

    speed: str
    leads: Optional[str]
    places: Any


class Readings:
    """The rows of a frame, sorted by machine and within it as they stood.

    Raises
    ------
    InputError
        Columns that are unknown, missing or given twice.
    """

    def __init__(self, df: "pd.DataFrame", extra: str = "refuse") -> None:
        frame = columns.from_index(df, columns.KNOWN, "readings")
        frame = only_known(in_own_units(frame, columns.KNOWN, "readings"), columns.KNOWN, extra)
        columns.expect_known(frame.columns, columns.KNOWN, "readings")
        columns.expect_there(frame.columns, (columns.MACHINE, "speed", "voltage_V"), "readings")
        if "current_L1_A" not in frame.columns:
            columns.expect_there(frame.columns, ("current_A",), "readings")
        codes, labels = pandas().factorize(frame[columns.MACHINE], sort=False, use_na_sentinel=False)
        order = np.argsort(codes, kind="stable")
        self.labels: List[Any] = [None if columns.absent(label) else label for label in labels]
        self._bounds = np.searchsorted(codes[order], np.arange(len(labels) + 1))
        self.facts = [name for name in frame.columns if name in columns.FACTS]
        alike = [name for name in (*self.facts, *columns.RUN_UP) if name in frame.columns]
        self._words = {name: _Words(name, frame[name], order) for name in alike}
        listed = [name for name in (*columns.LISTS, *columns.LINES) if name in frame.columns]
        self._lists = {name: _List(name, frame[name], order) for name in listed}

    def facts_of(self, code: int) -> Dict[str, Any]:
        """Facts that stand beside the readings of a machine."""
        rows = np.arange(self._bounds[code], self._bounds[code + 1])
        found = {name: self._words[name].only(rows, "of one machine") for name in self.facts}
        return {name: value for name, value in found.items() if value is not None}

    def entries(self, code: int) -> List[Entry]:
        """The run-ups of a machine, in the order of their first rows."""
        rows = range(self._bounds[code], self._bounds[code + 1])
        found: Dict[Tuple[str, Optional[str]], List[int]] = {}
        speeds, leads = self._words["speed"], self._words.get("leads")
        for row in rows:
            speed = speeds.at(row)
            if speed is None:
                raise trouble_with("missing_key", "speed", "nothing", "the name of a speed on every row")
            found.setdefault((speed, None if leads is None else leads.at(row)), []).append(row)
        return [Entry(speed, apart, np.array(places)) for (speed, apart), places in found.items()]

    def without_bad(self, entry: Entry, said: List[str]) -> Entry:
        """The readings whose cells are all numbers or empty; what the others are is said."""
        bad = np.zeros(len(entry.places), dtype=bool)
        for name, column in self._lists.items():
            for place in np.flatnonzero(column.bad[entry.places] & ~bad):
                said.append(f"reading {place + 1} of speed {entry.speed}: {name} {column.shown(entry.places[place])}")
                bad[place] = True
        return Entry(entry.speed, entry.leads, entry.places[~bad]) if bad.any() else entry

    def run_up(self, entry: Entry) -> Dict[str, Any]:
        """A run-up under the keys of the record."""
        out: Dict[str, Any] = {"speed": entry.speed}
        if entry.leads is not None:
            out["leads"] = entry.leads
        if "winding_C" in self._words:
            value = self._words["winding_C"].only(entry.places, f"of speed {entry.speed}")
            if value is not None:
                out["winding_C"] = value
        for name, column in self._lists.items():
            values = column.cells(entry)
            if values is None:
                continue
            key, line = columns.LINES.get(name, (name, None))
            if line is None:
                out[key] = values
                continue
            lines: Any = out.setdefault(key, [[], [], []])
            if not isinstance(lines[0], list):
                raise trouble_with("bad_table", key, "one column and columns by line", "either")
            lines[line] = values
        return out


class _Words:
    """A column of few different values, each made plain once."""

    def __init__(self, name: str, column: "pd.Series[Any]", order: Any) -> None:
        self._name = name
        cells = column.to_numpy(dtype=object)
        if name in columns.TEXT_LISTS:  # texts with semicolons, or lists, which cannot be told apart by a hash
            cells = np.array([cell if isinstance(cell, str) else _joined(cell) for cell in cells], dtype=object)
        try:
            codes, different = pandas().factorize(cells)
        except TypeError:
            allowed = "numbers, texts, days, true or false"
            raise trouble_with("wrong_type", f"readings.{name}", "a list or dict in a cell", allowed) from None
        self._values = [None if columns.absent(value) else columns.plain(name, value) for value in different]
        self._codes = codes[order]

    def at(self, row: int) -> Any:
        """The value of a row; None where it is empty."""
        code = self._codes[row]
        return None if code < 0 else self._values[code]

    def only(self, rows: Any, whose: str) -> Any:
        """The one value of some rows; None where all are empty."""
        codes = self._codes[rows]
        if len(codes) and (codes == codes[0]).all():
            return self.at(rows[0])
        there = [value for value in (self.at(row) for row in rows) if value is not None]
        for value in there[1:]:
            if value != there[0]:
                read = f"{there[0]} and {value}"
                raise trouble_with("bad_table", self._name, read, f"the same value on all rows {whose}")
        return there[0] if there else None


def _joined(cell: Any) -> Any:
    return None if columns.absent(cell) else ";".join(str(word) for word in cell)


class _List:
    """A column with a value for each reading."""

    def __init__(self, name: str, column: "pd.Series[Any]", order: Any) -> None:
        self._name = name
        self.bad = np.zeros(len(order), dtype=bool)
        if isinstance(column.dtype, np.dtype) and column.dtype.kind in "fiub":
            self._cells = column.to_numpy()[order]
            self._empty = np.isnan(self._cells) if column.dtype.kind == "f" else np.zeros(len(order), dtype=bool)
        else:
            self._cells = column.to_numpy(dtype=object)[order]
            self._empty = np.array([columns.absent(cell) for cell in self._cells], dtype=bool)
            if name != "turning":
                self._read_numbers()

    def _read_numbers(self) -> None:
        """Cells of an object column as numbers; text and what is beyond a range is bad."""
        for place in np.flatnonzero(~self._empty):
            try:
                read = read_cell(self._cells[place])
            except ValueError:
                self.bad[place] = True
                continue
            if read.beyond:
                self.bad[place] = True
            else:
                self._cells[place] = read.value

    def shown(self, place: int) -> str:
        """What stands in a bad cell."""
        cell = self._cells[place]
        try:
            read_cell(cell)
        except ValueError:
            return f"{cell!r} is not a number"
        return f"{cell!r} is beyond the range"

    def cells(self, entry: Entry) -> Optional[List[Any]]:
        """The values of one run-up; None where all are empty."""
        empty = self._empty[entry.places]
        if empty.all():
            return None
        if empty.any():
            place = f"{self._name}, reading {int(np.argmax(empty)) + 1} of speed {entry.speed}"
            raise trouble_with("unequal_lengths", place, "nothing", "a value for every reading of a speed, or for none")
        cells: List[Any] = self._cells[entry.places].tolist()
        return [columns.plain(self._name, cell) for cell in cells] if self._name == "turning" else cells
