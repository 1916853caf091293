# SPDX-License-Identifier: MIT
"""Results as values: what they hold cannot be changed, and equal ones compare equal."""

from __future__ import annotations

from typing import Any, Dict, NoReturn, Type, TypeVar

import numpy as np

from ._errors import refuse
from ._html import facts_and_lists

Kind = TypeVar("Kind")


class FrozenDict(dict):  # type: ignore[type-arg]
    """A dict that cannot be changed; ``dict(...)``, copies and pickles of it are free or frozen dicts of their own."""

    def _refused(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError("a result cannot be changed; dict(...) of this entry can")

    __setitem__ = __delitem__ = clear = pop = popitem = setdefault = update = __ior__ = _refused  # type: ignore

    def __copy__(self) -> Dict[str, Any]:
        return dict(self)

    def __deepcopy__(self, memo: Any) -> Dict[str, Any]:
        return thawed(self)  # type: ignore[no-any-return]

    def __reduce__(self) -> Any:
        return frozen, (dict(self),)


class Entries(tuple):  # type: ignore[type-arg]
    """A tuple that equals a list of the same entries."""

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, (tuple, list)):
            return NotImplemented
        return bool(tuple(self) == tuple(other))

    def __ne__(self, other: object) -> bool:
        return not self == other

    __hash__ = tuple.__hash__

    def __deepcopy__(self, memo: Any) -> Any:
        return thawed(self)


def frozen(value: Any) -> Any:
    """Dicts and lists as such that cannot be changed, all the way down."""
    if isinstance(value, dict):
        return FrozenDict({key: frozen(entry) for key, entry in value.items()})
    if isinstance(value, (list, tuple)):
        return Entries(frozen(entry) for entry in value)
    return value


def thawed(value: Any) -> Any:
    """The same as plain dicts and lists."""
    if isinstance(value, dict):
        return {key: thawed(entry) for key, entry in value.items()}
    if isinstance(value, Entries):
        return [thawed(entry) for entry in value]
    return value


def read_only(array: Any) -> Any:
    """An array that cannot be written to."""
    array = np.asarray(array)
    array.setflags(write=False)
    return array


def place_of(name: str, place: int, count: int) -> int:
    """A place from 0 among so many; any other is refused."""
    if isinstance(place, (bool, np.bool_)) or not isinstance(place, (int, np.integer)) or not 0 <= place < count:
        raise refuse(name, repr(place), f"a whole number from 0 to {count - 1}")
    return int(place)


def same(one: Any, other: Any) -> bool:
    """Whether two values are equal; NaN equals NaN."""
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        one, other = np.asarray(one), np.asarray(other)
        numbers = one.dtype.kind == "f" and other.dtype.kind == "f"
        return one.shape == other.shape and bool(np.array_equal(one, other, equal_nan=numbers))
    if isinstance(one, float) and isinstance(other, float) and np.isnan(one) and np.isnan(other):
        return True
    return bool(one == other)


def is_value(kind: Type[Kind]) -> Type[Kind]:
    """Makes a named tuple with arrays in it a value: read-only, comparable, and shown in notebooks."""
    plain_new: Any = kind.__new__

    def new(cls: Any, *given: Any, **named: Any) -> Any:
        kept = [read_only(np.array(v)) if isinstance(v, np.ndarray) else v for v in given]
        by_name = {k: read_only(np.array(v)) if isinstance(v, np.ndarray) else v for k, v in named.items()}
        return plain_new(cls, *kept, **by_name)

    def equal(self: Any, other: object) -> Any:
        if type(self) is not type(other):
            return NotImplemented
        return all(same(one, two) for one, two in zip(self, other))  # type: ignore[call-overload]

    def html(self: Any) -> str:
        return facts_and_lists(type(self).__name__, {name: str(getattr(self, name)) for name in self._fields}, {})

    new.__wrapped__ = plain_new  # type: ignore[attr-defined]
    made: Any = kind
    made.__new__ = new
    made.__eq__ = equal
    made.__ne__ = lambda self, other: not self == other
    made.__hash__ = lambda self: hash((type(self), repr(self)))
    made._repr_html_ = html
    return kind
