# SPDX-License-Identifier: MIT
"""simulate and whatif from Python are those of the command-line tool."""

import json
import subprocess

import pytest

import rewound


def test_a_simulated_record_is_the_one_that_the_tool_writes(tool):
    record = rewound.simulate("circulator-40", fault={"shorted_turns": 0.05}, seed=7, read=("watts", "rpm"))
    done = subprocess.run(
        [
            tool,
            "simulate",
            "--machine",
            "circulator-40",
            "--fault",
            "shorted_turns=0.05",
            "--seed",
            "7",
            "--with",
            "watts,rpm",
        ],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0
    assert done.stdout.endswith(record.to_text())
    assert record.machine == "circulator-40-7" and record.speeds == ["high", "medium", "low"]


def test_a_written_record_reads_as_the_same(tmp_path):
    path = tmp_path / "job.toml"
    record = rewound.simulate(machine="wall-30", seed=5, id="GH-40", state="recheck", shaft="bare", unit=2, bench=3)
    path.write_text(record.to_text(), encoding="utf-8")
    assert rewound.load_record(path).to_text() == record.to_text()
    assert rewound.load_record(path).machine == "GH-40"


@pytest.mark.parametrize(
    "fault", ["damp_insulation", ["damp_insulation"], {"damp_insulation": None}, {"damp_insulation": 2}]
)
def test_faults_may_be_named_in_several_ways(fault):
    assert (
        rewound.simulate("desk-25", fault).to_text() == rewound.simulate("desk-25", {"damp_insulation": 2.0}).to_text()
    )


@pytest.mark.parametrize(
    "arguments",
    [
        {"machine": "nothing"},
        {"fault": "nothing"},
        {"fault": {"shorted_turns": 2}},
        {"state": "new"},
        {"shaft": "bent"},
        {"read": ["volts"]},
        {"fault": {"shorted_turns": float("nan")}},
    ],
)
def test_what_is_unknown_is_refused(arguments):
    with pytest.raises(rewound.PreconditionError, match="allowed: "):
        rewound.simulate(**{"machine": "circulator-40", **arguments})


def test_what_if_equals_what_the_tool_writes(tool, tmp_path):
    record = rewound.simulate("circulator-40", seed=7, read=("watts", "rpm"))
    (tmp_path / "job.toml").write_text(record.to_text(), encoding="utf-8")
    answer = rewound.whatif(record, turns_factor=0.95, supply_voltage_V=240)
    done = subprocess.run(
        [
            tool,
            "whatif",
            tmp_path / "job.toml",
            "--turns-factor",
            "0.95",
            "--supply-voltage",
            "240",
            "--format",
            "json",
        ],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert answer.to_dict() == json.loads(done.stdout)
    assert repr(answer) == "<rewound.WhatIf circulator-40-7, 9 changes>"
    assert answer.basis["read"] == ["current", "power", "rotation"]
    assert answer.to_text().startswith("circulator-40-7, what would change")


def test_what_if_holds_its_limits():
    record = rewound.simulate("desk-25")
    with pytest.raises(rewound.PreconditionError, match="turns_factor"):
        rewound.whatif(record, turns_factor=5)
