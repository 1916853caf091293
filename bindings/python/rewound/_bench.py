# SPDX-License-Identifier: MIT
"""Starts, losses at no load, unbalance of three phases."""

from __future__ import annotations

from typing import NamedTuple, Optional, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._coasting import _curve
from ._arrays import _numbers
from ._errors import refuse
from ._values import is_value
from ._words import still_called

Array = NDArray[np.float64]


@is_value
class ProvenStarts(NamedTuple):
    """What start attempts prove, made by :func:`proven_starts`. All arrays have the shape of the counts.

    Attributes
    ----------
    share : ndarray
        Successes over attempts [1].
    at_least : ndarray
        The probability of starting is at least this, at the level, one-sided [1].
    low, high : ndarray
        Two-sided interval of that probability at the level [1].
    further : ndarray
        Starts without failure, on top of those made, that would prove the claim; 0 when it is proved, NaN above ten
        million.
    clean_starts_needed : int
        Starts without failure that would prove the claim from nothing.
    """

    share: Array
    at_least: Array
    low: Array
    high: Array
    further: Array
    clean_starts_needed: int


def proven_starts(
    attempts: ArrayLike, successes: ArrayLike, *, level: float = 0.95, claimed: float = 0.95
) -> ProvenStarts:
    """What a number of start attempts proves of the probability of starting.

    Exact binomial bounds: C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413. Attempts are taken as
    independent, with one probability; a machine that warms up or wears from try to try is not like that.

    Parameters
    ----------
    attempts, successes : array_like
        Counts [1], attempts from 1 to a million, successes from 0 to attempts; broadcast against each other.
    level : float
        Confidence of every statement, from 0.5 to 0.9999.
    claimed : float
        Reliability whose proof is counted out, above 0, up to 0.9999.

    Returns
    -------
    ProvenStarts

    Raises
    ------
    PreconditionError
        A count is not whole or out of range, or a probability is.

    Examples
    --------
    >>> proved = rewound.proven_starts(10, 10)
    >>> round(float(proved.at_least), 3), int(proved.further), proved.clean_starts_needed
    (0.741, 49, 59)
    """
    tried, started = np.broadcast_arrays(_numbers("attempts", attempts), _numbers("successes", successes))
    if tried.size == 0:
        raise refuse("attempts", "no count", "one or more")
    rows = _core.starts(tried.ravel(), started.ravel(), float(level), float(claimed))
    share, at_least, low, high, needed, further = rows.reshape((6, *tried.shape))
    return ProvenStarts(share, at_least, low, high, further, int(np.ravel(needed)[0]))


@is_value
class PositionDifference(NamedTuple):
    """The position that stands out most below the others, made by :func:`compare_positions`.

    Attributes
    ----------
    position : int
        Its place among the counts.
    probability : float
        Of so large a difference by chance [1], times the positions looked at: Fisher's exact test.
    comparisons : int
        Positions compared with the others; 1 when there are two.
    difference, low, high : float
        Share of successes here less that of the others together [1], and its interval, of this position alone.
    """

    position: int
    probability: float
    comparisons: int
    difference: float
    low: float
    high: float


def compare_positions(
    attempts: ArrayLike, successes: ArrayLike, *, level: float = 0.95
) -> Optional[PositionDifference]:
    """Whether a machine starts less often in one position than in the others.

    Each position against all others together: Fisher's exact test (two-sided, summing the less probable tables), times
    the number of comparisons (Bonferroni); the interval of the difference is made of both shares' score intervals
    (R. G. Newcombe, Statistics in Medicine 17 (1998) 873-890, method 10, from memory).

    Parameters
    ----------
    attempts, successes : array_like, shape (n_positions,)
        Counts [1], as for :func:`proven_starts`.
    level : float
        Coverage of the interval, between 0 and 1.

    Returns
    -------
    PositionDifference or None
        None with fewer than two positions, or when no start failed.

    Raises
    ------
    PreconditionError
        A count is not whole or out of range, a shape does not fit, or the level is outside (0, 1).

    Examples
    --------
    >>> found = rewound.compare_positions([20, 10], [20, 5])
    >>> found.position, round(found.probability, 4), round(found.difference, 2)
    (1, 0.0018, -0.5)
    """
    tried, started = _curve("attempts", attempts, "successes", successes)
    found = _core.compare_positions(tried, started, float(level))
    return None if found is None else PositionDifference(*found)


