# SPDX-License-Identifier: MIT
"""Heat runs: rise by resistance, projection to the final rise, cooling back to switch-off."""

from __future__ import annotations

from typing import Any, List, NamedTuple, Optional, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._coasting import _curve
from ._arrays import _numbers
from ._errors import refuse
from ._plots_curves import plot_heat_run
from ._shown import Remade
from ._winding import _aluminium
from ._words import Material, still_called
from ._values import is_value

Array = NDArray[np.float64]


class HeatProjection(Remade):
    """What a heat run comes to, made by :func:`project_heat_run`.

    Attributes
    ----------
    status : str
        ``projected``; ``too_few_readings``: under three; ``not_heating``: the readings fall beyond what the meter
        explains; ``not_moving`` is of a record alone. Only ``projected`` carries numbers, else they are NaN.
    final_rise_K, low_K, high_K : float
        Final rise over the ambient [K]: median and 95 % interval; skewed to the hot side early in a run.
    time_constants_s : list of float
        Of the best fit [s], slowest first: one, or two where the readings carry a fast part.
    slow_time_constant_s : float
        Of the slow body [s], in the middle of all that are weighed.
    at_end_K : float
        Rise of the best fit at the last reading [K].
    change_in_30_min_K : float
        Of the best fit, up to the last reading [K].
    steady_after_s, known_after_s : float or None
        Further time [s] until the change within 30 minutes is down to ``steady_within_K``, and until the 95 % interval
        of the final rise is within ``known_within_K`` to either side, readings going on as before; 0 when it is so
        already, None when not within 20 time constants.
    chi2, scale : float
        Sum of squared residuals over u; factor by which the readings scatter more than stated, at least 1: the
        statement counts as four degrees of freedom.
    """

    def __init__(self, run: _core.HeatRun) -> None:
        self._run = run
        self.status: str = run.status
        known = self.status == "projected"
        self.final_rise_K = run.quantile(0.5, 0.0) if known else np.nan
        self.low_K, self.high_K = self.interval() if known else (np.nan, np.nan)
        self.time_constants_s: List[float] = run.time_constants
        self.slow_time_constant_s: float = run.slow_time_constant if known else np.nan
        self.at_end_K: float = run.at_end if known else np.nan
        self.change_in_30_min_K: float = run.change_in_30_min if known else np.nan
        self.steady_after_s: Optional[float] = run.steady_after
        self.known_after_s: Optional[float] = run.known_after
        self.chi2: float = run.chi2 if known else np.nan
        self.scale: float = run.scale if known else np.nan

    def interval(self, level: float = 0.95, further_u_K: float = 0.0) -> Tuple[float, float]:
        """Interval of the final rise.

        Parameters
        ----------
        level : float
            Coverage, between 0 and 1, equal tails.
        further_u_K : float
            Standard uncertainty [K] of what all readings share: cold resistance and temperature, ambient.

        Returns
        -------
        low, high : float
            Rises [K].

        Raises
        ------
        PreconditionError
            The level is outside (0, 1), further_u_K is below 0, or nothing was projected.
        """
        if not 0.0 < level < 1.0:
            raise refuse("level", repr(level), "a number between 0 and 1")
        further = _from_zero("further_u_K", further_u_K)
        return self._run.quantile(0.5 - level / 2.0, further), self._run.quantile(0.5 + level / 2.0, further)

    def probability_below(self, rise_K: float, further_u_K: float = 0.0) -> float:
        """Probability that the final rise lies below a limit.

        Parameters
        ----------
        rise_K : float
            The limit [K], such as that of the insulation class.
        further_u_K : float
            As for :meth:`interval`.

        Returns
        -------
        float
            Probability [1].

        Raises
        ------
        PreconditionError
            further_u_K is below 0, or nothing was projected.
        """
        return self._run.probability_below(float(rise_K), _from_zero("further_u_K", further_u_K))

    def predict(self, time_s: ArrayLike, level: float = 0.95) -> Tuple[Array, Array, Array]:
        """Rise at given times, before the first reading, between the readings or beyond the last.

        Parameters
        ----------
        time_s : array_like, shape () or (m,)
            Times since switched on [s].
        level : float
            Coverage of the two-sided interval, between 0 and 1, equal tails.

        Returns
        -------
        value, low, high : ndarray, shape () or (m,)
            Median and ends of the interval of the curve [K], what the readings share not in it; far ahead those of
            ``final_rise_K`` and :meth:`interval`.

        Raises
        ------
        PreconditionError
            A time that is not finite, a level outside (0, 1), or nothing was projected.

        Examples
        --------
        >>> run = rewound.project_heat_run([0, 2400, 4800, 7200], [0.0, 30.0, 45.0, 52.5], rise_u_K=0.3)
        >>> value, low, high = run.predict([2400, 9600])
        >>> value.round()
        array([30., 57.])
        """
        times = _numbers("time_s", time_s)
        if times.ndim > 1:
            raise refuse("time_s", f"shape {times.shape}", "one number or one dimension")
        if not np.isfinite(times).all():
            raise refuse("time_s", "a time that is not finite", "finite times")
        rows = self._run.rises(np.atleast_1d(times), float(level))
        value, low, high = rows if times.ndim else rows[:, 0]
        return np.asarray(value), np.asarray(low), np.asarray(high)

    @still_called(axes="ax")
    def plot(self, ax: Any = None, **keywords: Any) -> Any:
        """Draw the rise over the time, the curve with its 95 % interval to three time constants ahead, and the final
        rise.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            New ones where None; formerly ``axes``, which works with a DeprecationWarning.
        **keywords
            For Matplotlib's ``plot`` of the readings, such as ``markersize=8``.

        Returns
        -------
        matplotlib.axes.Axes
            Rise [K] over time [min].

        Raises
        ------
        MissingPackageError
            Matplotlib is not installed.
        """
        times, rises, _ = self._made_by[1]
        return plot_heat_run(self, times, rises, ax, keywords)

    def __repr__(self) -> str:
        if self.status != "projected":
            return f"<rewound.HeatProjection {self.status}>"
        return f"<rewound.HeatProjection {self.final_rise_K:.1f} K ({self.low_K:.1f} to {self.high_K:.1f})>"


