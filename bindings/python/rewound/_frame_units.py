# SPDX-License-Identifier: MIT
"""Columns whose names carry another unit than the record's."""

from __future__ import annotations

import re
import warnings
from typing import TYPE_CHECKING, Any, Dict, Iterable, Optional, Tuple

from . import _frame_columns as columns
from ._cells import read_cell

if TYPE_CHECKING:
    import pandas as pd

# Powers of ten that may stand before a unit of the record: what a column in them is multiplied by.
_UNITS: Dict[str, Dict[str, float]] = {
    "A": {"A": 1.0, "mA": 1e-3, "uA": 1e-6, "kA": 1e3},
    "V": {"V": 1.0, "mV": 1e-3, "kV": 1e3},
    "W": {"W": 1.0, "mW": 1e-3, "kW": 1e3},
    "ohm": {"ohm": 1.0, "mohm": 1e-3, "kohm": 1e3, "Mohm": 1e6, "Gohm": 1e9},
    "Mohm": {"ohm": 1e-6, "kohm": 1e-3, "Mohm": 1.0, "Gohm": 1e3, "Tohm": 1e6},
    "s": {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0},
    "Hz": {"Hz": 1.0, "kHz": 1e3},
    "rpm": {"rpm": 1.0, "rps": 60.0},
}


def meant_by(column: str, known: Iterable[str]) -> Optional[Tuple[str, float]]:
    """The known column of the same name in the record's unit and the factor to it; None where there is none."""
    stem, _, unit = column.rpartition("_")
    for name in known:
        there, _, own = name.rpartition("_")
        factor = _UNITS.get(own, {}).get(unit)
        if there == stem and factor is not None:
            return name, factor
    return None


def in_own_units(df: "pd.DataFrame", known: Tuple[str, ...], frame: str) -> "pd.DataFrame":
    """The frame with columns in other units turned into the record's; a warning names each."""
    renamed: Dict[Any, Tuple[str, float]] = {}
    for column in df.columns:
        meant = None if column in known else meant_by(str(column), known)
        if meant is not None and meant[0] not in df.columns:
            renamed[column] = meant
    if not renamed:
        return df
    out = df.copy(deep=False)
    for column, (name, factor) in renamed.items():
        warnings.warn(f"{frame}.{column} is taken as {name}, times {factor:g}", UserWarning, stacklevel=4)
        out[column] = [_times(cell, factor) for cell in df[column]]
    return out.rename(columns={column: name for column, (name, _) in renamed.items()})


def _times(cell: Any, factor: float) -> Any:
    """A cell in the other unit; one that is no number stays, to be refused where it is read."""
    if columns.absent(cell):
        return None
    try:
        read = read_cell(cell)
    except ValueError:
        return cell
    if read.beyond:
        return f">{read.value * factor:.12g}" if read.value < float("inf") else "OL"
    return read.value * factor


def only_known(df: "pd.DataFrame", known: Tuple[str, ...], extra: str) -> "pd.DataFrame":
    """The frame without columns that are not known, where these are to be ignored."""
    if extra == "refuse":
        return df
    return df[[column for column in df.columns if column in known]]
