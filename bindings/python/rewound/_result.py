# SPDX-License-Identifier: MIT
"""The judgement of one visit."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, Callable, Dict, NamedTuple, Optional, Protocol, Tuple

from . import _core
from ._core import Record, Reference
from ._errors import refuse
from ._files import AnyPath, write
from ._html import facts_and_lists, table
from ._optional import pandas
from ._plots import plot_result
from ._shown import Computed, Shown
from ._words import Decision, Part

if TYPE_CHECKING:
    import pandas as pd

_PARTS: Dict[str, Tuple[str, ...]] = {
    "findings": (
        "check", "subject", "outcome", "quantity", "value", "unit", "low", "high", "limit_low", "limit_high", "source",
        "message", "bearing",
    ),
    "draw": (
        "speed", "level_percent", "level_low", "level_high", "exponent", "exponent_u", "outcome", "flag", "judged_by",
        "current_at_rated_A", "current_at_rated_u_A", "expected_at_rated_A", "current_at_supply_A", "extrapolated",
    ),
    "suspect_readings": ("speed", "index", "quantity", "explanation", "read", "would_fit", "set_aside"),
    "causes": ("cause", "probability"),
    "next_measurements": ("measurement", "minutes", "bits"),
}  # fmt: skip
_NUMBERS = {
    "value", "low", "high", "limit_low", "limit_high", "level_percent", "level_low", "level_high", "exponent",
    "exponent_u", "current_at_rated_A", "current_at_rated_u_A", "expected_at_rated_A", "current_at_supply_A", "read",
    "would_fit", "probability", "minutes", "bits",
}  # fmt: skip


class ComputedJudgement(Computed, Protocol):
    """A judgement as the compiled part returns it."""

    def to_text(self, full: bool = False) -> str:
        ...


class _Kept(NamedTuple):
    """A judgement as it arrived from another process."""

    json: str
    text: str
    full_text: str

    def to_json(self) -> str:
        return self.json

    def to_text(self, full: bool = False) -> str:
        return self.full_text if full else self.text


class Result(Shown):
    """Judgement of one visit: a decision, and what stands behind it.

    Made by :func:`judge`; its JSON has the format ``rewound-result/1``. The attributes are parts of :meth:`to_dict`
    that cannot be changed; :meth:`to_dict` gives a new dict that can. It keeps the record and what that was compared
    with, for :meth:`plot`."""

    _computed: ComputedJudgement

    def __init__(
        self,
        computed: ComputedJudgement,
        record: Record,
        reference: Optional[Reference] = None,
        earlier: Optional[Record] = None,
        rules: Any = None,
    ) -> None:
        super().__init__(computed)
        self._record = record
        self._reference = reference
        self._earlier = earlier
        self._rules = rules

    @property
    def decision(self) -> Decision:
        """``"release"``, ``"hold"`` or ``"undecided"``; a needed check that is missing never releases."""
        decision: Decision = self._values["decision"]
        return decision

    @property
    def reasons(self) -> Tuple[str, ...]:
        """The weightiest reasons for the decision, at most three sentences."""
        return self._texts_at("reasons")

    @property
    def findings(self) -> Tuple[Dict[str, Any], ...]:
        """One dict per finding, in the order of judgement.

        Keys are ``check``, ``subject``, ``outcome``, ``quantity``, ``value``, ``unit`` (of value, interval and
        limits), ``low``, ``high`` (interval of the value), ``limit_low``, ``limit_high``, ``source``, ``message``
        and ``bearing``; a number that does not exist is None.
        """
        return self._rows_at("findings")

    @property
    def draw(self) -> Tuple[Dict[str, Any], ...]:
        """One dict per speed, with the level of the current against what is expected [%], exponent [1], outcome, flag."""
        return self._rows_at("draw")

    @property
    def steps(self) -> Dict[str, Any]:
        """The order of the speeds, with ``outcome``, ``flag``, ``best_order`` and ``voltage_V`` [V] of the comparison."""
        return self._table_at("steps")

    @property
    def next(self) -> Tuple[str, ...]:
        """What to do next, weightiest first."""
        return self._texts_at("next")

    @property
    def suspect_readings(self) -> Tuple[Dict[str, Any], ...]:
        """One dict per reading that does not belong to the curve of the others.

        Keys are ``speed``, ``index`` (from 0), ``quantity`` (``"voltage"`` or ``"current"``), ``explanation``,
        ``read`` and ``would_fit`` [V] or [A], and ``set_aside``: whether it was kept out of the curve.
        """
        return self._rows_at("suspect_readings")

    @property
    def causes(self) -> Tuple[Dict[str, Any], ...]:
        """What may stand behind the findings, likeliest first, with ``cause``, ``probability`` [1] and ``evidence``."""
        return self._rows_at("causes")

    @property
    def next_measurements(self) -> Tuple[Dict[str, Any], ...]:
        """Measurements not made yet, the most telling of the cause for their minutes first.

        Keys are ``measurement``, ``minutes`` [min], ``bits`` [bit] it is expected to tell, and ``high``,
        ``as_expected``, ``low``: what each outcome would mean.
        """
        return self._rows_at("next_measurements")

    @property
    def abnormality(self) -> Optional[float]:
        """-log10 p of the joint comparison with healthy machines [1]; None where nothing says what to expect."""
        value: Optional[float] = self._values["abnormality"]
        return value

    def to_frame(self, part: Part = "findings") -> "pd.DataFrame":
        """A part of the result as a frame, one row an entry.

        Parameters
        ----------
        part : {"findings", "draw", "suspect_readings", "causes", "next_measurements"}
            See the attribute of that name for the columns; what is itself a dict or a list is left out.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        PreconditionError
            There is no such part.
        MissingPackageError
            pandas is not installed.
        """
        if part not in _PARTS:
            raise refuse("part", f'"{part}"', "one of " + ", ".join(_PARTS))
        rows = [{key: row[key] for key in _PARTS[part]} for row in self._rows_at(part)]
        frame = pandas().DataFrame(rows, columns=_PARTS[part])
        return frame.astype({name: float for name in frame.columns if name in _NUMBERS})

    def plot(self, axes: Any = None, **keywords: Any) -> Any:
        """Draw current against voltage, a panel a speed: readings, suspect ones, and what was expected.

        The curves are those of the judgement itself and of its report: the fitted one, and the expected one with its
        band for one reading of one healthy machine (95 %), of the reference or of the earlier visit that it was judged
        by; beside a nameplate the marked current stands at the rated voltage.

        Parameters
        ----------
        axes : sequence of matplotlib.axes.Axes, optional
            One a speed that was read; new ones where None.
        **keywords
            For Matplotlib's ``plot`` of the readings, such as ``markersize=8``.

        Returns
        -------
        ndarray of matplotlib.axes.Axes
            One a speed; current [A] over voltage [V].

        Raises
        ------
        PreconditionError
            Not one axes a speed.
        MissingPackageError
            Matplotlib is not installed.
        """
        pictures = _core.draw_pictures(self._record, self._reference, self._earlier, self._rules)
        beside = "earlier" if self._reference is None else "reference"
        return plot_result(self, pictures, beside, self._record.to_dict()["machine"], axes, keywords)

    def to_text(self, full: bool = False) -> str:
        """The judgement as plain text for people.

        Parameters
        ----------
        full : bool
            Everything, each limit with its source; else what a terminal of 24 lines of 80 holds.

        Returns
        -------
        str
            Lines of at most 79 characters.
        """
        return self._computed.to_text(full)

    def to_html(self) -> str:
        """The report as one page that stands alone, as ``rewound judge --format html`` writes it.

        Returns
        -------
        str
            HTML with its pictures in it; no script, nothing fetched.
        """
        return _core.judgement_page(self._record, self._reference, self._earlier, self._rules)

    def save(self, path: AnyPath) -> None:
        """Write the result to a file, whole or not at all.

        Parameters
        ----------
        path : str, bytes or os.PathLike
            Its ending says what is written: ``.json``, ``.html`` or ``.txt``.

        Raises
        ------
        PreconditionError
            Another ending.
        InputError
            The file cannot be written.
        """
        written: Dict[str, Callable[[], str]] = {".json": self.to_json, ".html": self.to_html, ".txt": self.to_text}
        ending = os.path.splitext(os.fsdecode(path))[1].lower()
        if ending not in written:
            raise refuse("path", f'the ending "{ending}"', "one of " + ", ".join(written))
        write(path, written[ending]())

    def _repr_html_(self) -> str:
        brief = self._table_at("brief")
        name = f"{self._text_at('machine')}, visit of {self._text_at('date')}"
        facts = {"Decision": self.decision.upper(), **({"Likely": brief["likely"]} if brief["likely"] else {})}
        lists = {
            "Why": brief["reasons"],
            "What to do next": brief["next"],
            "Released on these conditions": brief["conditions"],
            "Cautions": self._texts_at("cautions"),
        }
        rows = [
            {key: row[key] for key in ("check", "subject", "outcome", "message")}
            for row in self.findings
        ]  # fmt: skip
        return facts_and_lists(name, facts, lists) + table("Findings", rows)

    def __getstate__(self) -> Dict[str, Any]:
        kept = {name: value for name, value in self.__dict__.items() if name != "_values"}
        return {**kept, "_computed": _Kept(self.to_json(), self.to_text(), self.to_text(full=True))}

    def __repr__(self) -> str:
        return f"<rewound.Result {self._values['machine']}: {self.decision}, {len(self.findings)} findings>"
