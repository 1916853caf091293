# SPDX-License-Identifier: MIT
"""Judgement from Python. Sources: the command-line tool's JSON, and SciPy's distributions."""

import json
import subprocess

import numpy as np
import pytest
from scipy import optimize, stats

import rewound


def of_check(result, check):
    return [finding for finding in result.findings if finding["check"] == check]


def test_demo_record_is_released(demo):
    result = rewound.judge(demo)
    assert result.decision == "release"
    assert 1 <= len(result.reasons) <= 3
    assert repr(result) == f"<rewound.Result GH-07: release, {len(result.findings)} findings>"


def test_dict_equals_the_json_of_the_command_line_tool(demo, demo_path, tool):
    run = subprocess.run([tool, "judge", demo_path, "--format", "json"], capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    result = rewound.judge(demo)
    assert result.to_dict() == json.loads(run.stdout)
    assert result.to_json() == run.stdout


def test_text_equals_that_of_the_command_line_tool(demo, demo_path, tool):
    run = subprocess.run([tool, "judge", demo_path], capture_output=True, text=True)
    told = " ".join(rewound.judge(demo).to_text().split())
    assert told.replace("The rest: full=True", "The rest: --full") == " ".join(run.stdout.split())


def test_attributes_are_the_parts_of_the_dict(demo):
    result = rewound.judge(demo)
    whole = result.to_dict()
    assert whole["format"] == "rewound-result/1"
    for name in ("decision", "findings", "draw", "steps", "reasons", "next"):
        assert getattr(result, name) == whole[name]
    assert [row["speed"] for row in result.draw] == ["high", "medium", "low"]
    assert result.steps["best_order"] == ["high", "medium", "low"]


def test_dict_is_the_callers_own(demo):
    result = rewound.judge(demo)
    result.to_dict()["findings"].clear()
    assert result.findings and result.to_dict()["findings"]


def test_missing_check_never_releases(demo_dict):
    del demo_dict["insulation"]
    result = rewound.judge(rewound.Record.from_dict(demo_dict))
    assert result.decision == "undecided"
    assert result.next


@pytest.mark.parametrize("attempts, successes", [(10, 10), (5, 5), (12, 9), (6, 0), (59, 59)])
def test_starts_prove_the_one_sided_clopper_pearson_bound(demo_dict, attempts, successes):
    # The bound is the 5 % quantile of Beta(successes, failures + 1), as SciPy has it; 0.05^(1/n) without failures.
    demo_dict["starts"][0].update(attempts=attempts, successes=successes)
    (finding,) = of_check(rewound.judge(rewound.Record.from_dict(demo_dict)), "starting")
    expected = stats.beta.ppf(0.05, successes, attempts - successes + 1) if successes else 0.0
    if successes == attempts:
        assert expected == pytest.approx(0.05 ** (1 / attempts), rel=1e-12)
    assert finding["low"] == pytest.approx(expected, rel=1e-10, abs=1e-12)
    assert finding["value"] == pytest.approx(successes / attempts, rel=1e-15)


def test_draw_interval_is_the_normal_95_percent_interval(demo):
    at_rated = [f for f in of_check(rewound.judge(demo), "draw") if f["quantity"] == "current_at_rated"]
    assert len(at_rated) == 3
    for finding in at_rated:
        row = next(row for row in rewound.judge(demo).draw if row["speed"] == finding["subject"])
        half = stats.norm.ppf(0.975) * row["current_at_rated_u_A"]
        assert finding["high"] - finding["value"] == pytest.approx(half, rel=1e-9)
        assert finding["value"] - finding["low"] == pytest.approx(half, rel=1e-9)


def test_policy_of_a_dict_replaces_a_limit(demo):
    result = rewound.judge(demo, policy={"format": "rewound-policy/1", "limits": {"insulation_minimum_Mohm": 1000.0}})
    finding = next(f for f in of_check(result, "insulation") if f["unit"] == "Mohm")
    assert finding["limit_low"] == 1000.0
    assert finding["outcome"] == "fails" and result.decision == "hold"


def test_policy_of_a_file_equals_that_of_a_dict(demo, tmp_path):
    path = tmp_path / "policy.toml"
    path.write_text('format = "rewound-policy/1"\nname = "two"\nneeded = ["draw"]\n', encoding="utf-8")
    of_file = rewound.judge(demo, policy=path)
    of_dict = rewound.judge(demo, policy={"format": "rewound-policy/1", "name": "two", "needed": ["draw"]})
    assert of_file.to_dict() == of_dict.to_dict()
    assert of_file.to_dict()["policy"] == "two"


def test_misspelt_policy_key_is_refused(demo):
    with pytest.raises(rewound.InputError, match="did you mean needed") as caught:
        rewound.judge(demo, policy={"format": "rewound-policy/1", "neded": []})
    assert (caught.value.code, caught.value.field) == ("unknown_key", "neded")


def test_earlier_visit_of_the_same_machine_sets_the_expectation(demo_dict, demo):
    demo_dict["visit"]["date"] = "2025-05-14"
    result = rewound.judge(demo, earlier=rewound.Record.from_dict(demo_dict))
    assert {row["judged_by"] for row in result.draw} == {"earlier"}
    for row in result.draw:
        assert row["level_percent"] == pytest.approx(0.0, abs=0.01)


def test_earlier_record_of_another_machine_is_refused(demo_dict, demo):
    demo_dict["machine"]["id"] = "GH-08"
    demo_dict["visit"]["date"] = "2025-05-14"
    with pytest.raises(rewound.InputError) as caught:
        rewound.judge(demo, earlier=rewound.Record.from_dict(demo_dict))
    assert caught.value.code == "records_do_not_match"


def test_a_reference_learnt_from_one_machine_judges_it_and_survives_a_file(demo, tmp_path):
    good = rewound.learn([demo])
    assert (good.model, good.machines, good.set_aside) == ("circulator-40", 1, [])
    result = rewound.judge(demo, reference=good)
    assert {row["judged_by"] for row in result.draw} == {"reference"}
    # against itself nothing is off but what the weak belief in a usual slope pulls
    assert all(abs(row["level_percent"]) < 0.01 for row in result.draw)
    good.save(tmp_path / "model.toml")
    again = rewound.load_reference(tmp_path / "model.toml")
    assert again.to_text() == good.to_text()
    assert rewound.judge(demo, reference=again).to_dict() == result.to_dict()


def test_learning_refuses_one_visit_twice_and_nothing(demo):
    for records in ([demo, demo], []):
        with pytest.raises(rewound.InputError):
            rewound.learn(records)


def test_judging_something_else_than_a_record_is_a_type_error(demo, demo_path):
    with pytest.raises(TypeError):
        rewound.judge(demo_path)
    with pytest.raises(TypeError):
        rewound.judge(None)
    with pytest.raises(TypeError):
        rewound.judge(demo, policy=7)


def test_a_reference_tells_what_one_more_good_machine_draws(demo):
    good = rewound.learn([demo])
    value, low, high = good.expected("high", [150.0, 230.0], level=0.95)
    assert value[1] == pytest.approx(0.421, rel=0.01)
    # One machine stands for its kind to 4 %, and so does the next one, a belief worth eight machines; with probability
    # 0.25 machines spread 1.6 times as wide.
    outside = optimize.brentq(lambda t: 1.5 * stats.t.sf(t, 8) + 0.5 * stats.t.sf(t / 1.6, 8) - 0.05, 1.0, 9.0)
    assert high[1] / value[1] == pytest.approx(np.exp(outside * np.sqrt(2.0) * 0.04), rel=0.01)
    assert np.all(low < value) and np.all(value < high)
    wider = good.expected("high", [230.0], level=0.95, current_u_relative=0.05)
    assert wider[2][0] > high[1]
    with pytest.raises(rewound.InputError):
        good.expected("fourth", [230.0])
    with pytest.raises(ValueError):
        good.expected("high", [0.0])
