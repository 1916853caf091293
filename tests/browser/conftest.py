"""One browser for the whole run, and the tool as a user runs it."""

import os
import pathlib
import subprocess

import pytest
from browser import browser

ROOT = pathlib.Path(__file__).resolve().parents[2]
RECORDS = ROOT / "reference" / "records"
REFERENCE = ROOT / "reference" / "learnt" / "circulator-40.reference.toml"


@pytest.fixture(scope="session")
def chromium():
    with browser() as one:
        yield one


@pytest.fixture(scope="session")
def rewound():
    """Run the tool with the given arguments; returns the finished process."""

    def run(*arguments):
        return subprocess.run(
            [os.environ["REWOUND_BIN"], *map(str, arguments)], capture_output=True, text=True, timeout=60
        )

    return run
