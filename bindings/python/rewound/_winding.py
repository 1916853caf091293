# SPDX-License-Identifier: MIT
"""Winding resistance from the wire, and the wire from the resistance."""

from __future__ import annotations

from typing import NamedTuple, Optional, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._errors import refuse
from ._words import Material
from ._values import is_value

Array = NDArray[np.float64]

_MATERIALS = ("copper", "aluminium")


@is_value
class WindingExplanation(NamedTuple):
    """Which wire, or how many turns, explain a winding resistance; made by :func:`explain_resistance`.

    Attributes
    ----------
    wire_diameter_mm, wire_diameter_u_mm : ndarray or None
        Diameter of the bare wire [mm] and its standard uncertainty, turns being as stated; None without turns.
    wire_awg : ndarray or None
        The American wire gauge of that diameter [1], seldom a whole number.
    turns, turns_u : ndarray or None
        Number of turns [1] and its standard uncertainty, the wire being as stated; None without a wire.
    """

    wire_diameter_mm: Optional[Array]
    wire_diameter_u_mm: Optional[Array]
    wire_awg: Optional[Array]
    turns: Optional[Array]
    turns_u: Optional[Array]


def expected_resistance(
    turns: ArrayLike,
    mean_turn_mm: ArrayLike,
    *,
    wire_diameter_mm: Optional[ArrayLike] = None,
    wire_awg: Optional[ArrayLike] = None,
    parallel: ArrayLike = 1,
    material: Material = "copper",
    temperature_C: ArrayLike = 20.0,
    wire_limit: Optional[float] = None,
    mean_turn_limit: Optional[float] = None,
) -> Tuple[Array, Array]:
    """Resistance that a winding section should have by its wire.

    Parameters
    ----------
    turns : array_like
        Turns in series [1], above 0. All arrays are broadcast against each other.
    mean_turn_mm : array_like
        Mean length of a turn [mm].
    wire_diameter_mm, wire_awg : array_like
        Diameter of the bare wire [mm], or its American wire gauge [1], 0 to 56 (ASTM B258): one of the two.
    parallel : array_like
        Strands in parallel, whole.
    material : {"copper", "aluminium"}
    temperature_C : array_like
        Temperature of the winding [degC].
    wire_limit, mean_turn_limit : float, optional
        Relative limits of the wire's ohms per metre and of the mean turn, taken as rectangular (GUM 4.3.7). Where None,
        those of ``reference/limits/practice.table``: 0.04 (IEC 60317-0-1) and 0.03 (common practice, no source).

    Returns
    -------
    value, standard_uncertainty : ndarray
        Resistance [ohm].

    Raises
    ------
    PreconditionError
        A number is out of range, or not one of wire_diameter_mm and wire_awg is given.

    Notes
    -----
    Metric wire has 58.5 MS/m (IEC 60317-0-1), wire by gauge 58 MS/m (IEC 60028), aluminium 0.028264 ohm mm2/m
    (IEC 60889, from memory); 234.5 K and 225 K bring it to the temperature.

    Examples
    --------
    >>> value, u = rewound.expected_resistance(640, 130.0, wire_diameter_mm=0.315)
    >>> round(float(value), 2), round(float(u), 2)
    (18.25, 0.53)
    """
    diameter, by_gauge = _wire(wire_diameter_mm, wire_awg, required=True)
    aluminium = _aluminium(material)
    at_20 = _core.wound_resistance(diameter, _numbers("turns", turns), _numbers("mean_turn_mm", mean_turn_mm),
                                   _numbers("parallel", parallel), aluminium, by_gauge)  # fmt: skip
    value = np.asarray(_core.resistance_at(at_20, 20.0, _numbers("temperature_C", temperature_C), aluminium))
    return value, value * _wire_uncertainty(wire_limit, mean_turn_limit)


