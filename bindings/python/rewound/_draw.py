# SPDX-License-Identifier: MIT
"""Curves of current against voltage."""

from __future__ import annotations

from typing import List, Optional, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._errors import refuse

Array = NDArray[np.float64]


class DrawFit:
    """Fitted curves of current against voltage, made by :func:`fit_draw`.

    The first axis of every array runs over the curves and is kept, with length 1, where a single curve was fitted.

    Attributes
    ----------
    params : ndarray, shape (n_curves, p)
        Parameters in the order of the formula: ``a`` [A] for proportional, ``a`` [A] and ``n`` [1] for power. In a
        batch that mixes both, p is 2 and the missing ``n`` of a proportional curve is NaN.
    covariance : ndarray, shape (n_curves, p, p)
        Covariance of the parameters, scaled by chi2 / (n - p); NaN where a curve has no more readings than parameters.
    chi2 : ndarray, shape (n_curves,)
        What was minimised: sum of w (I - f)^2 [A^2 times the weight's unit] with weights, and without them the sum
        of (ln I - ln f)^2 over its variance [1]. Of a robust fit the sum includes the final Huber weights.
    degrees_of_freedom : ndarray of int, shape (n_curves,)
        n - p: readings in use less parameters, at least 0.
    status : list of str
        One word per curve. Only ``converged`` and ``converged_at_rounding`` carry numbers; ``stalled``,
        ``iteration_limit``, ``singular``, ``too_few_points`` and ``not_finite`` leave them NaN.
    model : str
        ``proportional`` or ``power``, or ``mixed`` where ``auto`` chose both in one batch.
    models : list of str
        The model of each curve.
    """

    def __init__(self, fitted: _core.FittedCurves) -> None:
        self._fitted = fitted
        self.params: Array = fitted.params
        self.covariance: Array = fitted.covariance
        self.chi2: Array = np.array(fitted.chi2, dtype=np.float64)
        self.degrees_of_freedom: NDArray[np.int64] = np.array(fitted.degrees_of_freedom, dtype=np.int64)
        self.status: List[str] = fitted.status
        self.models: List[str] = fitted.models
        self.model: str = self.models[0] if len(set(self.models)) == 1 else "mixed"

    def predict(
        self, voltage: ArrayLike, level: float = 0.95, new_reading: bool = True
    ) -> Tuple[Array, Array, Array]:
        """Current at given voltages, with an interval of Student's t at n - p degrees of freedom.

        Without weights the interval is symmetric in the logarithm of the current, with weights in the current.

        Parameters
        ----------
        voltage : array_like, shape (), (m,) or (n_curves, m)
            Voltages [V], above 0; the first two serve for every curve.
        level : float
            Coverage of the two-sided interval, between 0 and 1.
        new_reading : bool
            True: the interval of one new reading, which adds its own variance. With weights that is
            chi2 / (n - p) in A^2, a reading of weight 1; without them it is relative, chi2 / (n - p) times the mean
            variance that the uncertainties give the curve's readings. False: the interval of the curve itself.

        Returns
        -------
        value, low, high : ndarray, shape (n_curves,) for one voltage, else (n_curves, m)
            Currents [A]. All NaN for a curve whose fit failed; ``low`` and ``high`` NaN where n = p.

        Raises
        ------
        PreconditionError
            A voltage is not a finite number above 0, a shape does not fit, or the level is outside (0, 1).

        Notes
        -----
        Meter errors common to all readings of a curve are not in these intervals. A proportional curve takes current
        in proportion to voltage for granted; how far a machine departs from that is not in its interval either.
        """
        points = _numbers("voltage", voltage)
        rows = points if points.ndim > 1 else np.broadcast_to(points, (len(self.models), points.size))
        value, low, high = self._fitted.predict(rows, float(level), bool(new_reading))
        if points.ndim == 0:
            return value[:, 0], low[:, 0], high[:, 0]
        return value, low, high

    def __repr__(self) -> str:
        good = sum(status.startswith("converged") for status in self.status)
        return f"<rewound.DrawFit {self.model}, {len(self.models)} curves, {good} converged>"


