# SPDX-License-Identifier: MIT
"""Columns of a long frame of readings: the record's keys, those of run-ups reading by reading."""

from __future__ import annotations

import datetime
import difflib
from typing import TYPE_CHECKING, Any, Dict, Iterable, List, Optional, Tuple

import numpy as np

from ._core import line_columns, record_keys
from ._errors import InputError

if TYPE_CHECKING:
    import pandas as pd

MACHINE = "machine"

_KEYS = record_keys()


def _of(section: str) -> List[Dict[str, Any]]:
    return [key for key in _KEYS if key["section"] == section]


# Of a run-up, one value a row; what is read on three lines stands in three columns, as in a record's tables.
LINES: Dict[str, Tuple[str, int]] = {column: (key, line) for column, key, line in line_columns()}
LISTS = tuple(
    key["name"] for key in _of("run_up") if key["of_row"] and not key["row_only"] and key["name"] != "line_voltage_V"
)
# Constant within a run-up.
RUN_UP = tuple(key["name"] for key in _of("run_up") if not key["of_row"])

MACHINE_FACTS = tuple(key["name"] for key in _of("machine") if key["name"] != "id")
VISIT_FACTS = tuple(key["name"] for key in _of("visit"))
METERS = ("voltmeter", "ammeter", "wattmeter", "tachometer")
_LINKS = ("address", "query", "timeout_s")  # how `rewound bench` asks an instrument
METER_FACTS = tuple(
    f"instruments.{meter}.{key['name']}"
    for meter in METERS
    for key in _of("instruments.voltmeter")
    if key["name"] not in _LINKS
)
FACTS = MACHINE_FACTS + VISIT_FACTS + METER_FACTS
# Of the instruments that other tables than run-ups are read with.
BESIDE_FACTS = tuple(
    f"instruments.{meter}.{key}"
    for meter in ("ohmmeter", "insulation_tester", "thermometer")
    for key in ("name", "reading_percent", "digits", "resolution", "true_rms", "full_scale")
)
READINGS = RUN_UP + LISTS + tuple(LINES)
KNOWN = (MACHINE,) + READINGS + FACTS

# A record has to say these. Where a frame does not, this stands in; None: the frame has to.
NEEDED: Dict[str, Optional[Any]] = {
    "rated_voltage_V": None,
    "rated_frequency_Hz": None,
    "phases": 1,
    "speed_control": "unknown",
    "running_circuit": "unknown",
    "state": "as_found",
}
_COLUMNS = [key for key in _KEYS if key["section"] in ("machine", "visit", "run_up")]
_TEXTS = {key["name"] for key in _COLUMNS if key["kind"] in ("text", "word")}
_FLAGS = {key["name"] for key in _COLUMNS if key["kind"] == "flag"}
TEXT_LISTS = tuple(key["name"] for key in _COLUMNS if key["kind"] == "texts")


def expect_known(columns: Iterable[Any], known: Tuple[str, ...], frame: str) -> None:
    """Refuses a column that is not known, with the nearest one, and a column that stands there twice."""
    seen = set()
    for column in columns:
        if column not in known:
            near = difflib.get_close_matches(str(column), known, n=1)
            allowed = f"did you mean {near[0]}?" if near else "one of " + ", ".join(known)
            raise _refused("unknown_key", frame, str(column), "no column of that name is known", allowed)
        if column in seen:
            raise _refused("repeated", frame, str(column), "this column twice", "each column once")
        seen.add(column)


def from_index(df: "pd.DataFrame", known: Tuple[str, ...], frame: str) -> "pd.DataFrame":
    """The frame with those levels of its index as columns that have a known name."""
    levels = [name for name in df.index.names if name in known]
    for name in levels:
        if name in df.columns:
            raise _refused("repeated", frame, str(name), "this name in the index and as a column", "one of them")
    return df.reset_index(level=levels) if levels else df


def expect_there(columns: Iterable[Any], needed: Tuple[str, ...], frame: str) -> None:
    """Refuses a frame that lacks a column."""
    there = set(columns)
    for column in needed:
        if column not in there:
            raise _refused("missing_key", frame, column, "no such column", f"a column {column}")


def given_twice(column: str) -> InputError:
    """The error for facts in the readings and in the machines."""
    return _refused("repeated", "machines", column, "a column of the readings as well", "the column in one of them")


def _refused(code: str, frame: str, column: str, read: str, allowed: str) -> InputError:
    field = f"{frame}.{column}"
    return InputError(f"{field}: read {read}, allowed: {allowed}", code=code, field=field, read=read, allowed=allowed)


def absent(value: Any) -> bool:
    """Whether a cell says nothing: None, NaN, NaT, pandas.NA, or an empty text."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return True
    if isinstance(value, (list, tuple, np.ndarray)):
        return len(value) == 0
    same = value == value  # not so for NaN and NaT; NA itself for NA
    return not isinstance(same, (bool, np.bool_)) or not same


def plain(column: str, value: Any) -> Any:
    """A cell as the value that the record's reader takes: days of timestamps, texts of codes that look like numbers."""
    if isinstance(value, datetime.datetime):
        return value.date()
    if column in TEXT_LISTS:
        words = value.split(";") if isinstance(value, str) else value
        return [str(word).strip() for word in words]
    if column in _TEXTS or column.endswith(".name"):
        return text(value)
    if column in _FLAGS and isinstance(value, str) and value.lower() in ("true", "false"):
        return value.lower() == "true"
    if column in _FLAGS and isinstance(value, (float, np.floating)) and value in (0.0, 1.0):
        return bool(value)  # what a column of flags with empty cells becomes
    return value


def text(value: Any) -> str:
    """A name as text; one that looks like a whole number has no decimal point."""
    if isinstance(value, (float, np.floating)) and float(value).is_integer():
        return str(int(value))
    return str(value).strip()


def place_in_record(column: str) -> List[str]:
    """Sections and key of a fact in the record."""
    if column in MACHINE_FACTS:
        return ["machine", column]
    if column in VISIT_FACTS:
        return ["visit", column]
    return column.split(".")