def explain_resistance(
    resistance_ohm: ArrayLike,
    mean_turn_mm: ArrayLike,
    *,
    turns: Optional[ArrayLike] = None,
    wire_diameter_mm: Optional[ArrayLike] = None,
    wire_awg: Optional[ArrayLike] = None,
    parallel: ArrayLike = 1,
    material: Material = "copper",
    temperature_C: ArrayLike = 20.0,
    resistance_u_ohm: ArrayLike = 0.0,
    wire_limit: Optional[float] = None,
    mean_turn_limit: Optional[float] = None,
) -> WindingExplanation:
    """Which wire size, or how many turns, would explain a measured winding resistance.

    The inverse of :func:`expected_resistance`: with ``turns`` it gives the wire, with a wire the turns, with both each
    of them while the other is as stated.

    Parameters
    ----------
    resistance_ohm : array_like
        Measured resistance [ohm], above 0, at temperature_C.
    mean_turn_mm, turns, wire_diameter_mm, wire_awg, parallel, material, temperature_C, wire_limit, mean_turn_limit
        As for :func:`expected_resistance`.
    resistance_u_ohm : array_like
        Standard uncertainty of the resistance [ohm].

    Returns
    -------
    WindingExplanation

    Raises
    ------
    PreconditionError
        A number is out of range, both wire_diameter_mm and wire_awg are given, or neither turns nor a wire.

    Examples
    --------
    >>> found = rewound.explain_resistance(23.0, 130.0, turns=640, wire_diameter_mm=0.315)
    >>> round(float(found.wire_diameter_mm), 3), round(float(found.turns))
    (0.281, 807)
    """
    if turns is None and wire_diameter_mm is None and wire_awg is None:
        raise refuse("turns", "neither turns nor a wire", "turns, wire_diameter_mm or wire_awg")
    diameter, by_gauge = _wire(wire_diameter_mm, wire_awg, required=False)
    aluminium = _aluminium(material)
    ohm, u_ohm = _numbers("resistance_ohm", resistance_ohm), _numbers("resistance_u_ohm", resistance_u_ohm)
    at_20 = _core.resistance_at(ohm, _numbers("temperature_C", temperature_C), 20.0, aluminium)
    length, strands = _numbers("mean_turn_mm", mean_turn_mm), _numbers("parallel", parallel)
    size = size_u = gauge = count = count_u = None
    if turns is not None:
        size = np.asarray(
            _core.diameter_that_explains(at_20, _numbers("turns", turns), length, strands, aluminium, by_gauge)
        )
        gauge = np.asarray(_core.awg_of(size))
    if diameter is not None:
        count = np.asarray(_core.turns_that_explain(at_20, diameter, length, strands, aluminium, by_gauge))
    relative = np.hypot(u_ohm / ohm, _wire_uncertainty(wire_limit, mean_turn_limit))
    if size is not None:
        size_u = 0.5 * relative * size  # the diameter goes as resistance to the power -1/2
    if count is not None:
        count_u = relative * count
    return WindingExplanation(size, size_u, gauge, count, count_u)


def _wire(diameter: Optional[ArrayLike], gauge: Optional[ArrayLike], required: bool) -> Tuple[Optional[Array], bool]:
    """The diameter in mm, and whether it was stated by gauge."""
    if (diameter is not None and gauge is not None) or (required and diameter is None and gauge is None):
        read = "neither" if diameter is None else "both"
        raise refuse("wire_diameter_mm", f"{read} of wire_diameter_mm and wire_awg", "one of them")
    if gauge is not None:
        return np.asarray(_core.awg_diameter_mm(_numbers("wire_awg", gauge))), True
    return (None if diameter is None else _numbers("wire_diameter_mm", diameter)), False


def _aluminium(material: str) -> bool:
    if material not in _MATERIALS:
        raise refuse("material", repr(material), "copper or aluminium")
    return material == "aluminium"


def _wire_uncertainty(wire_limit: Optional[float], mean_turn_limit: Optional[float]) -> float:
    usual_wire, usual_turn = _core.wire_limits()
    limits = (usual_wire if wire_limit is None else float(wire_limit),
              usual_turn if mean_turn_limit is None else float(mean_turn_limit))  # fmt: skip
    for name, value in zip(("wire_limit", "mean_turn_limit"), limits):
        if not 0.0 <= value < 1.0:
            raise refuse(name, repr(value), "a number from 0 to below 1")
    return float(_core.wire_uncertainty(*limits))


def _numbers(name: str, values: ArrayLike) -> Array:
    array = np.asarray(values)
    if array.dtype.kind not in "fiu":
        raise refuse(name, f"values of type {array.dtype}", "real numbers")
    return array.astype(np.float64)