@still_called(time_constant_min="time_constant_s*60", fast_min="fast_s*60")
def project_heat_run(
    time_s: ArrayLike,
    rise_K: ArrayLike,
    *,
    rise_u_K: ArrayLike,
    time_constant_s: float = 3000.0,
    time_constant_factor: float = 2.2,
    fast_s: Tuple[float, float] = (60.0, 600.0),
    fast_share: float = 0.5,
    two_parts_certainty: float = 12.0,
    known_within_K: float = 2.0,
    steady_within_K: float = 1.0,
    absolute_sigma: bool = False,
) -> HeatProjection:
    """Project a heat run to its final rise, of a winding that warms fast on a frame that warms slowly.

    rise = final - a ((1 - share) exp(-t / slow) + share exp(-t / fast)).

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times [s], not below 0, rising; three or more for a projection.
    rise_K : array_like, shape (n,)
        Rises over the ambient [K], by :func:`rise_by_resistance` or a thermometer.
    rise_u_K : array_like, shape () or (n,)
        Standard uncertainty of one rise [K], above 0, independent from reading to reading.
    time_constant_s, time_constant_factor : float
        Usual thermal time constant [s] of the slow body, and the factor, above 1, by which such constants spread
        (one standard deviation). They count while the run does not show its own. Common practice, no source.
    fast_s : tuple of float
        Shortest and longest time constant [s] of the fast body. Common practice, no source.
    fast_share : float
        Largest share of the rise that may be the fast body's, from 0 to below 1; 0: the machine is one body.
    two_parts_certainty : float
        Fall of chi2 from which a second time constant is named (project's choice).
    known_within_K, steady_within_K : float
        See :class:`HeatProjection`. 1 K in 30 min is IEC 60034-1's and IEEE 112's (from memory, unverified).
    absolute_sigma : bool
        True: the uncertainties hold as stated, whatever the scatter, and ``scale`` is 1. False: they are a statement
        that counts as four degrees of freedom beside the readings' scatter, as in :func:`judge`.

    Returns
    -------
    HeatProjection

    Raises
    ------
    PreconditionError
        A number is out of range, times do not rise, or a shape does not fit.

    Notes
    -----
    The final rise is a sum of normal distributions over both time constants and the share, weighed by likelihood and
    what is believed of them above; its 95 % interval is held against simulated two-body machines in
    ``tests/laws/verdict/test_heat_laws.cpp``.

    Examples
    --------
    >>> run = rewound.project_heat_run([0, 2400, 4800, 7200], [0.0, 30.0, 45.0, 52.5], rise_u_K=0.3)
    >>> round(run.final_rise_K)
    61
    """
    times, rises = _curve("time_s", time_s, "rise_K", rise_K)
    u = _numbers("rise_u_K", rise_u_K)
    u = np.full_like(times, u) if u.ndim == 0 else u
    if u.shape != times.shape:
        raise refuse("rise_u_K", f"shape {u.shape}", f"one number, or time_s's shape {times.shape}")
    return HeatProjection._made(
        "project_heat_run", times, rises, u,
        time_constant_s=float(time_constant_s),
        time_constant_factor=float(time_constant_factor),
        two_parts_certainty=_from_zero("two_parts_certainty", two_parts_certainty),
        known_within_K=float(known_within_K),
        steady_within_K=float(steady_within_K),
        fast_from_s=float(fast_s[0]),
        fast_to_s=float(fast_s[1]),
        fast_share=float(fast_share),
        absolute_sigma=bool(absolute_sigma),
    )  # fmt: skip


