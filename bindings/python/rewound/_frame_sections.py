# SPDX-License-Identifier: MIT
"""Tables of insulation, ohms and starts beside the run-ups of a frame."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Dict, List, Optional, Tuple

import numpy as np

from . import _core
from . import _frame_columns as columns
from ._cells import read_cell
from ._core import Record, record_keys
from ._errors import RewoundError, expect_kind
from ._frame_facts import trouble_with
from ._frame_units import in_own_units, only_known
from ._insulation_frame import END_NOT_TOLD, Test, beyond_at_one_minute, entry_of, facts_of, tests_of
from ._optional import pandas

if TYPE_CHECKING:
    import pandas as pd

_KEYS = {section: [key for key in record_keys() if key["section"] == section] for section in ("resistance", "starts")}
_COLUMNS: Dict[str, Tuple[str, ...]] = {section: tuple(key["name"] for key in keys) for section, keys in _KEYS.items()}
_NEEDED = {section: tuple(key["name"] for key in keys if key["needed"]) for section, keys in _KEYS.items()}
_ALL = [key for keys in _KEYS.values() for key in keys]
_WORDS = tuple(key["name"] for key in _ALL if key["kind"] in ("text", "word"))
_FLAGS = tuple(key["name"] for key in _ALL if key["kind"] == "flag")


class Sections:
    """Rows of a record's other sections by machine, each machine's as dicts under the record's keys."""

    def __init__(
        self,
        insulation: "Optional[pd.DataFrame]",
        resistance: "Optional[pd.DataFrame]",
        starts: "Optional[pd.DataFrame]",
        rules: Any = None,
        extra: str = "refuse",
    ) -> None:
        self._rules = rules
        self._labels: Dict[str, Any] = {}
        self._tests: Dict[str, List[Test]] = {}
        self._rows: Dict[str, Dict[str, List[Dict[str, Any]]]] = {}
        self.left_out: Dict[str, List[str]] = {}
        if insulation is not None:
            for test in tests_of(insulation, None, extra):
                self._tests.setdefault(self._name(test.machine, "insulation"), []).append(test)
        for section, frame in (("resistance", resistance), ("starts", starts)):
            if frame is not None:
                self._read(section, frame, extra)

    def _name(self, label: Any, section: str) -> str:
        if columns.absent(label):
            raise trouble_with("missing_key", f"{section}.machine", "nothing", "the name of a machine on every row")
        name = columns.text(label)
        self._labels.setdefault(name, label)
        return name

    def _read(self, section: str, frame: "pd.DataFrame", extra: str) -> None:
        expect_kind(section, frame, pandas().DataFrame, "a pandas.DataFrame")
        known = (columns.MACHINE, *_COLUMNS[section])
        table = columns.from_index(frame, known, section)
        table = only_known(in_own_units(table, known, section), known, extra)
        columns.expect_known(table.columns, known, section)
        columns.expect_there(table.columns, (columns.MACHINE, *_NEEDED[section]), section)
        for row in table.astype(object).to_dict("records"):
            name = self._name(row.pop(columns.MACHINE), section)
            try:
                entry = {key: _plain(key, cell) for key, cell in row.items() if not columns.absent(cell)}
            except ValueError as trouble:
                said = f"{section} {row.get(_COLUMNS[section][0])}: {trouble.args[0]}"
                self.left_out.setdefault(name, []).append(said)
                continue
            self._rows.setdefault(name, {}).setdefault(section, []).append(entry)

    def labels(self) -> List[Any]:
        """Machines of these tables in the order of their first rows."""
        return list(self._labels.values())

    def put(self, label: Any, values: Dict[str, Any]) -> None:
        """Writes a machine's sections into its record."""
        name = columns.text(label)
        rows: Dict[str, List[Dict[str, Any]]] = self._rows.get(name, {})
        values.update(rows)
        for test in self._tests.get(name, []):
            _put_facts(values, facts_of(test))
        found = (self._entry(name, test, values) for test in self._tests.get(name, []))
        entries = [entry for entry in found if entry is not None]
        if entries:
            values["insulation"] = entries

    def _entry(self, name: str, test: Test, values: Dict[str, Any]) -> Optional[Dict[str, Any]]:
        """A test for the record. A reading beyond the range stands there only where its end conforms: it cannot fail."""
        told = self.left_out.setdefault(name, [])
        told.extend(f"insulation {test.keys['circuit']}, {said}" for said in test.readings.left_out)
        end = beyond_at_one_minute(test)
        if not test.readings.exact and end is None:
            beyond = np.isinf(test.readings.beyond.get(60.0, 0.0))
            told.append(f"insulation {test.keys['circuit']}: {END_NOT_TOLD if beyond else 'no reading to judge by'}")
            return None
        entry = entry_of(test)
        if end is None or self._conforms(entry, values):
            return entry
        told.append(f"insulation {test.keys['circuit']}, 60 s: beyond {end:g} Mohm, which is less than is asked for")
        exact = test.readings.exact
        if not exact:
            return None
        return {**entry, "time_s": sorted(exact), "resistance_Mohm": [exact[time] for time in sorted(exact)]}

    def _conforms(self, entry: Dict[str, Any], values: Dict[str, Any]) -> bool:
        kept = {key: values[key] for key in ("format", "machine", "visit", "instruments") if key in values}
        try:
            alone = Record.from_dict({**kept, "run_up": [], "insulation": [entry]})
        except RewoundError:
            return True  # the whole record says what is wrong
        findings = _core.judge_insulation([alone], self._rules, 1)[0]
        return any(f["quantity"] == "insulation_at_40_C" and f["outcome"] == "conforms" for f in findings)


def _put_facts(values: Dict[str, Any], facts: Dict[str, Any]) -> None:
    """Facts of a machine that stand beside its tests; they may not say something else than other tables do."""
    for name, value in facts.items():
        *sections, key = columns.place_in_record(name)
        place = values
        for section in sections:
            place = place.setdefault(section, {})
        stated = place.get(key)
        if stated is None or (name in columns.NEEDED and stated == columns.NEEDED[name]):
            place[key] = value
        elif stated != value:
            raise trouble_with("bad_table", name, f"{stated} and, beside the insulation, {value}", "one of the two")


def _plain(key: str, cell: Any) -> Any:
    if key in _WORDS:
        return columns.text(cell)
    if key in _FLAGS:
        return bool(cell)
    try:
        read = read_cell(cell)
    except ValueError:
        raise ValueError(f"{key} {cell!r} is not a number") from None
    if read.beyond or not np.isfinite(read.value):
        raise ValueError(f"{key} {cell!r} is beyond the range")
    return int(read.value) if read.value.is_integer() and key in ("attempts", "successes", "turns", "parallel",
                                                                  "wire_awg") else read.value  # fmt: skip
