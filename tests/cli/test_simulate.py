"""The simulate and whatif commands: what they write, what they refuse."""

import json

import pytest

MODELS = ["blower-60", "circulator-40", "desk-25", "wall-30"]


def simulated(rewound, name, *arguments):
    done = rewound("simulate", *arguments, "--out", name)
    assert done.returncode == 0, done.stderr
    return name


def test_a_simulated_record_is_judged_like_a_real_one(rewound, tmp_path):
    simulated(
        rewound,
        "job.toml",
        "--machine",
        "circulator-40",
        "--fault",
        "shorted_turns=0.05",
        "--seed",
        7,
        "--id",
        "GH-31",
        "--state",
        "recheck",
        "--shaft",
        "bare",
        "--with",
        "watts,rpm",
    )
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert text.startswith("# Invented by simulation")
    assert text.splitlines()[1] == "# machine circulator-40, fault shorted_turns=0.05, seed 7"
    for part in ('id = "GH-31"', 'state = "recheck"', 'shaft = "bare"', "power_W = [", "speed_rpm = ["):
        assert part in text
    done = rewound("judge", "job.toml", "--format", "json")
    assert done.returncode in (0, 10, 20)
    assert json.loads(done.stdout)["machine"] == "GH-31"


@pytest.mark.parametrize("model", MODELS)
def test_one_seed_is_one_text(rewound, model):
    first = rewound("simulate", "--machine", model, "--seed", 3)
    assert first.returncode == 0 and first.stderr == ""
    assert rewound("simulate", "--machine", model, "--seed", 3).stdout == first.stdout
    assert rewound("simulate", "--machine", model, "--seed", 4).stdout != first.stdout


@pytest.mark.parametrize("model", MODELS)
def test_speeds_that_a_fault_kills_are_held(rewound, model):
    simulated(rewound, "job.toml", "--machine", model, "--fault", "speed_section_open", "--seed", 2)
    assert rewound("judge", "job.toml").returncode == 10


def test_two_faults_at_once(rewound):
    done = rewound("simulate", "--machine", "desk-25", "--fault", "tight_bearing=0.3", "--fault", "damp_insulation")
    assert done.returncode == 0
    assert "fault tight_bearing=0.3, damp_insulation=2, seed 1" in done.stdout


@pytest.mark.parametrize(
    "arguments, told",
    [
        (["--machine", "nothing"], "blower-60, circulator-40, desk-25, wall-30"),
        (["--machine", "wall-30", "--fault", "nothing"], "shorted_turns"),
        (["--machine", "wall-30", "--fault", "nothing"], "meter_range"),
        (["--machine", "wall-30", "--fault", "weak_capacitor"], "a fault that wall-30 can have"),
        (["--machine", "wall-30", "--fault", "shorted_turns=2"], "a severity from 0 to below 1"),
        (["--machine", "wall-30", "--fault", "shorted_turns=much"], "NAME=SEVERITY"),
        (["--machine", "wall-30", "--with", "volts"], "watts, rpm"),
        (["--machine", "wall-30", "--state", "new"], "as_found, after_repair or recheck"),
        (["--machine", "wall-30", "--shaft", "bent"], "loaded or bare"),
        (["--machine", "wall-30", "--seed", "-1"], "--seed"),
        ([], "--machine"),
    ],
)
def test_wrong_usage_is_one_line_that_names_what_there_is(rewound, tmp_path, arguments, told):
    done = rewound("simulate", *arguments, "--out", "job.toml")
    assert done.returncode == 64
    assert done.stdout == "" and done.stderr.count("\n") == 1
    assert told in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_what_if_answers_in_text_and_json(rewound, tmp_path):
    simulated(rewound, "job.toml", "--machine", "circulator-40", "--seed", 7, "--with", "watts,rpm")
    text = rewound("whatif", "job.toml", "--turns-factor", 0.95, "--supply-voltage", 240)
    assert text.returncode == 0, text.stderr
    assert max(map(len, text.stdout.splitlines())) < 80
    assert "Cautions" in text.stdout and "licensed" in text.stdout
    done = rewound("whatif", "job.toml", "--turns-factor", 0.95, "--supply-voltage", 240, "--format", "json")
    result = json.loads(done.stdout)
    assert result["format"] == "rewound-whatif/1" and len(result["changes"]) == 9
    high = result["changes"][0]
    assert (high["case"], high["speed"]) == ("new_winding", "high")
    assert 0 < high["current"]["low"] < high["current"]["percent"] < high["current"]["high"]
    assert high["flux"]["percent"] > 0


@pytest.mark.parametrize(
    "arguments, code, told",
    [
        (["--turns-factor", "3"], 64, "from 0.5 to 2"),
        (["--turns-factor", "few"], 64, "--turns-factor"),
        (["--wire-area-factor", "0"], 64, "from 0.25 to 4"),
        (["--supply-voltage", "0"], 64, "half the rated voltage"),
        (["--supply-frequency", "1000"], 64, "half the rated frequency"),
        (["--format", "xml"], 64, "--format"),
    ],
)
def test_what_if_refuses_changes_beyond_its_limits(rewound, altered, arguments, code, told):
    done = rewound("whatif", altered(), *arguments)
    assert done.returncode == code and done.stderr.count("\n") == 1 and done.stdout == ""
    assert told in done.stderr


def test_what_if_refuses_machines_outside_the_model(rewound, altered):
    done = rewound("whatif", altered(("series_reactor", "pole_change")), "--turns-factor", "0.95")
    assert done.returncode == 65 and done.stderr.count("\n") == 1 and "pole_change" in done.stderr
    missing = rewound("whatif", "none.toml")
    assert missing.returncode == 65 and missing.stderr.count("\n") == 1
