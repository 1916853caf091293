# SPDX-License-Identifier: MIT
"""Cells of tables as people and meters write them: numbers, empty ones, and what lies beyond a meter's range."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ._errors import refuse
from ._frame_columns import absent

_BEYOND = re.compile(r"\s*(?:>=?\s*(?P<end>[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?)|O\.?L\.?)\s*$", re.IGNORECASE)


class Cell(NamedTuple):
    """A number, or the end of the range that a reading was beyond: infinite where the cell does not say it."""

    value: float
    beyond: bool = False


def read_cell(cell: Any) -> Cell:
    """A cell as a number; NaN for one that says nothing.

    ``"OL"`` and ``">2000"`` (a number) are readings beyond the range, and so is an infinite number.

    Raises
    ------
    ValueError
        Text or anything else that is no number.
    """
    if isinstance(cell, (bool, np.bool_)):
        raise ValueError(cell)
    if isinstance(cell, (int, float, np.integer, np.floating)):
        return Cell(float(cell), bool(np.isposinf(cell)))
    if absent(cell):
        return Cell(np.nan)
    if not isinstance(cell, str):
        raise ValueError(cell)
    beyond = _BEYOND.match(cell)
    if beyond:
        return Cell(float(beyond["end"]) if beyond["end"] else np.inf, True)
    return Cell(float(cell))  # which refuses other text


def resistances(name: str, values: Any) -> NDArray[np.float64]:
    """Resistances as doubles: NaN where a cell is empty, infinite where it is beyond the tester's range."""
    array = np.asarray(values)
    if array.dtype.kind in "fiu":
        return np.asarray(array, dtype=np.float64)
    out = np.empty(array.shape, dtype=np.float64)
    for place in np.ndindex(array.shape):
        try:
            cell = read_cell(array[place])
        except ValueError:
            at = "".join(f"[{i}]" for i in place)
            raise refuse(
                f"{name}{at}", repr(array[place]), 'a number, or beyond the range as "OL" or ">2000"'
            ) from None
        out[place] = np.inf if cell.beyond else cell.value
    return out
