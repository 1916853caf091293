# SPDX-License-Identifier: MIT
"""Curves of current against voltage."""

from __future__ import annotations

import difflib
from typing import Any, List, Optional, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._errors import InputError, refuse
from ._html import curves_table
from ._shown import Remade

Array = NDArray[np.float64]

_MODELS = ("auto", "proportional", "power", "log_quadratic", "magnetising", "magnetising_load")


class DrawFit(Remade):
    """Fitted curves of current against voltage, made by :func:`fit_draw`.

    The first axis of every array runs over the curves and is kept, with length 1, where a single curve was fitted.

    Attributes
    ----------
    params : ndarray, shape (n_curves, p)
        Parameters in the order of the formula (see :func:`fit_draw`): ``a``; ``a, n``; ``A, n, c``; ``a, b, m``;
        ``a, b, m, p, g``. Of these ``a, b, p, g`` are in A, ``A`` is ln(current / A), ``n, c, m`` are numbers. In a
        batch that mixes models p is the largest number of them, and what a curve does not have is NaN.
    covariance : ndarray, shape (n_curves, p, p)
        Covariance of the parameters, scaled by chi2 / (n - p); NaN where a curve has no more readings than parameters,
        or where they do not determine it. It is the linear one, (J^T J)^-1: a parameter that stands at its bound
        counts as if it could move both ways, so that no interval jumps when a bound is reached. Rows and columns of
        a parameter without effect are 0: of b and m where b = 0, and of p and g where both are 0.
    chi2 : ndarray, shape (n_curves,)
        What was minimised: sum of w (I - f)^2 [A^2 times the weight's unit] with weights, and without them the sum
        of (ln I - ln f)^2 over its variance [1]. Of a robust fit the sum includes the final Huber weights.
    degrees_of_freedom : ndarray of int, shape (n_curves,)
        n - p: readings in use less parameters, at least 0.
    status : list of str
        One word per curve. Two carry numbers: ``converged``, and ``converged_at_rounding`` where double precision
        lets one see no further. The others leave all numbers NaN: ``singular`` (the readings do not determine every
        parameter, as at fewer voltages than parameters), ``too_few_points`` (fewer readings than parameters),
        ``not_finite`` (a number overflowed), ``stalled`` (no minimum, or only at exponents beyond 1000) and
        ``iteration_limit`` (the search came to no end).
    model : str
        The model of all curves, or ``mixed`` where ``auto`` chose several in one batch.
    models : list of str
        The model of each curve.
    """

    def __init__(self, fitted: _core.FittedCurves) -> None:
        self._fitted = fitted
        self.params: Array = fitted.params
        self.covariance: Array = fitted.covariance
        self.chi2: Array = fitted.chi2
        self.degrees_of_freedom: NDArray[np.int64] = fitted.degrees_of_freedom
        self.status: List[str] = fitted.status
        self.models: List[str] = fitted.models
        self.model: str = self.models[0] if len(set(self.models)) == 1 else "mixed"

    def predict(self, voltage: ArrayLike, level: float = 0.95, new_reading: bool = True) -> Tuple[Array, Array, Array]:
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
        Meter errors common to all readings of a curve are not in these intervals, nor is the choice of a model: a
        proportional curve takes current in proportion to voltage for granted, and beyond its readings a curve of any
        model may bend otherwise. The intervals are linear in the parameters. Of simulated magnetising curves of 5 to
        12 readings 95 % intervals held 94 to 98 % of new readings, and 95 to 99 % where m was often at a bound.
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

    def _repr_html_(self) -> str:
        return curves_table(repr(self)[1:-1], self.models, self.status, self.params, self.chi2)


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

    With x = voltage / rated_voltage and z = ln x the models are

    - ``proportional``, I = a x
    - ``power``, I = a x^n
    - ``log_quadratic``, ln I = A + n z + c z^2
    - ``magnetising``, I = a x + b x^m
    - ``magnetising_load``, I = sqrt((a x + b x^m)^2 + (p/x + g x)^2)

    Without weights both coordinates have independent errors: minimised is the sum of
    (ln I - ln f)^2 / (uI^2 + e^2 ux^2), where uI and ux are relative standard uncertainties and e the curve's local
    exponent d ln f / d ln x. With weights the sum of w (I - f)^2 is minimised exactly.

    Parameters
    ----------
    voltage : array_like, shape (n_readings,) or (n_curves, n_readings)
        Voltages [V], above 0. In a batch NaN marks an absent reading; a single curve may hold no NaN.
    current : array_like, same shape
        Currents [A], above 0. A reading of a batch is absent where its voltage or its current is NaN.
    rated_voltage : float or array_like, shape (n_curves,)
        Rated voltage [V].
    model : {"auto", "proportional", "power", "log_quadratic", "magnetising", "magnetising_load"}
        ``auto`` chooses for each curve; see Notes.
    voltage_u, current_u : float or array_like, optional
        Absolute standard uncertainties [V], [A], independent from reading to reading; a number or one per reading.
        Where None, 0.5 % of the voltage and 1 % of the current are assumed. Only without weights.
    weights : array_like, optional
        Weight w of each squared deviation [1/A^2, or any unit], 0 or more, same shape. A reading of weight 0 is left
        out and does not count in n.
    robust : bool
        Huber's k = 1.345 on z over the fixed scale 1.4826 median abs(z) of the plain fit, iterated until no parameter
        moves by more than 1e-10 of itself, or no z by more than 1e-10 of the scale. z is sqrt(w) (I - f), without
        weights the deviation of ln I over its standard uncertainty. Has no effect on a curve without readings to
        spare or without any scatter. ``auto`` chooses before.
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
        A model that does not exist; ``allowed`` names the nearest.

    Both are ValueErrors. A fit that fails raises nothing: see ``DrawFit.status``.

    Notes
    -----
    Batches. Weighted ``power`` (robust too), ``log_quadratic`` and ``magnetising`` curves of up to 16 readings are
    fitted side by side in the widest registers of the machine; curves that this does not certify, and all others, are
    fitted one by one. A curve's answer does not depend on the curves beside it, and on the table's other columns by
    rounding alone.

    Bounds. ``magnetising`` with weights has a and b of any sign and 1.2 <= m <= 12, and the fit is the lowest of all
    minima: m is scanned, a and b are linear (variable projection). Currents on a straight line through 0 do not tell
    m: singular. Without weights a, b >= 0 and 2 <= m <= 12; where b ends at 0 the curve is I = a x and m, without
    effect, stands at its lowest. ``magnetising_load`` has a, b, p, g >= 0 and the same m as ``magnetising``; where b
    and p end at 0, g does too, since only a^2 + g^2 matters. Both searches go from many starts to the lowest minimum
    found, which is no proof that none lies lower. ``log_quadratic`` and ``power`` without weights are the minimum
    next to the least-squares curve in logarithms: wildly scattered readings can have others at exponents without end.

    ``auto``. Each model above proportional is tried that leaves two readings and one voltage more than it has
    parameters (with weights, three readings), and the lowest corrected Akaike criterion chooses, the simpler model
    where it is within 2. Readings that carry no choice give power, at one voltage proportional. Without weights
    voltages count as one within three standard uncertainties, and the criterion is chi2 / s + 2 p +
    2 p (p + 1) / (n - p - 1) with s the lowest chi2 / (n - p) of all models tried, at least 1: the choice that
    ``rewound.judge`` makes too. It may pass over a magnetising curve whose best parameters lie at a bound. With
    weights the errors' size is unknown, and the criterion is n ln(chi2 / n) + 2 k + 2 k (k + 1) / (n - k - 1) with
    k = p + 1. Source: C. M. Hurvich, C.-L. Tsai, Biometrika 76 (1989) 297-307.

    Examples
    --------
    >>> fit = rewound.fit_draw([115.0, 184.0, 230.0], [0.21, 0.336, 0.42], rated_voltage=230.0)
    >>> fit.params.round(3)
    array([[0.42, 1.  ]])
    """
    _expect_model(model)
    volts = _numbers("voltage", voltage)
    if volts.ndim not in (1, 2):
        raise refuse("voltage", f"an array of {volts.ndim} dimensions", "one dimension, or two for a batch")
    rows = volts if volts.ndim == 2 else volts[np.newaxis]
    rated = _numbers("rated_voltage", rated_voltage)
    if rated.ndim == 0:
        rated = rated[np.newaxis] if len(rows) == 1 else np.full(len(rows), rated)
    return DrawFit._made(
        "fit_draw",
        rows,
        _like(volts, "current", current),
        rated,
        voltage_u=None if voltage_u is None else _like(volts, "voltage_u", voltage_u, scalar=True),
        current_u=None if current_u is None else _like(volts, "current_u", current_u, scalar=True),
        weights=None if weights is None else _like(volts, "weights", weights),
        batch=volts.ndim == 2,
        model=model,
        robust=bool(robust),
        threads=threads,
    )


def _expect_model(model: str) -> None:
    """Refuses a word that is no model; the nearest one comes first among those allowed."""
    if model in _MODELS:
        return
    words = "one of " + ", ".join(_MODELS)
    near = difflib.get_close_matches(str(model), _MODELS, n=1)
    allowed = f"did you mean {near[0]}? {words}" if near else words
    read = f'"{model}"'
    raise InputError(
        f"model: read {read}, allowed: {allowed}", code="not_a_choice", field="model", read=read, allowed=allowed
    )


def _like(volts: Array, name: str, values: ArrayLike, scalar: bool = False) -> Array:
    """The values in rows, one per voltage."""
    array = _numbers(name, values)
    if scalar and array.ndim == 0:
        return np.full_like(np.atleast_2d(volts), array)
    if array.shape != volts.shape:
        raise refuse(name, f"shape {array.shape}", f"the voltage's shape {volts.shape}")
    return array if array.ndim == 2 else array[np.newaxis]


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
