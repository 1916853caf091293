"""One browser for the whole run; each test begins as on the first day."""

import os
import subprocess

import pytest
from bench_page import ROOT, bench, browser


@pytest.fixture(scope="session")
def chromium():
    with browser() as one:
        yield one


@pytest.fixture
def page(chromium):
    chromium.command("Emulation.clearDeviceMetricsOverride")
    return bench(chromium).fresh()


@pytest.fixture(scope="session")
def rewound():
    """Run the tool with the given arguments; returns the finished process."""

    def run(*arguments):
        return subprocess.run(
            [os.environ["REWOUND_BIN"], *map(str, arguments)], capture_output=True, text=True, timeout=120, cwd=ROOT
        )

    return run


@pytest.fixture(scope="session")
def axe():
    """The accessibility checker that tools/setup page installs."""
    with open(os.environ["REWOUND_AXE"], encoding="utf-8") as file:
        return file.read()
