# SPDX-License-Identifier: MIT
"""Curves of current against voltage."""

from __future__ import annotations

from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Dict, List, Mapping, Optional, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._arrays import _numbers
from ._errors import refuse
from ._html import curves_table
from ._optional import pandas
from ._plots_curves import plot_draw
from ._shown import Remade
from ._values import place_of, read_only
from ._words import Model, now_called, one_of, still_called

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]

_MODELS = ("auto", "proportional", "power", "log_quadratic", "magnetising", "magnetising_load")
_LETTERS = {
    "proportional": ("a",),
    "power": ("a", "n"),
    "log_quadratic": ("A", "n", "c"),
    "magnetising": ("a", "b", "m"),
    "magnetising_load": ("a", "b", "m", "p", "g"),
}


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
        Covariance of the parameters. Where nothing is stated of the errors' size (weights, or neither ``voltage_u_V``
        nor ``current_u_A``) it is scaled by chi2 / (n - p). Stated uncertainties count as four degrees of freedom, as
        in :func:`judge`: the scale is (4 + chi2) / (4 + n - p), at least 1, and so it is, with the assumed ones, for a
        curve of n = p readings without weights. With ``absolute_sigma`` the scale is 1. NaN where a weighted curve has
        no readings to spare, or where they do not determine it. It is the linear one, (J^T J)^-1: a parameter that
        stands at its bound counts as if it could move both ways, so that no interval jumps when a bound is reached.
        Rows and columns of a parameter without effect are 0: of b and m where b = 0, and of p and g where both are 0.
    chi2 : ndarray, shape (n_curves,)
        What was minimised: sum of w (I - f)^2 [A^2 times the weight's unit] with weights, and without them the sum
        of (ln I - ln f)^2 over its variance [1]. Of a robust fit the sum includes the final Huber weights.
    degrees_of_freedom : ndarray of int, shape (n_curves,)
        n - p: readings in use less parameters, at least 0.
    status : tuple of str
        One word per curve. Two carry numbers: ``converged``, and ``converged_at_rounding`` where double precision
        lets one see no further. The others leave all numbers NaN: ``singular`` (the readings do not determine every
        parameter, as at fewer voltages than parameters), ``too_few_points`` (fewer readings than parameters),
        ``not_finite`` (a number overflowed), ``stalled`` (no minimum, or only at exponents beyond 1000) and
        ``iteration_limit`` (the search came to no end).
    model : str
        The model of all curves, or ``mixed`` where ``auto`` chose several in one batch.
    models : tuple of str
        The model of each curve.
    mean_weight : ndarray, shape (n_curves,)
        Mean weight of the readings in use; 1 without weights.
    values, errors : mapping of str to ndarray, shape (n_curves,)
        Parameters and their standard errors by name: the letters of the formula, and ``exponent`` for n or m; of a
        batch that mixes models NaN where a curve has none of that name.
    """

    def __init__(self, fitted: _core.FittedCurves) -> None:
        self._fitted = fitted
        self.params: Array = fitted.params
        self.covariance: Array = fitted.covariance
        self.chi2: Array = fitted.chi2
        self.degrees_of_freedom: NDArray[np.int64] = fitted.degrees_of_freedom
        self.status: List[str] = fitted.status
        self.models: List[str] = fitted.models
        alike = bool(self.models) and self.models.count(self.models[0]) == len(self.models)
        self.model: str = self.models[0] if alike else "mixed"
        self.mean_weight: Array = fitted.mean_weight
        self._index: Any = None

    @cached_property
    def values(self) -> Mapping[str, Array]:
        return self._by_name(self.params)

    @cached_property
    def errors(self) -> Mapping[str, Array]:
        with np.errstate(invalid="ignore"):
            return self._by_name(np.sqrt(np.diagonal(self.covariance, axis1=1, axis2=2)))

    def _by_name(self, numbers: Array) -> Mapping[str, Array]:
        models = np.array(self.models)
        out: Dict[str, Array] = {}
        for model in dict.fromkeys(self.models):
            rows = models == model
            for place, letter in enumerate(_LETTERS[model]):
                for name in (letter, "exponent") if letter in ("n", "m") else (letter,):
                    out.setdefault(name, np.full(len(models), np.nan))[rows] = numbers[rows, place]
        return MappingProxyType({name: read_only(array) for name, array in out.items()})

    @property
    def nobs(self) -> NDArray[np.int64]:
        """Readings in use, shape (n_curves,)."""
        return read_only(np.sum(self._in_use(), axis=1))  # type: ignore[no-any-return]

    @property
    def reduced_chi2(self) -> Array:
        """chi2 over the degrees of freedom, shape (n_curves,); NaN without any."""
        dof = self.degrees_of_freedom
        return read_only(np.where(dof > 0, self.chi2 / np.maximum(dof, 1), np.nan))  # type: ignore[no-any-return]

    @property
    def aicc(self) -> Array:
        """Corrected Akaike criterion, shape (n_curves,); see the Notes of :func:`fit_draw`.

        Without weights chi2 + 2 p + 2 p (p + 1) / (n - p - 1); with them, the errors' size being unknown,
        n ln(chi2 / n) + 2 k + 2 k (k + 1) / (n - k - 1) with k = p + 1. NaN where a denominator is not above 0.
        """
        n = self.nobs.astype(np.float64)
        k = np.array([len(_LETTERS[model]) for model in self.models], dtype=np.float64) + self._weighted
        with np.errstate(divide="ignore", invalid="ignore"):
            misfit = n * np.log(self.chi2 / n) if self._weighted else self.chi2
            out = misfit + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0)
        return read_only(np.where(n - k - 1.0 > 0.0, out, np.nan))  # type: ignore[no-any-return]

    @cached_property
    def residuals(self) -> Any:
        """Current read less that of the curve [A], in the shape of the readings, NaN where one is absent.

        A pandas Series or DataFrame with the index of the current, where that was one.
        """
        voltage, current = self._made_by[1][:2]
        there = ~(np.isnan(voltage) | np.isnan(current))
        at = np.where(there, voltage, 1.0)
        out = np.where(there, current - self._fitted.predict(at, 0.95, False, None)[0], np.nan)
        out = read_only(out if self._batch else out[0])
        if self._index is None:
            return out
        kind = pandas().DataFrame if self._batch else pandas().Series
        return kind(out, index=self._index)

    def to_frame(self) -> "pd.DataFrame":
        """The curves, one a row.

        Returns
        -------
        pandas.DataFrame
            ``model``, ``status``, the parameters by the formula's letters and their standard errors (``n``, ``n_u``),
            ``chi2``, ``degrees_of_freedom``, ``nobs``, ``reduced_chi2``, ``aicc``. Its index is that of the current
            where this was a DataFrame.

        Raises
        ------
        MissingPackageError
            pandas is not installed.
        """
        columns: Dict[str, Any] = {"model": list(self.models), "status": list(self.status)}
        for name in self.values:
            if name != "exponent":
                columns[name], columns[f"{name}_u"] = self.values[name], self.errors[name]
        columns.update(chi2=self.chi2, degrees_of_freedom=self.degrees_of_freedom, nobs=self.nobs)
        columns.update(reduced_chi2=self.reduced_chi2, aicc=self.aicc)
        return pandas().DataFrame(columns, index=self._index if self._batch else None)

    @property
    def _batch(self) -> bool:
        return bool(self._made_by[2]["batch"])

    @property
    def _weighted(self) -> bool:
        return self._made_by[2]["weights"] is not None

    def _in_use(self) -> "NDArray[np.bool_]":
        voltage, current = self._made_by[1][:2]
        there = ~(np.isnan(voltage) | np.isnan(current))
        weights = self._made_by[2]["weights"]
        counted: "NDArray[np.bool_]" = there if weights is None else there & (weights > 0.0)
        return counted

    def __getstate__(self) -> Dict[str, Any]:
        return {"_index": self._index}

    def __reduce__(self) -> Tuple[Any, ...]:
        return (*super().__reduce__(), self.__getstate__())

    @still_called("new_reading")
    def predict(
        self,
        voltage: ArrayLike,
        level: float = 0.95,
        *,
        new_reading: bool = True,
        weight: Optional[ArrayLike] = None,
    ) -> Tuple[Array, Array, Array]:
        """Current at given voltages, with an interval.

        Where the scatter alone tells the errors' size, it is one of Student's t at n - p degrees of freedom; with
        stated uncertainties, as in :func:`judge`, and with ``absolute_sigma`` it is a normal one (see ``covariance``).
        Without weights the interval is symmetric in the logarithm of the current, with weights in the current.

        Parameters
        ----------
        voltage : array_like, shape (), (m,) or (n_curves, m)
            Voltages [V], above 0; the first two serve for every curve.
        level : float
            Coverage of the two-sided interval, between 0 and 1.
        new_reading : bool
            True: the interval of one new reading, which adds its own variance. With weights that is
            chi2 / (n - p) / weight [A^2]; without them it is relative, the covariance's scale times the mean
            variance that the uncertainties give the curve's readings. False: the interval of the curve itself.
        weight : float or array_like, optional
            Weight of the new readings on a curve that was fitted with weights, above 0, in their unit: one, or in the
            shape of the voltages. Where None, each curve's ``mean_weight``.

        Returns
        -------
        value, low, high : ndarray, shape (n_curves,) for one voltage, else (n_curves, m)
            Currents [A]. All NaN for a curve whose fit failed; ``low`` and ``high`` NaN where the covariance is.

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
        With stated uncertainties 95 % intervals of 3000 simulated power curves of 3, 5 and 8 readings held 96 % where
        the statement was right, and 76, 82 and 86 % where the errors were twice as large as stated.
        """
        points = _numbers("voltage", voltage)
        rows = np.atleast_1d(points)
        if weight is not None and rows.ndim == 1:
            rows = np.broadcast_to(rows, (len(self.models), points.size))
        value, low, high = self._fitted.predict(rows, float(level), bool(new_reading), self._new_weights(weight, rows))
        if points.ndim == 0:
            return value[:, 0], low[:, 0], high[:, 0]
        return value, low, high

    def plot(
        self, ax: Any = None, *, curve: int = 0, level: float = 0.95, new_reading: bool = True, **keywords: Any
    ) -> Any:
        """Draw the readings of one curve with their stated uncertainties, and the curve with its interval.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            New ones where None.
        curve : int
            Which curve of a batch, from 0.
        level : float
            Coverage of the band, between 0 and 1.
        new_reading : bool
            The band of one new reading, or of the curve itself, as in :meth:`predict`.
        **keywords
            For Matplotlib's ``errorbar`` of the readings, such as ``markersize=8``.

        Returns
        -------
        matplotlib.axes.Axes
            Current [A] over voltage [V].

        Raises
        ------
        PreconditionError
            There is no such curve, or the level is out of range.
        MissingPackageError
            Matplotlib is not installed.
        """
        place = place_of("curve", curve, len(self.models))
        volts, amps = (numbers[place] for numbers in self._made_by[1][:2])
        used = self._in_use()[place]
        readings = {"voltage": volts[used], "current": amps[used]}
        for name in ("voltage_u", "current_u"):
            if self._made_by[2][name] is not None:
                readings[name] = self._made_by[2][name][place][used]
        points = np.linspace(volts[used].min(), volts[used].max(), 101) if used.any() else np.ones(1)
        rows = (table[place] for table in self.predict(points, level, new_reading=new_reading))
        band = dict(zip(("value", "low", "high"), rows), voltage=points)
        words = f"one new reading, {100 * level:g} %" if new_reading else f"the curve, {100 * level:g} %"
        return plot_draw(self, place, readings, band, words, ax, keywords)

    def profile(self, level: float = 0.95, *, threads: int = 1) -> Mapping[str, Tuple[Array, Array]]:
        """Profile intervals of the parameters: what a curve may be while it fits nearly as well as the best.

        Unlike ``errors`` they follow a sum that is no parabola, and stop at the bounds of the fit.

        Parameters
        ----------
        level : float
            Coverage of the two-sided intervals, between 0 and 1.
        threads : int
            Threads to share a batch among, 1 to 1024. The result does not depend on it.

        Returns
        -------
        mapping of str to (low, high), each ndarray of shape (n_curves,)
            By the names and in the units of ``values``. An end at a bound of the fit stands exactly on it; infinite
            where the readings set no end; NaN where the curve has no such parameter, or ``errors`` are NaN.

        Raises
        ------
        PreconditionError
            The level or the number of threads is out of range.

        Notes
        -----
        All values v at which the least sum of squares with the parameter held at v exceeds the least of all by no more
        than q^2 times the scale of ``covariance``, q being the quantile that :meth:`predict` uses. A robust fit keeps
        its final Huber weights. Source: D. M. Bates, D. G. Watts, Nonlinear Regression Analysis and Its Applications
        (1988), 6.1 (from memory, unverified). Of 600 simulated magnetising
        curves of 6 and of 10 readings, 95 % intervals held a, b and m 93 to 96 times of 100, as those of ``errors``
        did. A curve takes 0.1 to 200 ms, longest with magnetising_load.

        Examples
        --------
        >>> fit = rewound.fit_draw([115, 150, 184, 230], [0.2, 0.27, 0.34, 0.43], rated_voltage_V=230, model="power")
        >>> low, high = fit.profile()["exponent"]
        >>> bool(low[0] < fit.values["exponent"][0] < high[0])
        True
        """
        given, named = self._made_by[1:3]
        beside = {name: named[name] for name in ("voltage_u", "current_u", "weights", "batch", "robust")}
        low, high = _core.profile_draw(self._fitted, *given, **beside, level=float(level), threads=threads)
        lows, highs = self._by_name(low), self._by_name(high)
        return MappingProxyType({name: (lows[name], highs[name]) for name in lows})

    def _new_weights(self, weight: Optional[ArrayLike], rows: Array) -> Optional[Array]:
        if weight is None:
            return None
        if not self._weighted:
            raise refuse("weight", "a weight for curves that were fitted without", "None, or curves with weights")
        given = _numbers("weight", weight)
        if given.ndim == 1 and rows.shape != given.shape and given.shape != rows.shape[1:]:
            raise refuse("weight", f"shape {given.shape}", "one number, or the shape of the voltages")
        return np.ascontiguousarray(np.broadcast_to(given, rows.shape))

    def __repr__(self) -> str:
        good = sum(status.startswith("converged") for status in self.status)
        return f"<rewound.DrawFit {self.model}, {len(self.models)} curves, {good} converged>"

    def _repr_html_(self) -> str:
        return curves_table(repr(self)[1:-1], self.models, self.status, self.params, self.chi2)


def fit_draw(
    voltage: ArrayLike,
    current: ArrayLike,
    *,
    rated_voltage_V: Optional[ArrayLike] = None,
    model: Model = "auto",
    voltage_u_V: Optional[ArrayLike] = None,
    current_u_A: Optional[ArrayLike] = None,
    weights: Optional[ArrayLike] = None,
    robust: bool = False,
    absolute_sigma: bool = False,
    threads: int = 1,
    rated_voltage: Optional[ArrayLike] = None,
    voltage_u: Optional[ArrayLike] = None,
    current_u: Optional[ArrayLike] = None,
) -> DrawFit:
    """Fit current against voltage, one curve or a whole batch at once.

    With x = voltage / rated_voltage_V and z = ln x the models are

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
    rated_voltage_V : float or array_like, shape (n_curves,)
        Rated voltage [V].
    model : {"auto", "proportional", "power", "log_quadratic", "magnetising", "magnetising_load"}
        ``auto`` chooses for each curve; see Notes.
    voltage_u_V, current_u_A : float or array_like, optional
        Standard uncertainties [V], [A], independent from reading to reading; a number or one per reading.
        Where None, 0.5 % of the voltage and 1 % of the current are assumed. Only without weights.
    weights : array_like, optional
        Weight w of each squared deviation [1/A^2, or any unit], 0 or more, same shape. A reading of weight 0 is left
        out and does not count in n.
    robust : bool
        Huber's k = 1.345 on z over the fixed scale 1.4826 median abs(z) of the plain fit, iterated until no parameter
        moves by more than 1e-10 of itself, or no z by more than 1e-10 of the scale. z is sqrt(w) (I - f), without
        weights the deviation of ln I over its standard uncertainty. Has no effect on a curve without readings to
        spare or without any scatter. ``auto`` chooses before.
    absolute_sigma : bool
        True: the uncertainties, or 1 / sqrt(weight), hold as stated whatever the readings' scatter, as in
        ``scipy.optimize.curve_fit``. False: see ``DrawFit.covariance``.
    threads : int
        Threads to share a batch among, 1 to 1024. The result does not depend on it. The interpreter lock is released.
    rated_voltage, voltage_u, current_u : optional
        Former names of ``rated_voltage_V``, ``voltage_u_V`` and ``current_u_A``: they work, with a
        DeprecationWarning.

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

    Notes
    -----
    Both errors are ValueErrors. A fit that fails raises nothing: see ``DrawFit.status``.

    Batches. Curves of up to 16 readings are fitted side by side in the widest registers of the machine: all models,
    with ``robust`` and weights ``power`` alone. Curves that this does not certify, and all others, are fitted one by
    one. A curve's answer does not depend on the curves beside it, and on the table's other columns by rounding
    alone.

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
    >>> fit = rewound.fit_draw([115.0, 184.0, 230.0], [0.21, 0.336, 0.42], rated_voltage_V=230.0)
    >>> fit.params.round(3)
    array([[0.42, 1.  ]])
    """
    rated_voltage_V = now_called("rated_voltage_V", rated_voltage_V, rated_voltage)
    voltage_u_V = now_called("voltage_u_V", voltage_u_V, voltage_u)
    current_u_A = now_called("current_u_A", current_u_A, current_u)
    if rated_voltage_V is None:
        raise TypeError("fit_draw: rated_voltage_V is missing, allowed: a number [V], or one per curve")
    one_of("model", model, _MODELS)
    volts = _numbers("voltage", voltage)
    if volts.ndim not in (1, 2):
        raise refuse("voltage", f"an array of {volts.ndim} dimensions", "one dimension, or two for a batch")
    rows = volts if volts.ndim == 2 else volts[np.newaxis]
    rated = _numbers("rated_voltage", rated_voltage_V)
    if rated.ndim == 0:
        rated = rated[np.newaxis] if len(rows) == 1 else np.full(len(rows), rated)
    fit = DrawFit._made(
        "fit_draw",
        rows,
        _like(volts, "current", current),
        rated,
        voltage_u=None if voltage_u_V is None else _like(volts, "voltage_u", voltage_u_V, scalar=True),
        current_u=None if current_u_A is None else _like(volts, "current_u", current_u_A, scalar=True),
        weights=None if weights is None else _like(volts, "weights", weights),
        batch=volts.ndim == 2,
        model=model,
        robust=bool(robust),
        absolute_sigma=bool(absolute_sigma),
        threads=threads,
    )
    index = getattr(current, "index", None)  # a method of lists, a labelled axis of Series and DataFrame
    fit._index = None if callable(index) else index
    return fit


def _like(volts: Array, name: str, values: ArrayLike, scalar: bool = False) -> Array:
    """The values in rows, one per voltage."""
    array = _numbers(name, values)
    if scalar and array.ndim == 0:
        return np.full_like(np.atleast_2d(volts), array)
    if array.shape != volts.shape:
        raise refuse(name, f"shape {array.shape}", f"the voltage's shape {volts.shape}")
    return array if array.ndim == 2 else array[np.newaxis]
