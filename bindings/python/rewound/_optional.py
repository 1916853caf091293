# SPDX-License-Identifier: MIT
"""Packages that only frames and pictures need."""

from __future__ import annotations

import importlib
from typing import Any

from ._errors import MissingPackageError


def pandas() -> Any:
    """The module pandas, or an error that says what is missing."""
    return _module("pandas", "pandas", "frames")


def pyplot() -> Any:
    """The module matplotlib.pyplot, or an error that says what is missing."""
    return _module("matplotlib.pyplot", "Matplotlib", "plots")


def dates_of_axes() -> Any:
    """The module matplotlib.dates."""
    return _module("matplotlib.dates", "Matplotlib", "plots")


def _module(name: str, title: str, purpose: str) -> Any:
    try:
        return importlib.import_module(name)
    except ImportError as trouble:
        read, allowed = f"no package {name.split('.')[0]}", f"{title}, which {purpose} are made with; install it"
        raise MissingPackageError(
            f"{purpose}: read {read}, allowed: {allowed}",
            code="missing_package", field=name.split(".")[0], read=read, allowed=allowed,
        ) from trouble  # fmt: skip
