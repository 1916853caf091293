# SPDX-License-Identifier: MIT
"""Words that arguments may be, and ways of calling that are kept for a release."""

from __future__ import annotations

import difflib
import functools
import warnings
from typing import Any, Callable, Literal, Tuple, TypeVar, cast

from ._errors import InputError

Called = TypeVar("Called", bound=Callable[..., Any])

InsulationSystem = Literal["thermosetting", "thermoplastic"]
WindingKind = Literal["random_wound", "form_wound", "field", "armature"]
Model = Literal["auto", "proportional", "power", "log_quadratic", "magnetising", "magnetising_load"]
Material = Literal["copper", "aluminium"]
Decision = Literal["release", "hold", "undecided"]
Extra = Literal["refuse", "ignore"]
Part = Literal["findings", "draw", "suspect_readings", "causes", "next_measurements"]


def one_of(field: str, word: Any, words: Tuple[str, ...]) -> str:
    """The word; any other is refused, and the nearest one comes first among those allowed."""
    if isinstance(word, str) and word in words:
        return word
    allowed = "one of " + ", ".join(words)
    near = difflib.get_close_matches(str(word), words, n=1)
    allowed = f"did you mean {near[0]}? {allowed}" if near else allowed
    read = f'"{word}"'
    message = f"{field}: read {read}, allowed: {allowed}"
    raise InputError(message, code="not_a_choice", field=field, read=read, allowed=allowed)


def still_called(*in_order: str, **renamed: str) -> Callable[[Called], Called]:
    """Keeps old calls of a function for a release, each with a DeprecationWarning.

    Parameters
    ----------
    *in_order : str
        Arguments that could once be given by their place, after those that still can.
    **renamed : str
        New names of arguments by their old ones; ``"time_s*60"`` where the old one was in another unit.
    """

    def around(function: Called) -> Called:
        places = function.__code__.co_argcount

        @functools.wraps(function)
        def call(*given: Any, **named: Any) -> Any:
            if len(given) > places and len(given) <= places + len(in_order):
                by_name = in_order[: len(given) - places]
                _warn(f"{function.__name__}: give {', '.join(by_name)} by name")
                for name, value in zip(by_name, given[places:]):
                    _put(function.__name__, renamed.get(name, name).partition("*")[0], value, named)
                given = given[:places]
            if not renamed.keys().isdisjoint(named):
                for old in [name for name in named if name in renamed]:
                    new, _, factor = renamed[old].partition("*")
                    value = named.pop(old)
                    _warn(f"{function.__name__}: {old} is now {new}")
                    _put(function.__name__, new, _times(value, factor), named)
            return function(*given, **named)

        return cast(Called, call)

    return around


def formerly(old: str, new: str) -> Any:
    """A property under its former name, kept for a release with a DeprecationWarning."""

    def get(self: Any) -> Any:
        warnings.warn(f"{type(self).__name__}.{old} is now {new}", DeprecationWarning, stacklevel=2)
        return getattr(self, new)

    get.__doc__ = f"Former name of ``{new}``: it works, with a DeprecationWarning."
    return property(get)


def now_called(name: str, value: Any, formerly: Any) -> Any:
    """The value of an argument, also where it was given under its former name."""
    if formerly is None:
        return value
    if value is not None:
        raise TypeError(f"{name} was given twice, once under its former name")
    warnings.warn(f"this argument is now {name}", DeprecationWarning, stacklevel=3)
    return formerly


def _times(value: Any, factor: str) -> Any:
    if not factor:
        return value
    return tuple(each * float(factor) for each in value) if isinstance(value, tuple) else value * float(factor)


def _put(function: str, name: str, value: Any, named: "dict[str, Any]") -> None:
    if name in named:
        raise TypeError(f"{function}: {name} was given twice")
    named[name] = value


def _warn(message: str) -> None:
    warnings.warn(message, DeprecationWarning, stacklevel=4)
