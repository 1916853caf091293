# SPDX-License-Identifier: MIT
"""The package's types hold: mypy at its strictest, and the stub against the compiled part."""

import os
import pathlib
import shutil
import subprocess
import sys

import pytest

import rewound

HERE = pathlib.Path(__file__).parent
PACKAGE = pathlib.Path(rewound.__file__).parent


def run(*words, folder):
    environment = {**os.environ, "MYPY_CACHE_DIR": str(folder), "MYPYPATH": str(PACKAGE.parent)}
    return subprocess.run(
        [sys.executable, "-m", *words], capture_output=True, text=True, cwd=folder, env=environment, timeout=600
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("types")


def test_the_package_passes_strict_mypy(folder):
    done = run("mypy", "--config-file", HERE / "mypy.ini", "-p", "rewound", folder=folder)
    assert done.stdout.startswith("Success: no issues found in"), done.stdout + done.stderr
    assert int(done.stdout.split()[5]) >= len(list(PACKAGE.glob("*.py")))


def test_a_user_sees_the_types(folder):
    program = folder / "user.py"
    program.write_text(
        'import rewound\nresult = rewound.judge(rewound.load_record("x.toml"))\n'
        "decision: str = result.decision\nabnormality: float = result.abnormality\nrewound.judge(1)\n"
        'late = result.decision == "relase"\nrewound.fit_draw([1.0], [1.0], rated_voltage_V=1.0, model="pover")\n'
        'rewound.judge_insulation(None, extra="ignroe")\nrewound.rise_by_resistance(1, 2, hot_ohm=3, ambient_C=4, material="cooper")\n',
        encoding="utf-8",
    )
    done = run("mypy", "--config-file", HERE / "mypy.ini", program, folder=folder)
    lines = [line.split(": ", 1)[0] for line in done.stdout.splitlines() if ": error:" in line]
    assert lines == [f"user.py:{line}" for line in range(4, 10)], done.stdout + done.stderr


def test_the_stub_is_that_of_the_compiled_part_but_for_what_is_planted(folder):
    """Of a copy of the package whose stub has one function more: that is found, so the check works, and nothing else."""
    copy = folder / "copy" / "rewound"
    shutil.copytree(PACKAGE, copy)
    with open(copy / "_core.pyi", "a", encoding="utf-8") as stub:
        stub.write("def never_there() -> int: ...\n")
    environment = {**os.environ, "PYTHONPATH": str(copy.parent), "MYPYPATH": str(copy.parent)}
    done = subprocess.run(
        [sys.executable, "-m", "mypy.stubtest", "rewound._core", "--mypy-config-file", HERE / "mypy.ini", "--allowlist",
         HERE / "stubtest_allowed.txt"],
        capture_output=True, text=True, cwd=copy.parent, env=environment, timeout=600,
    )  # fmt: skip
    said = done.stdout + done.stderr
    assert done.returncode != 0 and "never_there is not present at runtime" in said, said
    assert "Found 1 error (checked 1 module)" in said, said
