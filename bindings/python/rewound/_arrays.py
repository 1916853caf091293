# SPDX-License-Identifier: MIT
"""Arrays as the compiled part takes them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ._errors import refuse

Array = NDArray[np.float64]


def _numbers(name: str, values: ArrayLike) -> Array:
    """The values as doubles. Text, booleans and complex numbers are refused; masked values become NaN."""
    if type(values) is np.ndarray and values.dtype == np.float64:
        return values  # the compiled part only reads it
    try:
        array = values if isinstance(values, np.ma.MaskedArray) else np.asarray(values)
    except ValueError:
        raise refuse(name, "lists of unequal length", "lists of one length, filled up with NaN") from None
    if array.dtype.kind not in "fiu":
        raise refuse(name, f"values of type {array.dtype}", "real numbers")
    numbers: Any = array.astype(np.float64)
    return np.asarray(numbers.filled(np.nan) if isinstance(array, np.ma.MaskedArray) else numbers, dtype=np.float64)
