# SPDX-License-Identifier: MIT
"""Insulation: absorption curves, correction, index and minimum."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any, Dict, List, Mapping, Optional, TYPE_CHECKING, Tuple, Union

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._cells import resistances
from ._arrays import _numbers
from ._errors import refuse
from ._files import AnyPath
from ._frame_columns import absent
from ._judging import _rules
from ._optional import pandas
from ._plots_curves import plot_absorption
from ._shown import Remade
from ._values import place_of, read_only
from ._words import InsulationSystem, one_of, still_called

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
_PARAMETERS = ("leakage_uA", "absorption_uA", "exponent")


def _by_name(numbers: Array) -> Mapping[str, Array]:
    return MappingProxyType({name: read_only(np.array(numbers[:, j])) for j, name in enumerate(_PARAMETERS)})


class AbsorptionFit(Remade):
    """Leakage and absorption of insulation tests, made by :func:`fit_absorption`.

    The first axis of every array runs over the curves and is kept, with length 1, where a single curve was fitted.

    Attributes
    ----------
    params : ndarray, shape (n_curves, 3)
        Leakage current [uA], absorption current at one minute [uA], exponent n [1].
    covariance : ndarray, shape (n_curves, 3, 3)
        From the stated uncertainties, times ``scale`` squared; NaN in the rows of what stands at a bound.
    chi2 : ndarray, shape (n_curves,)
        Sum of ((I - model) / u)^2.
    degrees_of_freedom : ndarray of int, shape (n_curves,)
        Readings in use less three, at least 0.
    scale : ndarray, shape (n_curves,)
        Factor by which the readings scatter more than stated, at least 1: chi2 and degrees of freedom are taken
        together with a chi2 of 4 on 4 for the statement itself.
    status : list of str
        ``fitted``; ``no_leakage`` and ``exponent_at_bound``: that parameter stands at its bound; ``no_absorption``: a
        constant current explains the readings as well; ``too_few_readings``: under three, all numbers NaN.
    values, errors : mapping of str to ndarray, shape (n_curves,)
        Parameters and their standard errors by name: ``leakage_uA``, ``absorption_uA`` (at one minute), ``exponent``.
    """

    def __init__(self, fitted: _core.AbsorptionCurves) -> None:
        self._fitted = fitted
        self.params: Array = fitted.params
        self.covariance: Array = fitted.covariance
        self.chi2: Array = np.array(fitted.chi2, dtype=np.float64)
        self.degrees_of_freedom: NDArray[np.int64] = np.array(fitted.degrees_of_freedom, dtype=np.int64)
        self.scale: Array = np.array(fitted.scale, dtype=np.float64)
        self.status: List[str] = fitted.status

    @property
    def values(self) -> Mapping[str, Array]:
        return _by_name(self.params)

    @property
    def errors(self) -> Mapping[str, Array]:
        with np.errstate(invalid="ignore"):
            return _by_name(np.sqrt(np.diagonal(self.covariance, axis1=1, axis2=2)))

    @property
    def nobs(self) -> NDArray[np.int64]:
        """Readings in use, shape (n_curves,)."""
        times, ohms = self._made_by[1][:2]
        return read_only(np.sum(np.isfinite(times) & np.isfinite(ohms), axis=1))  # type: ignore[no-any-return]

    @property
    def reduced_chi2(self) -> Array:
        """chi2 over the degrees of freedom, shape (n_curves,); NaN without any."""
        dof = self.degrees_of_freedom
        return read_only(np.where(dof > 0, self.chi2 / np.maximum(dof, 1), np.nan))  # type: ignore[no-any-return]

    def to_frame(self) -> "pd.DataFrame":
        """The tests, one a row.

        Returns
        -------
        pandas.DataFrame
            ``status``, the parameters by name and their standard errors (``leakage_u_uA`` ...), ``chi2``,
            ``degrees_of_freedom``, ``nobs``, ``reduced_chi2``.

        Raises
        ------
        MissingPackageError
            pandas is not installed.
        """
        columns: Dict[str, Any] = {"status": list(self.status)}
        for name, beside in zip(_PARAMETERS, ("leakage_u_uA", "absorption_u_uA", "exponent_u")):
            columns[name], columns[beside] = self.values[name], self.errors[name]
        columns.update(chi2=self.chi2, degrees_of_freedom=self.degrees_of_freedom, nobs=self.nobs)
        return pandas().DataFrame({**columns, "reduced_chi2": self.reduced_chi2})

    def plot(self, ax: Any = None, *, curve: int = 0, level: float = 0.95, **keywords: Any) -> Any:
        """Draw the readings of one test, and the curve with its interval to ten minutes or beyond.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            New ones where None.
        curve : int
            Which test of a batch, from 0.
        level : float
            Coverage of the band, as in :meth:`predict`.
        **keywords
            For Matplotlib's ``plot`` of the readings, such as ``markersize=8``.

        Returns
        -------
        matplotlib.axes.Axes
            Resistance [Mohm] over time [s], both logarithmic.

        Raises
        ------
        PreconditionError
            There is no such test, or the level is out of range.
        MissingPackageError
            Matplotlib is not installed.
        """
        times, ohms = self._made_by[1][:2]
        place = place_of("curve", curve, len(self.status))
        return plot_absorption(self, place, times[place], ohms[place], float(level), ax, keywords)

    def profile(self, level: float = 0.95) -> Mapping[str, Tuple[Array, Array]]:
        """Profile intervals of the parameters: every value with which some curve fits nearly as well as the best one.

        Parameters
        ----------
        level : float
            Coverage of the two-sided intervals, between 0 and 1.

        Returns
        -------
        mapping of str to (low, high), each ndarray of shape (n_curves,)
            By the names and in the units of ``values``. Currents end at 0, the exponent at its bounds 0.1 and 2; NaN
            for a curve of too few readings.

        Raises
        ------
        PreconditionError
            The level is outside (0, 1).

        Examples
        --------
        >>> times = [15, 30, 60, 120, 600]
        >>> fit = rewound.fit_absorption(times, [110, 150, 203, 250, 380], test_voltage_V=500)
        >>> low, high = fit.profile()["leakage_uA"]
        >>> bool(0 <= low[0] < fit.values["leakage_uA"][0] < high[0])
        True
        """
        low, high = map(_by_name, self._fitted.profile(float(level)))
        return MappingProxyType({name: (low[name], high[name]) for name in _PARAMETERS})

    def predict(self, time_s: ArrayLike, level: float = 0.95) -> Tuple[Array, Array, Array]:
        """Resistance of the curves at given times, with an interval.

        The interval holds every value that some curve within the bounds reaches while it fits the readings nearly as
        well as the best one (profile of the likelihood); a gain error common to all readings is not in it.

        Parameters
        ----------
        time_s : array_like, shape (), (m,) or (n_curves, m)
            Times [s], above 0; the first two serve for every curve.
        level : float
            Coverage of the two-sided interval, between 0 and 1.

        Returns
        -------
        value, low, high : ndarray, shape (n_curves,) for one time, else (n_curves, m)
            Resistances [Mohm]; NaN for a curve of too few readings.

        Raises
        ------
        PreconditionError
            A time is not a finite number above 0, a shape does not fit, or the level is outside (0, 1).
        """
        times = _numbers("time_s", time_s)
        count = len(self.status)
        rows = times if times.ndim > 1 else np.broadcast_to(times, (count, times.size))
        if rows.ndim != 2 or len(rows) != count:
            raise refuse("time_s", f"shape {times.shape}", "one number, one dimension, or two with one row per curve")
        value, low, high = self._fitted.predict(rows, float(level))
        return (value[:, 0], low[:, 0], high[:, 0]) if times.ndim == 0 else (value, low, high)

    @still_called("level")
    def ratio(
        self, later_s: float = 600.0, earlier_s: float = 60.0, *, level: float = 0.95
    ) -> Tuple[Array, Array, Array]:
        """Resistance at a later over that at an earlier time, by default the polarization index.

        Parameters
        ----------
        later_s, earlier_s : float
            Times [s].
        level : float
            Coverage of the two-sided interval, between 0 and 1.

        Returns
        -------
        value, low, high : ndarray, shape (n_curves,)
            Ratios [1]; a gain error of the tester cancels. NaN for a curve of too few readings.

        Raises
        ------
        PreconditionError
            Times that are not finite, above 0 and in order, or a level outside (0, 1).
        """
        value, low, high = self._fitted.ratio(float(later_s), float(earlier_s), float(level))
        return value, low, high

    def __repr__(self) -> str:
        return f"<rewound.AbsorptionFit {len(self.status)} curves, {self.status.count('fitted')} fitted>"


@still_called("test_voltage_V", resistance_u="resistance_u_Mohm")
def fit_absorption(
    time_s: ArrayLike,
    resistance_Mohm: ArrayLike,
    *,
    test_voltage_V: ArrayLike,
    resistance_u_Mohm: Optional[ArrayLike] = None,
    absolute_sigma: bool = False,
    threads: int = 1,
) -> AbsorptionFit:
    """Fit leakage and absorption to insulation tests at constant voltage, one or a whole batch at once.

    The model is I = leakage + absorption (t / 60 s)^-n with I = test voltage / R. Minimised is the sum of
    ((I - model) / u)^2 with neither current below 0 and n within 0.1 to 2.

    Parameters
    ----------
    time_s : array_like, shape (n_readings,) or (n_curves, n_readings)
        Times since full voltage [s], above 0; one dimension serves for all curves of a batch. In a batch NaN marks an
        absent reading.
    resistance_Mohm : array_like, shape (n_readings,) or (n_curves, n_readings)
        Insulation resistances [Mohm], above 0. In a batch NaN marks an absent reading. ``"OL"``, ``">2000"`` and
        infinity are readings beyond the tester's range, which the fit leaves out.
    test_voltage_V : float or array_like, shape (n_curves,)
        Test voltage [V].
    resistance_u_Mohm : float or array_like, optional
        Standard uncertainties [Mohm], independent from reading to reading; a number or one per reading. Where None,
        1 % of each reading.
    absolute_sigma : bool
        True: the uncertainties hold as stated, whatever the scatter, and ``scale`` is 1. False: they are a statement
        that counts as four degrees of freedom beside the readings' scatter (see ``AbsorptionFit.scale``), as in
        :func:`judge`.
    threads : int
        Threads to share a batch among, 1 to 1024. The result does not depend on it.

    Returns
    -------
    AbsorptionFit

    Raises
    ------
    PreconditionError
        Shapes differ, or a number is out of range; ``field`` names the reading.

    Examples
    --------
    >>> fit = rewound.fit_absorption([15, 30, 60, 120, 600], [500 / (0.5 + 0.5 * (t / 60) ** -0.8)
    ...                              for t in (15, 30, 60, 120, 600)], test_voltage_V=500.0)
    >>> fit.params.round(3)
    array([[0.5, 0.5, 0.8]])
    """
    times = _numbers("time_s", time_s)
    if times.ndim not in (1, 2):
        raise refuse("time_s", f"an array of {times.ndim} dimensions", "one dimension, or two for a batch")
    ohms = resistances("resistance_Mohm", resistance_Mohm)
    batch = times.ndim == 2 or ohms.ndim == 2
    if ohms.ndim == 2 and times.shape == ohms.shape[1:]:
        times = np.broadcast_to(times, ohms.shape)
    if ohms.shape != times.shape:
        raise refuse("resistance_Mohm", f"shape {ohms.shape}", f"time_s's shape {times.shape}")
    u = 0.01 * ohms if resistance_u_Mohm is None else _shaped("resistance_u_Mohm", resistance_u_Mohm, times)
    beyond = np.isposinf(ohms)
    if batch:
        ohms = np.where(beyond, np.nan, ohms)
    else:
        times, ohms, u = times[~beyond], ohms[~beyond], u[~beyond]
    rows = np.array(np.atleast_2d(times))
    volts = _numbers("test_voltage_V", test_voltage_V)
    volts = np.full(len(rows), volts) if volts.ndim == 0 else volts
    if volts.shape != (len(rows),):
        raise refuse("test_voltage_V", f"shape {volts.shape}", "one number, or one per curve")
    return AbsorptionFit._made(
        "fit_absorption", rows, np.atleast_2d(ohms), volts, np.atleast_2d(u), batch=batch,
        absolute_sigma=bool(absolute_sigma), threads=threads,
    )  # fmt: skip


def _shaped(name: str, values: ArrayLike, times: Array) -> Array:
    """The values, one per time."""
    array = _numbers(name, values)
    array = np.full(times.shape, array) if array.ndim == 0 else array
    if array.shape != times.shape:
        raise refuse(name, f"shape {array.shape}", f"time_s's shape {times.shape}")
    return array


def correct_insulation(
    resistance_Mohm: ArrayLike,
    *,
    winding_C: ArrayLike,
    insulation_system: InsulationSystem,
) -> Array:
    """Bring insulation resistances to 40 degC.

    Parameters
    ----------
    resistance_Mohm : array_like
        Insulation resistances [Mohm], above 0, as read. NaN stays NaN; ``"OL"``, ``">2000"`` and infinity, which are
        beyond the tester's range, give infinity.
    winding_C : array_like
        Temperature of the winding [degC], -60 to 400; broadcast against the resistances.
    insulation_system : {"thermosetting", "thermoplastic"}
        Of the winding.

    Returns
    -------
    ndarray
        Resistances at 40 degC [Mohm].

    Raises
    ------
    PreconditionError
        A number is out of range.
    InputError
        The system is neither.

    Notes
    -----
    Thermoplastic: 0.5^((40 - T) / 10) (IEEE 43-2000 and 2013, 6.3). Thermosetting: exp(-4230 (1/(T+273) - 1/313)) from
    40 to 85 degC, with -1245 from 10 to 40 degC (IEEE 43-2013 6.3; the two coefficients from memory, unverified).
    Outside that range the nearer branch is carried on, which :func:`judge` does not decide by.

    Examples
    --------
    >>> rewound.correct_insulation([100.0, 200.0], winding_C=30.0, insulation_system="thermoplastic").tolist()
    [50.0, 100.0]
    """
    system = one_of("insulation_system", insulation_system, ("thermosetting", "thermoplastic"))
    ohms = resistances("resistance_Mohm", resistance_Mohm)
    return np.asarray(_core.correct_insulation(ohms, _numbers("winding_C", winding_C), system == "thermoplastic"))


def polarization_index(
    time_s: ArrayLike, resistance_Mohm: ArrayLike, *, later_s: float = 600.0, earlier_s: float = 60.0
) -> Array:
    """Resistance read at a later over that read at an earlier time, by default at ten minutes over one.

    Parameters
    ----------
    time_s : array_like, shape (n_readings,) or (n_tests, n_readings)
        Times since full voltage [s]; one dimension serves for all tests.
    resistance_Mohm : array_like, shape (n_readings,) or (n_tests, n_readings)
        Insulation resistances [Mohm], above 0; NaN where absent.
    later_s, earlier_s : float
        Times [s]; a reading within half a second counts as taken then.

    Returns
    -------
    ndarray, shape () or (n_tests,)
        Ratios [1]. NaN where one of the two was not read or was beyond the tester's range (``"OL"``, ``">2000"``); a
        value that was not read is predicted by :meth:`AbsorptionFit.ratio`.

    Raises
    ------
    PreconditionError
        Shapes differ.

    Notes
    -----
    IEEE 43-2000 and 2013, 3.2 (definition, from memory, unverified). 60 over 30 s is the dielectric absorption ratio.

    Examples
    --------
    >>> float(rewound.polarization_index([30, 60, 600], [90.0, 100.0, 250.0]))
    2.5
    """
    ohms = resistances("resistance_Mohm", resistance_Mohm)
    times = _numbers("time_s", time_s)
    if ohms.ndim not in (1, 2) or times.shape not in (ohms.shape, ohms.shape[-1:]):
        raise refuse("time_s", f"shape {times.shape}", f"resistance_Mohm's shape {ohms.shape}")
    ohms = np.where(np.isfinite(ohms), ohms, np.nan)

    def read_at(seconds: float) -> Array:
        there = (np.abs(times - seconds) < 0.5) & np.isfinite(ohms)
        found = np.where(there, ohms, 0.0).sum(axis=-1) / np.maximum(there.sum(axis=-1), 1)
        return np.where(there.any(axis=-1), found, np.nan)

    return np.asarray(read_at(later_s) / read_at(earlier_s))


def insulation_minimum(
    rated_voltage_V: ArrayLike,
    *,
    winding_kind: Optional[ArrayLike] = None,
    wound_year: Optional[ArrayLike] = None,
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
) -> Array:
    """Least insulation resistance at one minute and 40 degC that :func:`judge` asks for.

    Parameters
    ----------
    rated_voltage_V : array_like
        Rated voltage [V], above 0. All arrays are broadcast against each other.
    winding_kind : {"random_wound", "form_wound", "field", "armature"} or array_like of these, optional
        None where it is not known: the strictest that may apply.
    wound_year : array_like, optional
        Year of the present winding; NaN or None where it is not known: the strictest that may apply.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`; a minimum of the shop's own replaces the standard's.

    Returns
    -------
    ndarray
        Minima [Mohm].

    Raises
    ------
    PreconditionError
        A number is out of range.
    InputError
        A winding of another kind.

    Notes
    -----
    IEEE 43-2000 and 2013, 12.3 (Table 3): 1 Mohm and 1 Mohm a kV before about 1970 and for field windings, 5 Mohm for
    random-wound stators, form-wound ones below 1 kV and (2013) armatures, 100 Mohm for form-wound ones from 1 kV.

    Examples
    --------
    >>> rewound.insulation_minimum([230.0, 400.0], wound_year=[1962, 2026], winding_kind="random_wound").tolist()
    [1.23, 5.0]
    """
    kinds = _core.winding_kinds()
    words = np.asarray([None] if winding_kind is None else winding_kind, dtype=object)
    known = [-1 if absent(word) else kinds.index(one_of("winding_kind", word, tuple(kinds))) for word in words.ravel()]
    years = np.nan if wound_year is None else np.asarray(wound_year, dtype=np.float64)
    shape = () if winding_kind is None else words.shape
    return np.asarray(
        _core.insulation_minimum(
            _numbers("rated_voltage_V", rated_voltage_V), years, np.array(known, dtype=np.intc).reshape(shape),
            _rules(policy),
        )
    )  # fmt: skip