@is_value
class NoLoadLosses(NamedTuple):
    """Losses at no load taken apart, made by :func:`separate_no_load`.

    Attributes
    ----------
    status : str
        ``separated``; ``too_few``: under three readings on the straight part; ``not_told``: the interval of friction
        and         windage holds 0; ``below_nothing``: it lies below 0, which no friction does.
    used : int
        Readings on the straight part.
    from_V, to_V : float
        Its lowest and highest voltage [V].
    friction_W, friction_u_W : float
        Friction and windage [W] at the speed of no load, and the standard uncertainty; NaN with too few readings.
    core_W, core_u_W, core_at_V : float
        Core loss [W], its standard uncertainty, and the voltage of the reading near the rated one that it is told at
        [V]; NaN unless separated and read there.
    """

    status: str
    used: int
    from_V: float
    to_V: float
    friction_W: float
    friction_u_W: float
    core_W: float
    core_u_W: float
    core_at_V: float


@still_called("power_W", loss_u="loss_u_relative", power_gain_u="power_gain_u_relative")
def separate_no_load(
    voltage_V: ArrayLike,
    current_A: ArrayLike,
    *,
    power_W: ArrayLike,
    rated_voltage_V: float,
    loss_resistance_ohm: float,
    power_u_W: ArrayLike,
    voltage_u_V: ArrayLike = 0.0,
    current_u_A: ArrayLike = 0.0,
    loss_u_relative: float = 0.0,
    power_gain_u_relative: float = 0.0,
    straight_to: float = 0.8,
    near_rating: float = 0.05,
    core_exponent: Tuple[float, float] = (1.6, 2.2),
) -> NoLoadLosses:
    """Take core loss apart from friction and windage, from a machine that runs with a bare shaft.

    Power without I^2 R is a straight line over the square of the voltage as long as the iron is not saturated; at no
    voltage friction and windage remain.

    Parameters
    ----------
    voltage_V, current_A, power_W : array_like, shape (n,)
        Readings [V], [A], [W, of all phases], above 0, in any order.
    rated_voltage_V : float
        Rated voltage [V].
    loss_resistance_ohm : float
        R of I^2 R by the current read [ohm]: single phase the winding's, with a quarter of the rotor's where it is
        known; three phases 1.5 times the resistance between two terminals.
    power_u_W, voltage_u_V, current_u_A : array_like, shape () or (n,)
        Standard uncertainties of each reading by itself; the first above 0.
    loss_u_relative, power_gain_u_relative : float
        Relative standard uncertainties [1] common to all readings: of I^2 R, and of the wattmeter.
    straight_to, near_rating : float
        Highest voltage of the straight part, and how far from the rating core loss may be told, over the rated voltage
        [1]. Common practice, no source.
    core_exponent : pair of float
        What the core loss's exponent of the voltage may be, from 1 to 3; half the change that it makes goes into the
        uncertainty. Common practice, no source.

    Returns
    -------
    NoLoadLosses

    Raises
    ------
    PreconditionError
        A number is out of range, or a shape does not fit.

    Notes
    -----
    IEEE 112, IEEE 114, IEC 60034-2-1 6.1.2.5 (from memory, unverified).

    Examples
    --------
    >>> volts = [60, 80, 100, 120, 160]
    >>> watts = [4.0 + 0.002 * v * v for v in volts]
    >>> found = rewound.separate_no_load(volts, [0.2] * 5, power_W=watts, rated_voltage_V=160,
    ...                                  loss_resistance_ohm=0, power_u_W=0.05, core_exponent=(2, 2))
    >>> round(found.friction_W, 2), round(found.core_W, 1)
    (4.0, 51.2)
    """
    volts, amperes = _curve("voltage_V", voltage_V, "current_A", current_A)
    _, watts = _curve("voltage_V", voltage_V, "power_W", power_W)
    rows = [volts, amperes, watts]
    for name, value in (("voltage_u_V", voltage_u_V), ("current_u_A", current_u_A), ("power_u_W", power_u_W)):
        u = _numbers(name, value)
        if u.ndim and u.shape != volts.shape:
            raise refuse(name, f"shape {u.shape}", f"one number, or voltage_V's shape {volts.shape}")
        rows.append(np.broadcast_to(u, volts.shape))
    low, high = (float(value) for value in core_exponent)
    return NoLoadLosses(
        *_core.no_load(
            np.array(rows), float(rated_voltage_V), float(loss_resistance_ohm), float(loss_u_relative),
            float(power_gain_u_relative), float(straight_to), float(near_rating), low, high,
        )
    )  # fmt: skip


