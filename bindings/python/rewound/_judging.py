# SPDX-License-Identifier: MIT
"""Records and their judgement."""

from __future__ import annotations

import os
from typing import (
    TYPE_CHECKING,
    Any,
    Callable,
    Dict,
    Iterable,
    List,
    Mapping,
    NamedTuple,
    Optional,
    Protocol,
    Tuple,
    Union,
)

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._core import Record, Reference, Spread
from ._errors import expect_kind, refuse
from ._files import AnyPath, there, write
from ._html import facts_and_lists, table
from ._optional import pandas
from ._plots import plot_reference, plot_result
from ._shown import Computed, Shown
from ._words import Decision, Part, still_called

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]

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
        """One dict per speed: level of the current against what is expected [%], exponent [1], outcome, flag."""
        return self._rows_at("draw")

    @property
    def steps(self) -> Dict[str, Any]:
        """Order of the speeds: ``outcome``, ``flag``, ``best_order`` and ``voltage_V`` [V] of the comparison."""
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
        """What may stand behind the findings, likeliest first: ``cause``, ``probability`` [1] and ``evidence``."""
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
    FileNotFoundError
        There is no such file.
    InputError
        The file cannot be read, or a key or value in it cannot be; ``file``, ``line`` and ``field`` say where.

    See Also
    --------
    Record.from_dict : the same from a dict
    """
    return _core.load_record(there(path))


@still_called("earlier", "policy", "spread")
def judge(
    record: Record,
    reference: Optional[Reference] = None,
    *,
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
    expect_kind("record", record, Record, "a Record, as load_record and Record.from_dict make it")
    expect_kind("reference", reference, (Reference, type(None)), "a Reference, as learn and load_reference make it")
    expect_kind("earlier", earlier, (Record, type(None)), "a Record of an earlier visit")
    expect_kind("spread", spread, (Spread, type(None)), "a Spread, as learn_spread and load_spread make it")
    rules = _rules(policy, spread)
    return Result(_core.judge(record, reference, earlier, rules), record, reference, earlier, rules)


def _rules(policy: Any, spread: Optional[Spread] = None) -> Any:
    if spread is not None:
        return (_rules(policy), spread)
    if policy is None:
        return None
    if isinstance(policy, Mapping):
        return dict(policy)
    expect_kind("policy", policy, (str, bytes, os.PathLike), "None, a path, or a dict with the keys of a policy file")
    return there(policy)


@still_called("spread")
def learn(
    records: Iterable[Record],
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
    *,
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
    return _core.learn(records_in("records", records), _rules(policy, spread))


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
    return _core.load_spread(there(path))


def records_in(field: str, records: Iterable[Record]) -> List[Record]:
    """The records as a list; anything else is refused in one line."""
    expect_kind(field, records, Iterable, "records in a list or another iterable")
    out = list(records)
    for place, record in enumerate(out):
        expect_kind(f"{field}[{place}]", record, Record, "a Record")
    return out


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
    FileNotFoundError
        There is no such file.
    InputError
        The file cannot be read, or a key or value in it cannot be.
    """
    return _core.load_reference(there(path))


def _save(self: Union[Reference, Spread], path: AnyPath) -> None:
    """Write it to a file, whole or not at all.

    Parameters
    ----------
    path : str, bytes or os.PathLike

    Raises
    ------
    InputError
        The file cannot be written.
    """
    write(path, self.to_text())


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


def _save_record(self: Record, path: AnyPath) -> None:
    """Write the record to a file, whole or not at all; :func:`load_record` of it gives an equal record.

    Parameters
    ----------
    path : str, bytes or os.PathLike

    Raises
    ------
    InputError
        The file cannot be written.
    """
    write(path, self.to_text())


def _record_html(self: Record) -> str:
    values = self.to_dict()
    machine, visit = values["machine"], values["visit"]
    facts = {"Machine": f"{machine['rated_voltage_V']:g} V, {machine['rated_frequency_Hz']:g} Hz"}
    facts.update({"Visit": f"{visit['date']}, {visit['state'].replace('_', ' ')}", "Speeds": ", ".join(self.speeds)})
    rows = [{"speed": run["speed"], "readings": len(run["voltage_V"])} for run in values["run_up"]]
    return facts_and_lists(self.machine, facts, {}) + table("Run-ups", rows)


_compiled_from_dict = Record.from_dict
_compiled_expected: Any = Reference.expected


def _from_dict(values: Mapping[str, Any]) -> Record:
    return _compiled_from_dict(dict(values) if isinstance(values, Mapping) else values)


def _expected(
    self: Reference,
    speed: str,
    voltage_V: ArrayLike,
    *,
    level: float = 0.95,
    current_u_relative: float = 0.0,
    voltage_u_relative: float = 0.0,
) -> Tuple[Array, Array, Array]:
    """Current that one more good machine draws, with its band.

    Parameters
    ----------
    speed : str
        A speed that the reference knows.
    voltage_V : array_like, shape (m,)
        Voltages [V], above 0.
    level : float
        Coverage of the two-sided band, between 0 and 1.
    current_u_relative, voltage_u_relative : float
        Relative standard uncertainties of the reading to be made [1], gain errors included unless they cancel.

    Returns
    -------
    value, low, high : ndarray, shape (m,)
        Currents [A]: mean curve of the good machines, and the band for one new machine of the model: spread between
        machines, uncertainty of the mean, the reading. Spread is the default policy's prior with what the machines
        show.

    Raises
    ------
    PreconditionError
        A voltage is not above 0, or the level is outside (0, 1).
    InputError
        The reference does not know the speed.
    """
    band: Tuple[Array, Array, Array] = _compiled_expected(
        self, speed, voltage_V, level, current_u_relative, voltage_u_relative
    )
    return band


def _plain_method(compiled: Any, returns: str) -> Any:
    """A compiled method without arguments as one that has a signature."""

    def method(self: Any) -> Any:
        return compiled(self)

    method.__doc__ = compiled.__doc__
    method.__annotations__ = {"return": returns}
    return method


_from_dict.__doc__ = _compiled_from_dict.__doc__
_new_expected = still_called(
    "level", "current_u", "voltage_u", voltage="voltage_V", current_u="current_u_relative",
    voltage_u="voltage_u_relative",
)(_expected)  # fmt: skip
for _kind, _name, _method in (
    (Reference, "save", _save),
    (Reference, "plot", _plot),
    (Reference, "expected", _new_expected),
    (Reference, "_repr_html_", _html),
    (Spread, "save", _save),
    (Record, "save", _save_record),
    (Record, "_repr_html_", _record_html),
    (Record, "to_text", _plain_method(Record.to_text, "str")),
    (Record, "to_dict", _plain_method(Record.to_dict, "Dict[str, Any]")),
    (Reference, "to_text", _plain_method(Reference.to_text, "str")),
    (Spread, "to_text", _plain_method(Spread.to_text, "str")),
    (Record, "from_dict", _from_dict),
):
    _method.__name__ = _name
    _method.__qualname__ = f"{_kind.__name__}.{_name}"
    _method.__module__ = "rewound"
    setattr(_kind, _name, staticmethod(_method) if _name == "from_dict" else _method)
del _kind, _name, _method