def fit_draw(
    voltage: ArrayLike,
    current: ArrayLike,
    *,
    rated_voltage: ArrayLike,
    model: str = "auto",
    voltage_u: Optional[ArrayLike] = None,
    current_u: Optional[ArrayLike] = None,
    weights: Optional[ArrayLike] = None,
    robust: bool = False,
    threads: int = 1,
) -> DrawFit:
    """Fit current against voltage, one curve or a whole batch at once.

    With x = voltage / rated_voltage the models are ``proportional``, I = a x, and ``power``, I = a x^n.

    Without weights both coordinates have independent errors: minimised is the sum of
    (ln I - ln f)^2 / (uI^2 + n^2 ux^2), where uI and ux are relative standard uncertainties and n the local exponent.
    With weights the sum of w (I - f)^2 is minimised exactly.

    Parameters
    ----------
    voltage : array_like, shape (n_readings,) or (n_curves, n_readings)
        Voltages [V], above 0. In a batch NaN marks an absent reading; a single curve may hold no NaN.
    current : array_like, same shape
        Currents [A], above 0. A reading of a batch is absent where its voltage or its current is NaN.
    rated_voltage : float or array_like, shape (n_curves,)
        Rated voltage [V].
    model : {"auto", "proportional", "power"}
        ``auto`` chooses for each curve: proportional where all its voltages are equal, else power.
    voltage_u, current_u : float or array_like, optional
        Absolute standard uncertainties [V], [A], independent from reading to reading; a number or one per reading.
        Where None, 0.5 % of the voltage and 1 % of the current are assumed. Only without weights.
    weights : array_like, optional
        Weight w of each squared deviation [1/A^2, or any unit], 0 or more, same shape. A reading of weight 0 is left
        out and does not count in n.
    robust : bool
        Huber's k = 1.345 on z over the fixed scale 1.4826 median abs(z) of the plain fit, iterated until no parameter
        moves by more than 1e-10 of itself. z is sqrt(w) (I - f), without weights the deviation of ln I over its
        standard uncertainty. Has no effect on a curve without readings to spare or without any scatter.
    threads : int
        Threads to share a batch among, 1 to 1024. The result does not depend on it. The interpreter lock is released.

    Returns
    -------
    DrawFit
        For a single curve too its arrays keep a first axis, of length 1.

    Raises
    ------
    PreconditionError
        Shapes differ; a voltage, current, uncertainty or weight is out of range; weights and uncertainties are both
        given. ``field`` names the reading.
    InputError
        A model that this version does not have.

    Both are ValueErrors. A fit that fails raises nothing: see ``DrawFit.status``.

    Examples
    --------
    >>> fit = rewound.fit_draw([115.0, 184.0, 230.0], [0.21, 0.336, 0.42], rated_voltage=230.0)
    >>> fit.params.round(3)
    array([[0.42, 1.  ]])
    """
    volts = _numbers("voltage", voltage)
    if volts.ndim not in (1, 2):
        raise refuse("voltage", f"an array of {volts.ndim} dimensions", "one dimension, or two for a batch")
    rows = np.atleast_2d(volts)
    rated = _numbers("rated_voltage", rated_voltage)
    fitted = _core.fit_draw(
        rows,
        _like(volts, "current", current),
        np.full(len(rows), rated) if rated.ndim == 0 else rated,
        voltage_u=None if voltage_u is None else _like(volts, "voltage_u", voltage_u, scalar=True),
        current_u=None if current_u is None else _like(volts, "current_u", current_u, scalar=True),
        weights=None if weights is None else _like(volts, "weights", weights),
        batch=volts.ndim == 2,
        model=model,
        robust=bool(robust),
        threads=threads,
    )
    return DrawFit(fitted)


def _like(volts: Array, name: str, values: ArrayLike, scalar: bool = False) -> Array:
    """The values in rows, one per voltage."""
    array = _numbers(name, values)
    if scalar and array.ndim == 0:
        return np.full_like(np.atleast_2d(volts), array)
    if array.shape != volts.shape:
        raise refuse(name, f"shape {array.shape}", f"the voltage's shape {volts.shape}")
    return np.atleast_2d(array)


def _numbers(name: str, values: ArrayLike) -> Array:
    """The values as doubles. Text, booleans and complex numbers are refused; masked values become NaN."""
    try:
        array = values if isinstance(values, np.ma.MaskedArray) else np.asarray(values)
    except ValueError:
        raise refuse(name, "lists of unequal length", "lists of one length, filled up with NaN") from None
    if array.dtype.kind not in "fiu":
        raise refuse(name, f"values of type {array.dtype}", "real numbers")
    array = array.astype(np.float64)
    return array.filled(np.nan) if isinstance(array, np.ma.MaskedArray) else array
