# SPDX-License-Identifier: MIT
"""A rotor that stands still at a voltage at which good machines of its model turn, or at which it turned before."""

import tomllib

import pytest

import rewound

SEEDS = range(1, 21)


def good(seed):
    return rewound.simulate("circulator-40", seed=9000 + seed)


def resting(data, speed, to_share, turned_too=True):
    """The record with the rotor at rest on one speed up to a share of the rated voltage, read at one voltage more."""
    out = {**data, "run_up": [dict(run) for run in data["run_up"]]}
    volts = to_share * data["machine"]["rated_voltage_V"]
    for run in out["run_up"]:
        if run["speed"] != speed:
            continue
        amperes = run["current_A"][0] * volts / run["voltage_V"][0]
        turning = [turned_too and at > volts for at in run["voltage_V"]]
        for key in ("winding_C",):
            if key in run:
                run[key] = [run[key][0]] + run[key] if isinstance(run[key], list) else run[key]
        run["voltage_V"] = [volts] + run["voltage_V"]
        run["current_A"] = [amperes] + run["current_A"]
        run["turning"] = [False] + turning
    return rewound.Record.from_dict(out)


def standstills(result):
    return [each for each in result.to_dict()["findings"] if each["quantity"] == "stalled_at"]


@pytest.fixture(scope="module")
def machines():
    return [good(seed) for seed in range(3)]


@pytest.fixture(scope="module")
def reference(machines):
    return rewound.learn(machines)


@pytest.fixture(scope="module")
def turning_share(reference, tmp_path_factory):
    """Of each speed, the share of the rated voltage from which all good machines turn: rows set aside do not count."""
    path = tmp_path_factory.mktemp("turning") / "good.toml"
    reference.save(path)
    out = {}
    for machine in tomllib.loads(path.read_text(encoding="utf-8"))["machine"]:
        for block in machine["block"]:
            if block["channel"] == "current":
                out[block["speed"]] = max(out.get(block["speed"], 0.0), block["lowest_share"])
    return out


@pytest.mark.parametrize("seed", SEEDS)
def test_standing_still_where_good_machines_turn_is_never_released(reference, turning_share, seed):
    now = rewound.simulate("circulator-40", seed=seed).to_dict()
    result = rewound.judge(resting(now, "low", 1.12 * turning_share["low"]), reference=reference)
    assert result.decision == "hold"
    (found,) = standstills(result)
    assert (found["check"], found["subject"], found["outcome"]) == ("starting", "low", "fails")
    assert "good machines of its model turn" in found["message"]


@pytest.mark.parametrize("seed", SEEDS[:5])
def test_within_what_starting_voltages_differ_by_nothing_is_said(reference, turning_share, seed):
    now = rewound.simulate("circulator-40", seed=seed).to_dict()
    assert not standstills(rewound.judge(resting(now, "low", 1.08 * turning_share["low"]), reference=reference))


def test_the_earlier_visit_of_the_machine_is_such_a_yardstick(machines):
    before = machines[0].to_dict()
    before["visit"]["state"] = "as_found"
    earlier = rewound.Record.from_dict(before)
    now = machines[0].to_dict()
    (found,) = standstills(rewound.judge(resting(now, "medium", 0.7), earlier=earlier))
    assert found["outcome"] == "fails"
    assert "at the earlier visit it turned" in found["message"]


def test_a_reference_keeps_it_in_its_file_and_one_without_it_says_nothing(machines, reference, turning_share, tmp_path):
    path = tmp_path / "good.toml"
    reference.save(path)
    now = machines[0].to_dict()
    now["machine"]["id"] = "another"
    record = resting(now, "low", 1.2 * turning_share["low"])
    assert standstills(rewound.judge(record, reference=rewound.load_reference(path)))
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if "lowest_share" not in line]
    old = tmp_path / "old.toml"
    old.write_text("\n".join(lines), encoding="utf-8")
    assert not standstills(rewound.judge(record, reference=rewound.load_reference(old)))


def test_a_record_in_which_nothing_turns_may_lack_the_column(machines, reference):
    now = machines[0].to_dict()
    now["machine"]["id"] = "another"
    for run in now["run_up"]:
        run["turning"] = [False] * len(run["voltage_V"])
    result = rewound.judge(rewound.Record.from_dict(now), reference=reference)
    assert not [each for each in standstills(result) if "good machines" in each["message"]]
