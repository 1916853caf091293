# SPDX-License-Identifier: MIT
"""What stands beside records and results: blank record, default policy, samples, versions."""

from __future__ import annotations

import importlib
import pathlib
import platform
import sys
from typing import Any, Dict, List

from . import _core
from ._core import Record
from ._words import one_of

_SAMPLES = pathlib.Path(__file__).parent / "samples"


def blank_record() -> str:
    """A commented blank record to fill in.

    Returns
    -------
    str
        TOML of format ``rewound-record/1``, as ``rewound template`` prints it.

    Examples
    --------
    >>> 'format = "rewound-record/1"' in rewound.blank_record()
    True
    """
    return _core.blank_record()


def default_policy() -> Dict[str, Any]:
    """The policy that serves where none is given.

    Returns
    -------
    dict
        A new dict with the keys of a policy file (format ``rewound-policy/1``), to be changed and given to
        :func:`judge`.

    Examples
    --------
    >>> policy = rewound.default_policy()
    >>> policy["needed"] = ["draw", "steps"]
    """
    values: Dict[str, Any] = _core.default_policy()
    return values


def sample_names() -> List[str]:
    """Names of the records that come with the package.

    Returns
    -------
    list of str
        As :func:`sample_record` takes them. Their machines are invented: fans of a botanical garden's glasshouses.

    Examples
    --------
    >>> "gh07_after_repair" in rewound.sample_names()
    True
    """
    return sorted(path.stem for path in _SAMPLES.glob("*.toml"))


def sample_record(name: str = "gh07_after_repair") -> Record:
    """A record that comes with the package.

    Parameters
    ----------
    name : str
        One of :func:`sample_names`.

    Returns
    -------
    Record

    Raises
    ------
    InputError
        There is no such sample.

    Examples
    --------
    >>> rewound.sample_record()
    <rewound.Record GH-07, 2026-05-14, 3 run-up curves>
    """
    chosen = one_of("name", name, tuple(sample_names()))
    return _core.load_record(bytes(_SAMPLES / f"{chosen}.toml"))


def show_versions() -> None:
    """Print the versions of what a question about this package depends on."""
    print(f"rewound {_core.__version__}")
    print(f"Python {sys.version.split()[0]}, {platform.platform()}")
    print(f"registers: {', '.join(_core.instruction_sets())}")
    for name in ("numpy", "pandas", "matplotlib"):
        try:
            print(f"{name} {importlib.import_module(name).__version__}")
        except ImportError:
            print(f"{name} is not installed")
