# SPDX-License-Identifier: MIT
"""The reference pages are made without a warning, hold every public name, and every example on them is run."""

import csv
import os
import pathlib
import re
import shutil
import subprocess
import sys
import zlib

import pytest

import rewound

REPOSITORY = pathlib.Path(__file__).resolve().parents[2]
BUILD = pathlib.Path(rewound.__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def pages():
    done = subprocess.run([REPOSITORY / "tools/docs/build", BUILD], capture_output=True, text=True, timeout=1500)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "WARNING" not in done.stderr and "warning" not in done.stderr, done.stderr
    return BUILD / "docs"


def names_in(inventory):
    """Names of the Python domain in an inventory of Sphinx: four lines, then compressed ones."""
    packed = inventory.read_bytes().split(b"\n", 4)[4]
    lines = zlib.decompress(packed).decode("utf-8").splitlines()
    return {line.split()[0] for line in lines if line.split()[1].startswith("py:")}


def test_every_public_name_stands_on_them(pages):
    names = names_in(pages / "html" / "objects.inv")
    assert {f"rewound.{name}" for name in rewound.__all__} - {"rewound.__version__"} <= names
    assert {
        "rewound.DrawFit.profile",
        "rewound.Result.plot",
        "rewound.Reference.expected",
        "rewound.Record.save",
    } <= names


def test_every_example_is_run(pages):
    told = (pages / "examples" / "output.txt").read_text(encoding="utf-8")
    tests, failures = (
        int(re.search(rf"(\d+) {word}", told.split("Doctest summary")[1])[1]) for word in ("test", "failure")
    )
    written = sum(
        text.count(">>> ")
        for path in (REPOSITORY / "tools/docs").glob("*.rst")
        for text in [path.read_text(encoding="utf-8")]
    )
    assert failures == 0 and tests >= written + 40


def test_the_measured_coverage_stands_on_them(pages):
    with open(pages / "coverage.csv", encoding="utf-8", newline="") as table:
        rows = list(csv.reader(table))
    page = (pages / "html" / "method.html").read_text(encoding="utf-8")
    assert len(rows) >= 12
    for row in rows[1:]:
        assert row[0] in page and f">{row[3]}<" in page


def test_every_table_of_limits_stands_on_them(pages):
    page = (REPOSITORY / "tools/docs/method.rst").read_text(encoding="utf-8")
    tables = {path.stem for path in (REPOSITORY / "reference/limits").glob("*.table")}
    assert tables - {line.split()[-1] for line in page.splitlines() if line.startswith(".. limits::")} == set()


def test_the_library_has_its_pages(pages):
    for name in ("namespacerewound_1_1fit", "namespacerewound_1_1checks", "namespacerewound_1_1job", "index"):
        assert (pages / "html" / "cpp" / f"{name}.html").is_file()
    assert "profile_intervals" in (pages / "html" / "cpp" / "namespacerewound_1_1fit.html").read_text(encoding="utf-8")


def planted(folder, text, builder):
    """What Sphinx says of one page with this text under the settings of the pages."""
    source = folder / "tools" / "docs"
    source.mkdir(parents=True)
    for name in ("conf.py", "pages.py"):
        shutil.copy(REPOSITORY / "tools/docs" / name, source)
    (source / "index.rst").write_text("Page\n====\n\n" + text, encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-b", builder, source, folder / "out"],
        capture_output=True, text=True, timeout=300, env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    )  # fmt: skip


def test_a_wrong_example_is_found(tmp_path):
    done = planted(tmp_path, ">>> len(rewound.sample_names()) - 1000\n3\n", "doctest")
    assert done.returncode != 0 and "Expected" in done.stdout + done.stderr


def test_a_name_that_is_not_there_is_found(tmp_path):
    for place, text in enumerate(
        (":func:`rewound.judge_all`\n", ":class:`rewound.Verdict`\n", ".. limits:: nowhere\n")
    ):
        assert planted(tmp_path / str(place), text, "html").returncode != 0
    assert planted(tmp_path / "sound", "Nothing wrong.\n", "html").returncode == 0


def test_a_wrong_comment_of_a_header_is_found(tmp_path):
    header = tmp_path / "libcore" / "a.hpp"
    header.parent.mkdir()
    for text, sound in (("value", True), ("vlaue", False)):
        header.write_text(f"/// Twice.\n/// @param {text}  number\ndouble twice(double value);\n", encoding="utf-8")
        done = subprocess.run(
            ["doxygen", REPOSITORY / "tools/docs/Doxyfile"], capture_output=True, text=True, cwd=tmp_path, timeout=100,
            env={**os.environ, "REWOUND_VERSION": "0", "REWOUND_OUT": str(tmp_path / "out")},
        )  # fmt: skip
        assert (done.returncode == 0) == sound, done.stderr
