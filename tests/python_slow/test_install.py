# SPDX-License-Identifier: MIT
"""The package as pip takes it, without a network: source distribution and wheel, used from a clean environment."""

import os
import pathlib
import subprocess
import sys
import tarfile
import venv
import zipfile

import pytest

PACKAGE = pathlib.Path(__file__).resolve().parents[2] / "bindings" / "python"
BUILD = "import sys, build_backend; print(getattr(build_backend, sys.argv[1])(sys.argv[2]))"


def built(what, folder, to):
    """The name of the distribution that the back end writes, called as a front end calls it."""
    run = subprocess.run(
        [sys.executable, "-c", BUILD, what, str(to)], cwd=folder, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": ".", "CMAKE_BUILD_TYPE": "None", "CXX": "clang++", "CXXFLAGS": "-O0"},
    )  # fmt: skip
    assert run.returncode == 0, run.stdout[-2000:] + run.stderr[-2000:]
    return to / run.stdout.strip().splitlines()[-1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel of the source distribution: what it lacks is found out."""
    folder = tmp_path_factory.mktemp("distributions")
    with tarfile.open(built("build_sdist", PACKAGE, folder)) as source:
        source.extractall(folder)
    (unpacked,) = folder.glob("rewound-*/")
    return built("build_wheel", unpacked, folder)


def test_metadata_and_files_of_the_wheel(wheel):
    with zipfile.ZipFile(wheel) as inside:
        names = inside.namelist()
        metadata = next(inside.read(name).decode() for name in names if name.endswith("METADATA"))
    for line in ("Name: rewound", "License: MIT", "Requires-Python: >=3.9", "Requires-Dist: numpy (>=1.22)"):
        assert line in metadata or line.replace(" (", "").replace(")", "") in metadata
    assert {"rewound/py.typed", "rewound/_core.pyi", "rewound/samples/gh07_after_repair.toml"} <= set(names)
    assert sum(name.startswith("rewound/_core.") and name.endswith(".so") for name in names) == 1
    assert not any("source" in name or "test" in name for name in names)


def test_the_wheel_is_used_from_a_clean_environment(wheel, tmp_path):
    venv.create(tmp_path / "clean", with_pip=True, system_site_packages=True)  # NumPy is the system's
    python = tmp_path / "clean" / "bin" / "python3"
    bare = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    pip = [python, "-m", "pip", "install", "--no-index", "-q", wheel]
    subprocess.run(pip, check=True, cwd=tmp_path, env=bare)
    said = subprocess.run(
        [python, "-c", "import rewound; print(rewound.__file__); print(rewound.judge(rewound.sample_record()).decision)"],
        cwd=tmp_path, capture_output=True, text=True, check=True, env=bare,
    ).stdout.split()  # fmt: skip
    assert said[0].startswith(str(tmp_path / "clean")) and said[1] == "release"
