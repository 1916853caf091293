"""The learn command and judging against what it learnt, on a simulated cohort of invented machines."""

import json
import random
import re

import pytest

VOLTS = [150.0, 180.0, 210.0, 230.0, 240.0]
SPEEDS = {"high": (0.42, 1.05), "medium": (0.366, 1.03), "low": (0.305, 1.01)}


def machine(demo_text, number, level, seed):
    """The demo record as another machine of its model, `level` times the usual current."""
    noise = random.Random(seed)
    text = demo_text.replace('id = "GH-07"', f'id = "GH-{number:02d}"')
    for speed, (rated, exponent) in SPEEDS.items():
        amperes = [
            round(level * rated * (volts / 230.0) ** exponent * (1 + noise.gauss(0, 0.001)), 3) for volts in VOLTS
        ]
        block = f'[[run_up]]\nspeed = "{speed}"\nvoltage_V = {VOLTS}\ncurrent_A = {amperes}\n'
        pattern = rf'\[\[run_up\]\]\nspeed = "{speed}"\nvoltage_V = .*\ncurrent_A = .*\n'
        text, changed = re.subn(pattern, block, text)
        assert changed == 1
    return text


@pytest.fixture
def cohort(tmp_path, demo_text):
    """Ten good machines, levels spread by 3 %, as files."""
    spread = random.Random(5)
    paths = []
    for number in range(10, 20):
        path = tmp_path / f"gh{number}.toml"
        path.write_text(machine(demo_text, number, 1 + spread.gauss(0, 0.03), number), encoding="utf-8")
        paths.append(path)
    return paths


def judge(rewound, path, reference):
    done = rewound("judge", path, "--reference", reference, "--format", "json")
    assert done.returncode in (0, 10, 20), done.stderr
    return done.returncode, json.loads(done.stdout)


def test_a_good_machine_passes_and_a_shorted_one_is_held_high(rewound, cohort, tmp_path, demo_text):
    assert rewound("learn", *cohort, "--out", "model.toml").returncode == 0
    good, shorted = tmp_path / "good.toml", tmp_path / "shorted.toml"
    good.write_text(machine(demo_text, 30, 1.02, 30), encoding="utf-8")
    shorted.write_text(machine(demo_text, 31, 1.25, 31), encoding="utf-8")
    code, result = judge(rewound, good, "model.toml")
    assert code == 0 and result["abnormality"] < 2
    assert {row["judged_by"] for row in result["draw"]} == {"reference"}
    code, result = judge(rewound, shorted, "model.toml")
    assert code == 10 and result["abnormality"] > 1
    assert {row["flag"] for row in result["draw"]} == {"high"}


def test_one_bad_machine_among_ten_is_set_aside(rewound, cohort, tmp_path, demo_text):
    cohort[4].write_text(machine(demo_text, 14, 1.4, 3), encoding="utf-8")
    done = rewound("learn", *cohort, "--out", "model.toml")
    assert done.returncode == 0
    assert "from 9 good machines" in done.stderr
    assert re.findall(r"set aside.*: (GH-\d+)", done.stderr) == ["GH-14"]


def test_two_references_merge_into_the_same_as_all_records_at_once(rewound, cohort, tmp_path):
    rewound("learn", *cohort, "--out", "whole.toml")
    rewound("learn", *cohort[:5], "--out", "a.toml")
    rewound("learn", *cohort[5:], "--out", "b.toml")
    rewound("learn", "a.toml", "b.toml", "--out", "merged.toml")
    assert (tmp_path / "merged.toml").read_text() == (tmp_path / "whole.toml").read_text()


def test_what_cannot_be_learnt_is_refused(rewound, cohort, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text(cohort[0].read_text().replace("circulator-40", "circulator-60"), encoding="utf-8")
    for files in ((cohort[0], other), (cohort[0], cohort[0])):
        done = rewound("learn", *files, "--out", "model.toml")
        assert done.returncode == 65 and done.stderr.count("\n") == 1
        assert not (tmp_path / "model.toml").exists()


def test_a_reference_of_another_model_is_refused(rewound, cohort, tmp_path):
    rewound("learn", cohort[0], "--out", "model.toml")
    other = tmp_path / "other.toml"
    other.write_text(cohort[1].read_text().replace("circulator-40", "circulator-60"), encoding="utf-8")
    done = rewound("judge", other, "--reference", "model.toml")
    assert done.returncode == 65 and "circulator-40" in done.stderr
