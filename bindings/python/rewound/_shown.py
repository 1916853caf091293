# SPDX-License-Identifier: MIT
"""What the library computed and can show, and how such things travel to another process."""

from __future__ import annotations

import json
from functools import cached_property
from typing import Any, Dict, NamedTuple, Protocol, Tuple, Type, TypeVar

import numpy as np

from . import _core
from ._html import facts_and_lists
from ._values import Entries, frozen, same

Made = TypeVar("Made", bound="Remade")


class Computed(Protocol):
    """What the compiled part returns."""

    def to_json(self) -> str:
        ...

    def to_text(self) -> str:
        ...


class _Kept(NamedTuple):
    """A computed result as it arrived from another process."""

    json: str
    text: str

    def to_json(self) -> str:
        return self.json

    def to_text(self) -> str:
        return self.text


class Shown:
    """A computed result as dict, as JSON and as text. The attributes are parts of :meth:`to_dict`."""

    def __init__(self, computed: Computed) -> None:
        self._computed = computed

    @cached_property
    def _values(self) -> Dict[str, Any]:
        values: Dict[str, Any] = frozen(self.to_dict())
        return values

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Shown) or type(self) is not type(other):
            return NotImplemented
        return self.to_json() == other.to_json()

    def __hash__(self) -> int:
        return hash((type(self), self.to_json()))

    def _text_at(self, key: str) -> str:
        value: str = self._values[key]
        return value

    def _rows_at(self, key: str) -> Tuple[Dict[str, Any], ...]:
        rows: Tuple[Dict[str, Any], ...] = self._values[key]
        return rows

    def _texts_at(self, key: str) -> Tuple[str, ...]:
        texts: Tuple[str, ...] = self._values[key]
        return texts

    def _table_at(self, key: str) -> Dict[str, Any]:
        table: Dict[str, Any] = self._values[key]
        return table

    def to_dict(self) -> Dict[str, Any]:
        """The whole result as a new dict.

        Returns
        -------
        dict
            Equal to what the command-line tool writes as JSON.
        """
        values: Dict[str, Any] = json.loads(self.to_json())
        return values

    def to_json(self) -> str:
        """The whole result as JSON text.

        Returns
        -------
        str
            Its key ``format`` names what it is.
        """
        return self._computed.to_json()

    def to_text(self) -> str:
        """The result as plain text for people.

        Returns
        -------
        str
            Lines of at most 79 characters.
        """
        return self._computed.to_text()

    def __getstate__(self) -> Dict[str, Any]:
        kept = {name: value for name, value in self.__dict__.items() if name != "_values"}
        return {**kept, "_computed": _Kept(self.to_json(), self.to_text())}


class Remade:
    """A fit that is pickled as its arguments and fitted anew where it arrives."""

    _made_by: Tuple[str, Tuple[Any, ...], Dict[str, Any], Tuple[Any, ...]]

    def __init__(self, *computed: Any) -> None:
        raise NotImplementedError

    @classmethod
    def _made(cls: Type[Made], function: str, *given: Any, beside: Tuple[Any, ...] = (), **named: Any) -> Made:
        """The fit that a function of the compiled part makes; `beside` goes to the class as it is."""
        made = cls(getattr(_core, function)(*given, **named), *beside)
        made._made_by = (function, given, named, beside)
        for name, value in vars(made).items():
            if isinstance(value, np.ndarray):
                value.setflags(write=False)
            elif isinstance(value, list):
                setattr(made, name, Entries(value))
        return made

    def _numbers_told(self) -> Dict[str, Any]:
        return {name: value for name, value in vars(self).items() if not name.startswith("_")}

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Remade) or type(self) is not type(other):
            return NotImplemented
        mine, theirs = self._numbers_told(), other._numbers_told()
        return mine.keys() == theirs.keys() and all(same(mine[name], theirs[name]) for name in mine)

    def __hash__(self) -> int:
        return hash((type(self), repr(self)))

    def _repr_html_(self) -> str:
        return facts_and_lists(repr(self)[1:-1], {name: str(value) for name, value in self._numbers_told().items()}, {})

    def __reduce__(self) -> Tuple[Any, ...]:
        return _remade, (type(self), *self._made_by)


def _remade(kind: Type[Made], function: str, given: Any, named: Any, beside: Any) -> Made:
    return kind._made(function, *given, beside=beside, **named)
