# SPDX-License-Identifier: MIT
"""Files that are read and written."""

from __future__ import annotations

import errno
import os
from typing import Any, Union

from . import _core
from ._errors import InputError

AnyPath = Union[str, bytes, "os.PathLike[Any]"]


class MissingFileError(InputError, FileNotFoundError):
    """A file that is not there."""


def there(path: AnyPath) -> bytes:
    """The path of a file that exists.

    Raises
    ------
    MissingFileError
        It does not: a :class:`InputError` that is a FileNotFoundError too.
    """
    if not isinstance(path, (str, bytes, os.PathLike)):
        raise TypeError(f"path: read a value of type {type(path).__name__}, allowed: str, bytes or os.PathLike")
    name = os.fsencode(path)
    if not os.path.exists(name):
        shown, read = os.fsdecode(name), "No such file or directory"
        trouble = MissingFileError(
            f"{shown}: read {read}, allowed: a file that can be read",
            code="file_unreadable", file=shown, read=read, allowed="a file that can be read",
        )  # fmt: skip
        trouble.errno, trouble.strerror, trouble.filename = errno.ENOENT, os.strerror(errno.ENOENT), shown
        raise trouble
    return name


def write(path: AnyPath, text: str) -> None:
    """Writes a file, whole or not at all."""
    _core.write_file(os.fsencode(path), text)
