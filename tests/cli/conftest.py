"""Fixtures for tests of the command-line tool: the tool is run as a user runs it, in an empty folder."""

import os
import pathlib
import subprocess

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
GOOD = ROOT / "reference" / "records" / "good"


@pytest.fixture
def rewound(tmp_path):
    """Run the tool with the given arguments in an empty folder; returns the finished process."""

    def run(*arguments, **options):
        options.setdefault("cwd", tmp_path)
        command = [os.environ["REWOUND_BIN"], *map(str, arguments)]
        return subprocess.run(command, capture_output=True, text=True, timeout=60, **options)

    return run


@pytest.fixture
def demo_text():
    return (GOOD / "gh07_after_repair.toml").read_text(encoding="utf-8")


@pytest.fixture
def altered(tmp_path, demo_text):
    """Write the demo record with parts of its text replaced; each part must be there."""

    def write(*changes, name="job.toml"):
        text = demo_text
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new, 1)
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write
