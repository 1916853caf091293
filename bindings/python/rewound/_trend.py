# SPDX-License-Identifier: MIT
"""The trend of a machine's insulation over its visits."""

from __future__ import annotations

from typing import Any, Dict, Iterable, Mapping, Sequence, TYPE_CHECKING, Tuple, Union

from . import _core
from ._core import Record
from ._files import AnyPath
from ._judging import _rules
from ._html import facts_and_lists
from ._optional import pandas
from ._plots import plot_trend
from ._shown import Shown

if TYPE_CHECKING:
    import pandas as pd


class Trend(Shown):
    """Insulation of one machine over its visits. Made by :func:`trend`; its JSON has the format ``rewound-trend/1``."""

    @property
    def circuits(self) -> Tuple[Dict[str, Any], ...]:
        """One dict per circuit.

        Keys are ``circuit``, ``system``, ``system_stated``, ``minimum_Mohm``, ``minimum_source``, ``visits`` (values
        [Mohm] at one minute, as read and at 40 degC), ``log_slope_per_year`` and its standard uncertainty
        ``log_slope_u``, ``line`` (its value and 95 % interval, ``years`` after the last visit), ``steps``, ``forecast``
        and ``messages``; a number that does not exist is None.
        """
        return self._rows_at("circuits")

    def to_frame(self) -> "pd.DataFrame":
        """The visits of every circuit.

        Returns
        -------
        pandas.DataFrame
            One row a circuit and visit: ``circuit``, ``date``, ``state``, ``read_Mohm`` at one minute, ``how`` it came
            about, ``winding_C`` [degC], ``at_40_C_Mohm`` with the interval ``low``, ``high`` [Mohm], and ``in_line``:
            whether it counts for the line.

        Raises
        ------
        MissingPackageError
            pandas is not installed.
        """
        pd = pandas()
        rows = [{"circuit": circuit["circuit"], **visit} for circuit in self.circuits for visit in circuit["visits"]]
        return pd.DataFrame(rows).astype({"date": "datetime64[ns]"})

    def plot(self, axes: Any = None, **keywords: Any) -> Any:
        """Draw each circuit's one-minute value at 40 degC over the visits with its interval, the line through them with
        its band and the minimum, and where they cross.

        Parameters
        ----------
        axes : sequence of matplotlib.axes.Axes, optional
            One a circuit; new ones where None.
        **keywords
            For Matplotlib's ``errorbar`` of the visits, such as ``markersize=8``.

        Returns
        -------
        ndarray of matplotlib.axes.Axes
            One a circuit; resistance [Mohm] on a logarithmic scale over the date.

        Raises
        ------
        PreconditionError
            Not one axes a circuit.
        MissingPackageError
            Matplotlib is not installed.
        """
        return plot_trend(self.circuits, self._text_at("machine"), axes, keywords)

    def _repr_html_(self) -> str:
        lists: Dict[str, Sequence[str]] = {circuit["circuit"]: circuit["messages"] for circuit in self.circuits}
        lists.update({"What to do next": self._texts_at("next"), "Cautions": self._texts_at("cautions")})
        return facts_and_lists(f"{self._text_at('machine')}: insulation over visits", {}, lists)

    def __repr__(self) -> str:
        return f"<rewound.Trend {self._values['machine']}, {len(self.circuits)} circuits>"


def trend(records: Iterable[Record], policy: Union[None, AnyPath, Mapping[str, Any]] = None) -> Trend:
    """Follow the insulation of one machine over its visits, each circuit on its own.

    Parameters
    ----------
    records : iterable of Record
        Visits of one machine, in any order, one a date.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`; its limits set the minimum and how far ahead the forecast looks.

    Returns
    -------
    Trend

    Raises
    ------
    InputError
        No record, records of different machines or ratings, two of one date, or none with a value at one minute.

    Examples
    --------
    >>> visits = [rewound.sample_record(f"gh12_{year}") for year in range(2021, 2026)]
    >>> circuit = rewound.trend(visits).circuits[0]
    >>> circuit["forecast"]["outcome"], round(circuit["forecast"]["years"], 1)
    ('crosses', 4.3)
    """
    return Trend(_core.trend(list(records), _rules(policy)))
