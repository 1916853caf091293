# SPDX-License-Identifier: MIT
"""Records and their judgement."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, Dict, Iterable, List, Mapping, NamedTuple, Optional, Protocol, Tuple, Union

from numpy.typing import ArrayLike

from . import _core
from ._core import Record, Reference, Spread
from ._errors import refuse
from ._html import facts_and_lists, table
from ._optional import pandas
from ._plots import plot_reference, plot_result
from ._shown import Computed, Shown

if TYPE_CHECKING:
    import pandas as pd

AnyPath = Union[str, bytes, "os.PathLike[Any]"]
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

    Made by :func:`judge`; its JSON has the format ``rewound-result/1``. The attributes are parts of :meth:`to_dict`;
    treat them as read-only. It keeps the record and what that was compared with, for :meth:`plot`.
    """

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
    def decision(self) -> str:
        """``"release"``, ``"hold"`` or ``"undecided"``; a needed check that is missing never releases."""
        return self._text_at("decision")

    @property
    def reasons(self) -> List[str]:
        """The weightiest reasons for the decision, at most three sentences."""
        return self._texts_at("reasons")

    @property
    def findings(self) -> List[Dict[str, Any]]:
        """One dict per finding, in the order of judgement.

        Keys are ``check``, ``subject``, ``outcome``, ``quantity``, ``value``, ``unit`` (of value, interval and
        limits), ``low``, ``high`` (interval of the value), ``limit_low``, ``limit_high``, ``source``, ``message``
        and ``bearing``; a number that does not exist is None.
        """
        return self._rows_at("findings")

    @property
    def draw(self) -> List[Dict[str, Any]]:
        """One dict per speed: level of the current against what is expected [%], exponent [1], outcome, flag."""
        return self._rows_at("draw")

    @property
    def steps(self) -> Dict[str, Any]:
        """Order of the speeds: ``outcome``, ``flag``, ``best_order`` and ``voltage_V`` [V] of the comparison."""
        return self._table_at("steps")

    @property
    def next(self) -> List[str]:
        """What to do next, weightiest first."""
        return self._texts_at("next")

    @property
    def suspect_readings(self) -> List[Dict[str, Any]]:
        """One dict per reading that does not belong to the curve of the others.

        Keys are ``speed``, ``index`` (from 0), ``quantity`` (``"voltage"`` or ``"current"``), ``explanation``,
        ``read`` and ``would_fit`` [V] or [A], and ``set_aside``: whether it was kept out of the curve.
        """
        return self._rows_at("suspect_readings")

    @property
    def causes(self) -> List[Dict[str, Any]]:
        """What may stand behind the findings, likeliest first: ``cause``, ``probability`` [1] and ``evidence``."""
        return self._rows_at("causes")

    @property
    def next_measurements(self) -> List[Dict[str, Any]]:
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

    def to_frame(self, part: str = "findings") -> "pd.DataFrame":
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

    def plot(self, axes: Any = None) -> Any:
        """Draw current against voltage, a panel a speed: readings, suspect ones, and what was expected.

        The curves are those of the judgement itself and of its report: the fitted one, and the expected one with its
        band for one reading of one healthy machine (95 %), of the reference or of the earlier visit that it was judged
        by; beside a nameplate the marked current stands at the rated voltage.

        Parameters
        ----------
        axes : sequence of matplotlib.axes.Axes, optional
            One a speed that was read; new ones where None.

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
        return plot_result(self, pictures, beside, self._record.to_dict()["machine"], axes)

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

    def _repr_html_(self) -> str:
        brief = self._table_at("brief")
        name = f"{self._text_at('machine')}, visit of {self._text_at('date')}"
        facts = {"Decision": self.decision.upper(), **({"Likely": brief["likely"]} if brief["likely"] else {})}
        lists = {
            "Why": brief["reasons"],
            "What to do next": brief["next"],
            "Released on these conditions": brief["conditions"],
            "Cautions": [*brief["cautions"], "Everything: to_text(full=True)"],
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


def load_record(path: AnyPath) -> Record:
    """Read a record file and the comma-separated tables it names.

    Parameters
    ----------
    path : str, bytes or os.PathLike
        A TOML file of format ``rewound-record/1``. Every number in it carries its unit in its key.

    Returns
    -------
    Record

    Raises
    ------
    InputError
        The file cannot be read, or a key or value in it cannot be; ``file``, ``line`` and ``field`` say where.

    See Also
    --------
    Record.from_dict : the same from a dict
    """
    return _core.load_record(os.fsencode(path))


def judge(
    record: Record,
    reference: Optional[Reference] = None,
    earlier: Optional[Record] = None,
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
    spread: Optional[Spread] = None,
) -> Result:
    """Judge one visit's record: release, hold, or undecided.

    Parameters
    ----------
    record : Record
        The visit to judge.
    reference : Reference, optional
        What good machines of the model draw; where it is given it outranks the earlier visit.
    earlier : Record, optional
        An earlier visit of the same machine to compare with.
    policy : str, bytes, os.PathLike or dict, optional
        The shop's own policy: a file of format ``rewound-policy/1``, or a dict with that file's keys
        (``format`` included). Keys it leaves out keep the default policy's values.
    spread : Spread, optional
        How good machines of any model differ, in place of the policy's own belief.

    Returns
    -------
    Result

    Raises
    ------
    InputError
        The policy cannot be read, or a record or reference is of another machine, model or rating.
    TypeError
        ``record`` or ``earlier`` is not a Record.
    """
    rules = _rules(policy, spread)
    return Result(_core.judge(record, reference, earlier, rules), record, reference, earlier, rules)


def _rules(policy: Union[None, AnyPath, Mapping[str, Any]], spread: Optional[Spread] = None) -> Any:
    if spread is not None:
        return (_rules(policy), spread)
    if isinstance(policy, Mapping):
        return dict(policy)
    return None if policy is None else os.fsencode(policy)


def learn(
    records: Iterable[Record],
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
    spread: Optional[Spread] = None,
) -> Reference:
    """Learn what good machines of one model draw.

    Parameters
    ----------
    records : iterable of Record
        Visits of good machines of one model, each visit once. With four or more, a machine that is very
        improbable beside the others is set aside and named in ``set_aside``.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`; its ``reference_...`` limits are the spread believed in beforehand.
    spread : Spread, optional
        How good machines of any model differ, believed in instead.

    Returns
    -------
    Reference

    Raises
    ------
    InputError
        No record, or records of different models, ratings or shaft conditions, or one visit twice.
    """
    return _core.learn(list(records), _rules(policy, spread))


def learn_spread(references: Iterable[Reference], policy: Union[None, AnyPath, Mapping[str, Any]] = None) -> Spread:
    """Learn from references of several models how good machines of any model differ.

    Parameters
    ----------
    references : iterable of Reference
        Those of one machine say nothing of it and are passed over.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`; its ``reference_...`` limits count as a few machines.

    Returns
    -------
    Spread

    Raises
    ------
    InputError
        No reference, or none of two machines or more.
    """
    return _core.learn_spread(list(references), _rules(policy))


def load_spread(path: AnyPath) -> Spread:
    """Read a spread file, as :meth:`Spread.save` writes it.

    Parameters
    ----------
    path : str, bytes or os.PathLike
        A TOML file of format ``rewound-spread/1``.

    Returns
    -------
    Spread

    Raises
    ------
    InputError
        The file cannot be read, or a key or value in it cannot be.
    """
    return _core.load_spread(os.fsencode(path))


def _save_spread(self: Spread, path: AnyPath) -> None:
    """Write the spread to a file, whole or not at all.

    Parameters
    ----------
    path : str, bytes or os.PathLike

    Raises
    ------
    InputError
        The file cannot be written.
    """
    _core.save_spread(self, os.fsencode(path))


def load_reference(path: AnyPath) -> Reference:
    """Read a reference file, as :meth:`Reference.save` writes it.

    Parameters
    ----------
    path : str, bytes or os.PathLike
        A TOML file of format ``rewound-reference/1``.

    Returns
    -------
    Reference

    Raises
    ------
    InputError
        The file cannot be read, or a key or value in it cannot be.
    """
    return _core.load_reference(os.fsencode(path))


def _save(self: Reference, path: AnyPath) -> None:
    """Write the reference to a file, whole or not at all.

    Parameters
    ----------
    path : str, bytes or os.PathLike

    Raises
    ------
    InputError
        The file cannot be written.
    """
    _core.save_reference(self, os.fsencode(path))


def _plot(self: Reference, voltage: Optional[ArrayLike] = None, level: float = 0.95, axes: Any = None) -> Any:
    """Draw what good machines draw, a panel a speed: mean curve, and the band for one more machine.

    Parameters
    ----------
    voltage : array_like, shape (m,), optional
        Voltages [V], above 0, rising; from half the rated voltage to a tenth above it where None.
    level : float
        Coverage of the band, between 0 and 1; see :meth:`expected`.
    axes : sequence of matplotlib.axes.Axes, optional
        One a speed; new ones where None.

    Returns
    -------
    ndarray of matplotlib.axes.Axes
        One a speed; current [A] over voltage [V].

    Raises
    ------
    PreconditionError
        A voltage or the level is out of range, or not one axes a speed.
    MissingPackageError
        Matplotlib is not installed.
    """
    return plot_reference(self, voltage, level, axes)


def _html(self: Reference) -> str:
    facts = {
        "Machines": str(self.machines),
        "Rated": f"{self.rated_voltage_V:g} V, {self.rated_frequency_Hz:g} Hz",
        "Speeds": ", ".join(self.speeds),
    }
    lists = {"Good machines": self.visits, "Set aside, unlike the others": self.set_aside}
    return facts_and_lists(f"Reference of {self.model}", facts, lists)


for _name, _method in (("save", _save), ("plot", _plot), ("_repr_html_", _html)):
    _method.__name__ = _name
    _method.__qualname__ = f"Reference.{_name}"
    setattr(Reference, _name, _method)
_save_spread.__name__ = "save"
_save_spread.__qualname__ = "Spread.save"
Spread.save = _save_spread  # type: ignore[method-assign]
del _name, _method
