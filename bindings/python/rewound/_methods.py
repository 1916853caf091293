# SPDX-License-Identifier: MIT
"""What the compiled records, references and spreads can do in Python besides."""

from __future__ import annotations

import inspect
from typing import Any, Mapping, Optional, Tuple, Union

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ._core import Record, Reference, Spread
from ._files import AnyPath, write
from ._html import facts_and_lists, table
from ._plots import plot_reference
from ._words import still_called

Array = NDArray[np.float64]


def _save_method(read_by: str) -> Any:
    """A method that writes the text of what it is called on."""

    def save(self: Union[Record, Reference, Spread], path: AnyPath) -> None:
        write(path, self.to_text())

    save.__doc__ = f"""Write it to a file, whole or not at all; :func:`{read_by}` of it gives an equal one.

    Parameters
    ----------
    path : str, bytes or os.PathLike

    Raises
    ------
    InputError
        The file cannot be written.
    """
    return save


def _plot(
    self: Reference, voltage: Optional[ArrayLike] = None, level: float = 0.95, *, axes: Any = None, **keywords: Any
) -> Any:
    """Draw what good machines draw, a panel a speed: mean curve, and the band for one more machine.

    Parameters
    ----------
    voltage : array_like, shape (m,), optional
        Voltages [V], above 0, rising; from half the rated voltage to a tenth above it where None.
    level : float
        Coverage of the band, between 0 and 1; see :meth:`expected`.
    axes : sequence of matplotlib.axes.Axes, optional
        One a speed; new ones where None.
    **keywords
        For Matplotlib's ``plot`` of the mean curves, such as ``color="tab:blue"``.

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
    return plot_reference(self, voltage, level, axes, keywords)


def _html(self: Reference) -> str:
    facts = {
        "Machines": str(self.machines),
        "Rated": f"{self.rated_voltage_V:g} V, {self.rated_frequency_Hz:g} Hz",
        "Speeds": ", ".join(self.speeds),
    }
    lists = {"Good machines": self.visits, "Set aside, unlike the others": self.set_aside}
    return facts_and_lists(f"Reference of {self.model}", facts, lists)


def _spread_html(self: Spread) -> str:
    facts = {
        "Level": f"{self.level_percent:.3g} % (+- {self.level_uncertainty_percent:.2g})",
        "Exponent": f"{self.exponent:.3g}",
        "Curvature": f"{self.curvature:.3g}",
        "Learnt from": f"{self.machines} machines in {self.references} references",
    }
    return facts_and_lists("How good machines differ, one standard deviation", facts, {})


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
    band: Tuple[Array, Array, Array] = _compiled_expected(
        self, speed, voltage_V, level, current_u_relative, voltage_u_relative
    )
    return band


def _without_signature(compiled: Any) -> str:
    """A compiled method's docstring less the line that pybind11 puts before it."""
    return str(compiled.__doc__.partition("\n\n")[2])


def _plain_method(compiled: Any, returns: str) -> Any:
    """A compiled method without arguments as one that has a signature."""

    def method(self: Any) -> Any:
        return compiled(self)

    method.__doc__ = _without_signature(compiled)
    method.__annotations__ = {"return": returns}
    return method


_from_dict.__doc__ = _without_signature(_compiled_from_dict)
_expected.__doc__ = _without_signature(_compiled_expected)
_new_expected = still_called(
    "level", "current_u", "voltage_u", voltage="voltage_V", current_u="current_u_relative",
    voltage_u="voltage_u_relative",
)(_expected)  # fmt: skip
for _kind, _name, _method in (
    (Reference, "save", _save_method("load_reference")),
    (Reference, "plot", still_called("axes")(_plot)),
    (Reference, "expected", _new_expected),
    (Reference, "_repr_html_", _html),
    (Spread, "save", _save_method("load_spread")),
    (Spread, "_repr_html_", _spread_html),
    (Record, "save", _save_method("load_record")),
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


def _not_called(kind: Any, made_by: str) -> Any:
    """An initialiser that says what makes such things."""

    def initialise(self: Any) -> None:
        raise TypeError(f"{kind.__name__}: called, allowed: {made_by}")

    return initialise


# None is made by calling it; help(), signature() and the call itself say so.
for _kind, _made_by in (
    (Record, "load_record or Record.from_dict"),
    (Reference, "learn or load_reference"),
    (Spread, "learn_spread or load_spread"),
):
    setattr(_kind, "__signature__", inspect.Signature())
    setattr(_kind, "__init__", _not_called(_kind, _made_by))
del _kind, _made_by
