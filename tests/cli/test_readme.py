"""Every command of the README runs, and what it prints is what the README shows."""

import os
import pathlib
import re
import subprocess
import sys

import pytest
from conftest import ROOT

READMES = ["README.md", "tools/rewound/README.md", "bindings/python/README.md"]
README = "\n".join((ROOT / name).read_text(encoding="utf-8") for name in READMES)
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, flags=re.DOTALL)


def blocks(language):
    found = [body for name, body in BLOCKS if name == language]
    assert found, language
    return found


@pytest.fixture(scope="module")
def workplace(tmp_path_factory):
    """A folder that looks like a clone after ./tools/demo: the same names, the build under test."""
    folder = tmp_path_factory.mktemp("clone")
    for name in ("reference", "tools", "CMakeLists.txt", "CMakePresets.json", "libcore", "bindings", "tests"):
        (folder / name).symlink_to(ROOT / name)
    (folder / "build").symlink_to(pathlib.Path(os.environ["REWOUND_BIN"]).resolve().parents[1])
    return folder


def run(command, folder):
    build = pathlib.Path(os.environ["REWOUND_BIN"]).resolve().parents[1]
    environment = dict(os.environ, REWOUND_BUILD=str(build))
    return subprocess.run(command, shell=True, cwd=folder, env=environment, capture_output=True, text=True, timeout=600)


def test_the_demo_judges_and_says_what_next():
    done = run("./tools/demo", ROOT)  # a build folder belongs to one source folder, so not in the workplace
    assert done.returncode == 0, done.stderr
    assert "GH-07" in done.stdout and "index.html" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert done.stdout.rstrip().count("build/bin/rewound") == 3


def test_the_ordinary_job_is_the_record_and_the_output_that_the_readme_shows(workplace):
    (record,) = blocks("toml")
    name = "reference/records/ordinary/gh52_wall_fan.toml"
    stored = (ROOT / name).read_text(encoding="utf-8")
    assert record.rstrip() in stored
    (shown,) = blocks("text")
    done = run(f"build/bin/rewound judge {name}", workplace)
    assert done.stdout.rstrip() == shown.rstrip()


def test_the_readme_is_short():
    assert len((ROOT / "README.md").read_text(encoding="utf-8").split()) < 1300


def test_links_between_the_readmes_lead_somewhere():
    for name in READMES:
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", (ROOT / name).read_text(encoding="utf-8")):
            assert (ROOT / name).parent.joinpath(target).exists(), (name, target)


def test_the_shell_commands_run_in_order(workplace):
    commands = [line for body in blocks("sh") for line in body.splitlines() if line]
    assert "./tools/demo" in commands  # it has a test of its own
    ran = 0
    for command in commands:
        if command == "./tools/demo":
            continue
        done = run(command, workplace)
        assert done.returncode in (0, 10, 20), (command, done.stderr)
        ran += 1
    assert ran >= 5
    assert (workplace / "job.json").read_text(encoding="utf-8").startswith('{\n  "format": "rewound-result/1"')


def test_the_trend_prints_what_the_readme_shows(workplace):
    command = next(line for body in blocks("sh") for line in body.splitlines() if " trend " in line)
    (shown,) = blocks("console")
    assert shown.rstrip() in run(command, workplace).stdout


def run_python(example, workplace):
    environment = dict(os.environ, PYTHONPATH=str(workplace / "build" / "python"), MPLBACKEND="Agg")
    done = subprocess.run(
        [sys.executable, "-c", example], cwd=workplace, env=environment, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return done


def test_the_python_example_runs(workplace):
    example = blocks("python")[0]
    done = run_python(example, workplace)
    assert done.stdout.startswith("release speed high draws")
    assert "\nexponent 1.08 +- 0.18\n" in done.stdout
    assert done.stdout.rstrip().endswith("0.281 mm or 807 turns")


def test_the_example_of_many_machines_runs(workplace):
    (example,) = [body for body in blocks("python") if "judge_frame" in body]
    printed = run_python(example, workplace).stdout
    assert all(f"GH-{n:02d}" in printed for n in range(1, 7)) and "level_percent.high" in printed
    assert (workplace / "gh06.png").read_bytes().startswith(b"\x89PNG")