def unbalance_percent(lines: ArrayLike) -> Array:
    """Unbalance of three lines: largest deviation from their mean, over the mean (NEMA MG 1 12.45, 14.36).

    Not the ratio of symmetrical components that IEC takes, which is another number.

    Parameters
    ----------
    lines : array_like, shape (..., 3)
        Line voltages [V] or currents [A], finite, not below 0, not all three 0.

    Returns
    -------
    ndarray, shape (...)
        Percent.

    Raises
    ------
    PreconditionError
        A number is out of range, or the last axis is not three long.

    Examples
    --------
    >>> round(float(rewound.unbalance_percent([480, 476, 472])), 2)
    0.84
    """
    values = _numbers("lines", lines)
    if values.ndim == 0 or values.shape[-1] != 3:
        raise refuse("lines", f"shape {values.shape}", "a last axis of three lines")
    return np.asarray(_core.unbalance_percent(values.reshape(-1, 3))).reshape(values.shape[:-1])


def unbalance_derating(voltage_unbalance_percent: ArrayLike) -> Array:
    """Share of the rated output that a machine may give on unbalanced line voltages.

    Parameters
    ----------
    voltage_unbalance_percent : array_like
        Percent, by :func:`unbalance_percent`, finite, not below 0.

    Returns
    -------
    ndarray
        Shares [1], 1 up to 1 %; NaN above 5 %, where a machine should not be run at all.

    Raises
    ------
    PreconditionError
        A number is out of range.

    Notes
    -----
    NEMA MG 1 Figure 14-1, read off a curve within 0.02, its first row from memory; straight lines between.

    Examples
    --------
    >>> rewound.unbalance_derating([0.5, 2.0, 6.0]).tolist()
    [1.0, 0.95, nan]
    """
    return np.asarray(
        _core.voltage_unbalance_derating(_numbers("voltage_unbalance_percent", voltage_unbalance_percent))
    )


@is_value
class RolledLeads(NamedTuple):
    """Unbalance of line currents taken apart by rolling the leads, made by :func:`compare_rolled_leads`.

    Attributes
    ----------
    winding_percent, line_percent : ndarray, shape (3,)
        Deviations that moved with the leads, by lead, and that stayed with the lines, by line; percent of the mean.
    largest_winding_percent, largest_line_percent : float
        The largest of each in size.
    u_percent : float
        Standard uncertainty of one deviation, from the ammeter.
    """

    winding_percent: Array
    line_percent: Array
    largest_winding_percent: float
    largest_line_percent: float
    u_percent: float


def compare_rolled_leads(
    before_A: ArrayLike, after_A: ArrayLike, *, rolled: int = 1, current_u_A: float = 0.0
) -> RolledLeads:
    """Tell whether an unbalance is the winding's or the supply's: read the lines again with the leads rolled.

    Parameters
    ----------
    before_A, after_A : array_like, shape (3,)
        Currents of the lines [A] with the leads as marked and with each lead moved on by ``rolled`` lines.
    rolled : {1, 2}
        Once: L1 to L2, L2 to L3, L3 to L1.
    current_u_A : float
        Standard uncertainty of one reading by itself [A].

    Returns
    -------
    RolledLeads

    Raises
    ------
    PreconditionError
        A number is out of range, or a shape is not (3,).

    Notes
    -----
    Rolling the leads is common practice, no source; that the two parts add up is an approximation for small unbalance.

    Examples
    --------
    >>> found = rewound.compare_rolled_leads([11, 10, 9], [9, 11, 10])
    >>> round(found.largest_winding_percent, 6), round(abs(found.largest_line_percent), 6)
    (10.0, 0.0)
    """
    before, after = _curve("before_A", before_A, "after_A", after_A)
    if before.shape != (3,):
        raise refuse("before_A", f"shape {before.shape}", "three currents")
    if rolled not in (1, 2):
        raise refuse("rolled", repr(rolled), "1 or 2")
    winding, line, *rest = _core.rolled_leads(before, after, int(rolled), float(current_u_A))
    return RolledLeads(np.array(winding), np.array(line), *rest)
