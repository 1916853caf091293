# SPDX-License-Identifier: MIT
"""Coast-down: friction terms from speed against time."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any, List, Mapping, Optional, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._arrays import _numbers
from ._errors import refuse
from ._plots_curves import plot_coast_down
from ._shown import Remade
from ._words import formerly

Array = NDArray[np.float64]

_RPM = 30.0 / np.pi
_TERMS = ("constant", "linear", "quadratic")


class CoastDown(Remade):
    """Friction of a machine that coasts to rest, made by :func:`fit_coast_down`.

    The speed w [rad/s] falls by dw/dt = -(c0 + c1 w + c2 w^2): bearing, viscous drag and windage, each over the
    inertia, none of them below 0. Numbers are NaN unless ``status`` is ``fitted``.

    Attributes
    ----------
    status : str
        ``fitted``; ``too_few_readings``: under three in motion; ``not_slowing``: the speed does not fall beyond what
        the tachometer explains.
    terms : ndarray, shape (3,)
        c0 [rad/s2], c1 [1/s], c2 [1/rad].
    covariance : ndarray, shape (3, 3)
        Of the terms, times ``scale`` squared, terms at 0 among them; infinite where the readings cannot tell the terms
        apart.
    fitted : list of bool
        False for a term that was not needed and is 0.
    compare_at_rpm : float
        Speed [rpm] at which the next five are told.
    values, errors : mapping of str to float
        The terms and their standard errors by name: ``constant`` [rad/s2], ``linear`` [1/s], ``quadratic`` [1/rad].
    deceleration_rad_s2, deceleration_u_rad_s2 : float
        All terms together [rad/s2] and the standard uncertainty.
    parts_rad_s2, parts_u_rad_s2 : ndarray, shape (3,)
        What each term has in it [rad/s2]; of a term at 0 the uncertainty says within what it may still be.
    stop_s : float
        Time from there to standstill [s]; infinite without a constant term.
    shares : ndarray, shape (3,)
        parts_rad_s2 over deceleration_rad_s2 [1]: the ratios of the torques, which need no inertia.
    initial_rpm : float
        Fitted speed at the first reading [rpm].
    chi2, scale : float
        Sum of squared residuals over u; factor by which the readings scatter more than stated, at least 1.
    torque_Nm, torque_u_Nm : float or None
        Torque of all friction there [N m] and its standard uncertainty, without that of the inertia; None without one.
    torques_Nm : ndarray, shape (3,), or None
        Torque of each term there [N m].
    """

    def __init__(self, curve: _core.CoastDownCurve, inertia_kgm2: Optional[float]) -> None:
        self._curve = curve
        self.status: str = curve.status
        known = self.status == "fitted"

        def told(value: ArrayLike) -> Array:
            return np.array(value, dtype=np.float64) if known else np.full(np.shape(value), np.nan)

        self.terms: Array = told(curve.terms)
        self.covariance: Array = told(curve.covariance)
        self.fitted: List[bool] = curve.fitted
        self.compare_at_rpm = float(told(curve.compare_at)) * _RPM
        self.initial_rpm = float(told(curve.initial)) * _RPM
        self.deceleration_rad_s2 = float(told(curve.deceleration))
        self.deceleration_u_rad_s2 = float(told(curve.deceleration_u))
        self.parts_rad_s2: Array = told(curve.parts)
        self.parts_u_rad_s2: Array = told(curve.parts_u)
        self.shares: Array = self.parts_rad_s2 / self.deceleration_rad_s2
        self.stop_s = float(told(curve.stop_s))
        self.chi2 = float(told(curve.chi2))
        self.scale = float(told(curve.scale))
        self.torque_Nm: Optional[float] = None
        self.torque_u_Nm: Optional[float] = None
        self.torques_Nm: Optional[Array] = None
        if inertia_kgm2 is not None:
            self.torque_Nm = inertia_kgm2 * self.deceleration_rad_s2
            self.torque_u_Nm = inertia_kgm2 * self.deceleration_u_rad_s2
            self.torques_Nm = inertia_kgm2 * self.parts_rad_s2

    deceleration = formerly("deceleration", "deceleration_rad_s2")
    deceleration_u = formerly("deceleration_u", "deceleration_u_rad_s2")
    parts = formerly("parts", "parts_rad_s2")
    parts_u = formerly("parts_u", "parts_u_rad_s2")

    @property
    def values(self) -> Mapping[str, float]:
        return MappingProxyType(dict(zip(_TERMS, self.terms.tolist())))

    @property
    def errors(self) -> Mapping[str, float]:
        return MappingProxyType(dict(zip(_TERMS, np.sqrt(np.diag(self.covariance)).tolist())))

    def plot(self, ax: Any = None, **keywords: Any) -> Any:
        """Draw the readings and the speed of the fitted curve.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            New ones where None.
        **keywords
            For Matplotlib's ``plot`` of the readings, such as ``markersize=8``.

        Returns
        -------
        matplotlib.axes.Axes
            Speed [rpm] over time [s].

        Raises
        ------
        MissingPackageError
            Matplotlib is not installed.
        """
        times, speeds = self._made_by[1][:2]
        moving = speeds > 0.0
        start = times[np.argmax(moving)] if moving.any() else 0.0
        return plot_coast_down(self, times - start, speeds, ax, keywords)

    def profile(self, level: float = 0.95) -> Mapping[str, Tuple[float, float]]:
        """Profile intervals of the terms: every value with which some curve fits nearly as well as the best one.

        Unlike ``errors`` they do not reach below 0, and follow a sum that is no parabola.

        Parameters
        ----------
        level : float
            Coverage of the two-sided intervals, between 0 and 1.

        Returns
        -------
        mapping of str to (low, high)
            By the names and in the units of ``values``. An end at 0 stands exactly on it; infinite where the readings
            set no end; NaN where nothing was fitted.

        Raises
        ------
        PreconditionError
            The level is outside (0, 1).

        Notes
        -----
        All values v at which the least sum of squares with the term held at v, no other term below 0, exceeds ``chi2``
        by no more than (q ``scale``)^2, q being the normal quantile. Source: D. M. Bates, D. G. Watts, Nonlinear
        Regression Analysis and Its Applications (1988), 6.1 (from memory, unverified). Of 400 simulated coast-downs of
        9 readings 95 % intervals held each term 97 times of 100, those of ``errors`` 98. A call takes about 20 ms.

        Examples
        --------
        >>> coast = rewound.fit_coast_down([0, 2, 4, 6, 8, 10], [1400, 1106, 875, 684, 518, 370])
        >>> low, high = coast.profile()["quadratic"]
        >>> bool(0 < low < coast.values["quadratic"] < high)
        True
        """
        ends = _core.profile_coast_down(self._curve, *self._made_by[1], level=float(level))
        return MappingProxyType(dict(zip(_TERMS, ends)))

    def speed_rpm(self, time_s: ArrayLike) -> Array:
        """Speed of the fitted curve.

        Parameters
        ----------
        time_s : array_like
            Times since the first reading in motion [s], finite, not below 0.

        Returns
        -------
        ndarray
            Speeds [rpm], 0 from standstill on; NaN where nothing was fitted.

        Raises
        ------
        PreconditionError
            A time is not a finite number of 0 or above.
        """
        times = _numbers("time_s", time_s)
        if not np.all(np.isfinite(times) & (times >= 0.0)):
            raise refuse("time_s", "a time that is not finite or below 0", "finite times of 0 or above")
        return np.asarray(self._curve.speed(times))

    def __repr__(self) -> str:
        if self.status != "fitted":
            return f"<rewound.CoastDown {self.status}>"
        constant, linear, quadratic = (100.0 * self.shares).round()
        return (
            f"<rewound.CoastDown {self.deceleration_rad_s2:.3g} rad/s2 at {self.compare_at_rpm:.4g} rpm: "
            f"constant {constant:.0f} %, linear {linear:.0f} %, quadratic {quadratic:.0f} %>"
        )


def fit_coast_down(
    time_s: ArrayLike,
    speed_rpm: ArrayLike,
    *,
    speed_u_rpm: float = 1.0,
    time_u_s: float = 0.0,
    compare_at_rpm: Optional[float] = None,
    inertia_kgm2: Optional[float] = None,
    absolute_sigma: bool = False,
) -> CoastDown:
    """Fit the three friction terms to a coast-down by least squares on the speeds, no term below 0.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times [s], not below 0, rising; from when does not matter.
    speed_rpm : array_like, shape (n,)
        Speeds [rpm], not below 0; those at standstill are left out.
    speed_u_rpm : float
        Standard uncertainty of one speed [rpm], independent from reading to reading, above 0. A gain error of the
        tachometer moves all speeds alike: c0 goes with it, c1 stays, c2 goes against it.
    time_u_s : float
        Standard uncertainty of one time [s]; about 0.1 for a stopwatch read by eye.
    compare_at_rpm : float, optional
        Speed at which the terms are told [rpm]; the first reading's where None.
    inertia_kgm2 : float, optional
        Moment of inertia of all that turns [kg m2]; torques are told with it.
    absolute_sigma : bool
        True: the uncertainties hold as stated, whatever the scatter, and ``scale`` is 1. False: they are a statement
        that counts as four degrees of freedom beside the readings' scatter, as in :func:`judge`.

    Returns
    -------
    CoastDown

    Raises
    ------
    PreconditionError
        A number is out of range, times do not rise, or a shape does not fit.

    Notes
    -----
    The speed is a closed form of time (checked in ``reference/oracles/running/coast_down.csv``); the fit and its
    covariance are those of ``scipy.optimize.curve_fit`` where no term stands at 0
    (``tests/python/bench/test_coast_down.py``).

    Examples
    --------
    >>> coast = rewound.fit_coast_down([0, 2, 4, 6, 8, 10], [1400, 1106, 875, 684, 518, 370])
    >>> coast.status, round(coast.deceleration_rad_s2, 1), coast.shares.round(1).tolist()
    ('fitted', 17.6, [0.4, 0.0, 0.6])
    """
    times, speeds = _curve("time_s", time_s, "speed_rpm", speed_rpm)
    if inertia_kgm2 is not None and not (np.isfinite(inertia_kgm2) and inertia_kgm2 > 0.0):
        raise refuse("inertia_kgm2", repr(inertia_kgm2), "a finite number above 0")
    at = None if compare_at_rpm is None else float(compare_at_rpm)
    beside = (None if inertia_kgm2 is None else float(inertia_kgm2),)
    return CoastDown._made(
        "fit_coast_down", times, speeds, float(speed_u_rpm), float(time_u_s), at, bool(absolute_sigma), beside=beside
    )


def _curve(first: str, x: ArrayLike, second: str, y: ArrayLike) -> "tuple[Array, Array]":
    """Two lists of one length."""
    xs, ys = _numbers(first, x), _numbers(second, y)
    if xs.ndim != 1:
        raise refuse(first, f"shape {xs.shape}", "one dimension")
    if ys.shape != xs.shape:
        raise refuse(second, f"shape {ys.shape}", f"{first}'s shape {xs.shape}")
    return xs, ys
