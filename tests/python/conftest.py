# SPDX-License-Identifier: MIT
"""Places and records that several test files use."""

import copy
import os
import pathlib

import pytest

import rewound

REPOSITORY = pathlib.Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def repository():
    return REPOSITORY


@pytest.fixture(scope="session")
def demo_path():
    return REPOSITORY / "reference" / "records" / "good" / "gh07_after_repair.toml"


@pytest.fixture(scope="session")
def demo(demo_path):
    return rewound.load_record(demo_path)


@pytest.fixture(scope="session")
def _demo_values(demo_path):
    tomllib = pytest.importorskip("tomllib", reason="needs Python 3.11 to read TOML")
    return tomllib.loads(demo_path.read_text(encoding="utf-8"))


@pytest.fixture
def demo_dict(_demo_values):
    """The demo record as Python's own TOML reader sees it; a fresh copy for each test."""
    return copy.deepcopy(_demo_values)


@pytest.fixture(scope="session")
def tool():
    """The command-line tool that was built beside the package."""
    path = os.environ.get("REWOUND_BIN")
    if not path:
        pytest.skip("REWOUND_BIN does not name the command-line tool")
    assert os.access(path, os.X_OK), f"REWOUND_BIN={path} is no program"
    return path
