# SPDX-License-Identifier: MIT
"""What the package raises."""

from __future__ import annotations

from typing import Any, Optional, Tuple


class RewoundError(Exception):
    """Base of all errors of this package.

    ``str(error)`` is a single line that names the place, what was read and what is allowed; of a record with several
    errors it has a line for each.

    Attributes
    ----------
    code : str
        Stable name of the kind of mistake, such as ``"out_of_range"`` or ``"unknown_key"``.
    file : str or None
        File the value stands in.
    line : int or None
        Line in that file, from 1.
    field : str or None
        Path of the value, such as ``"run_up[0].current_A[2]"``, or the name of an argument.
    read : str or None
        What was found there.
    allowed : str or None
        What may stand there.

    The other attributes are those of the first of `errors`.
    """

    def __init__(
        self,
        message: str = "",
        *,
        code: str = "",
        file: Optional[str] = None,
        line: Optional[int] = None,
        field: Optional[str] = None,
        read: Optional[str] = None,
        allowed: Optional[str] = None,
    ) -> None:
        super().__init__(message)
        self.code = code
        self.file = file
        self.line = line
        self.field = field
        self.read = read
        self.allowed = allowed
        self._all: Tuple["RewoundError", ...] = ()

    @property
    def errors(self) -> Tuple["RewoundError", ...]:
        """All errors of a record, this one first among them."""
        return self._all or (self,)


class InputError(RewoundError, ValueError):
    """A record, a policy or a choice that cannot be read or cannot be."""


class PreconditionError(RewoundError, ValueError):
    """A function was called with arguments that its documentation rules out."""


class MissingPackageError(RewoundError, ImportError):
    """A frame or a plot was asked for, and the package it is made with is not installed."""


def expect_kind(field: str, value: object, kind: Any, allowed: str) -> None:
    """Raises TypeError where an argument is not of its kind."""
    if not isinstance(value, kind):
        raise TypeError(f"{field}: read a value of type {type(value).__name__}, allowed: {allowed}")


def refuse(field: str, read: str, allowed: str) -> PreconditionError:
    """The error for an argument that is found wrong before the compiled part sees it."""
    message = f"{field}: read {read}, allowed: {allowed}"
    return PreconditionError(message, code="precondition", field=field, read=read, allowed=allowed)