@still_called("hot_ohm", "ambient_C")
def rise_by_resistance(
    cold_ohm: ArrayLike,
    cold_C: ArrayLike,
    *,
    hot_ohm: ArrayLike,
    ambient_C: ArrayLike,
    material: Material = "copper",
    copper_constant_K: float = 234.5,
) -> Array:
    """Rise of a winding over its coolant by resistance: (R2 - R1) / R1 (k + t1) - (t2 - t1).

    Parameters
    ----------
    cold_ohm, hot_ohm : array_like
        Resistances R1 and R2 [ohm], above 0. All arrays are broadcast against each other.
    cold_C : array_like
        Temperature t1 of the winding at R1 [degC].
    ambient_C : array_like
        Temperature t2 of the coolant at R2 [degC].
    material : {"copper", "aluminium"}
        Aluminium has k = 225 K.
    copper_constant_K : float
        k of copper [K]: 234.5 (IEC 60335-1, IEEE 112, NEMA) or 235 (IEC 60034-1).

    Returns
    -------
    ndarray
        Rises [K].

    Raises
    ------
    PreconditionError
        A number is out of range, or the material is neither.

    Notes
    -----
    IEC 60034-1 8.6.2 (from memory, unverified); MIL-DTL-917F 4.6.1.2.1 has the same in another form.

    Examples
    --------
    >>> round(float(rewound.rise_by_resistance(12.5, 22, hot_ohm=15.1, ambient_C=24)), 3)
    51.352
    """
    return np.asarray(
        _core.rise_by_resistance(
            _numbers("cold_ohm", cold_ohm), _numbers("cold_C", cold_C), _numbers("hot_ohm", hot_ohm),
            _numbers("ambient_C", ambient_C), _aluminium(material), float(copper_constant_K),
        )
    )  # fmt: skip


@is_value
class SwitchOff(NamedTuple):
    """Resistance at the moment of switch-off, made by :func:`resistance_at_switch_off`.

    Attributes
    ----------
    status : str
        ``extrapolated``: by the straight line of the logarithm; ``highest_taken``: it still rose after switch-off;
        ``first_taken``: one reading as it is, a lower bound; ``not_cooling``: no fall towards the ambient, numbers NaN.
    resistance_ohm, resistance_u_ohm : float
        Resistance [ohm] and its standard uncertainty.
    time_constant_s : float
        Of the cooling [s]; NaN unless extrapolated.
    """

    status: str
    resistance_ohm: float
    resistance_u_ohm: float
    time_constant_s: float


def resistance_at_switch_off(
    time_s: ArrayLike, resistance_ohm: ArrayLike, *, ambient_ohm: float, resistance_u_ohm: float
) -> SwitchOff:
    """Carry cooling readings back to the moment of switch-off.

    The logarithm of resistance less ``ambient_ohm`` is a straight line in time; a resistance that still rises after
    switch-off is not extrapolated, its highest value stands (IEC 60034-1 8.6.2, from memory, unverified).

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times since switch-off [s], not below 0, rising; one reading or more.
    resistance_ohm : array_like, shape (n,)
        Resistances [ohm], above 0.
    ambient_ohm : float
        Resistance of the winding as cold as the air [ohm].
    resistance_u_ohm : float
        Standard uncertainty of one reading by itself [ohm], above 0.

    Returns
    -------
    SwitchOff

    Raises
    ------
    PreconditionError
        No reading, a number out of range, times that do not rise, or a shape that does not fit.

    Examples
    --------
    >>> ohms = [12.32968, 12.12667]
    >>> off = rewound.resistance_at_switch_off([60, 120], ohms, ambient_ohm=10.19646, resistance_u_ohm=0.001)
    >>> off.status, round(off.resistance_ohm, 2)
    ('extrapolated', 12.55)
    """
    times, ohms = _curve("time_s", time_s, "resistance_ohm", resistance_ohm)
    return SwitchOff(*_core.switch_off(times, ohms, float(ambient_ohm), float(resistance_u_ohm)))


def _from_zero(name: str, value: float) -> float:
    if not (np.isfinite(value) and value >= 0.0):
        raise refuse(name, repr(value), "a finite number, 0 or above")
    return float(value)
