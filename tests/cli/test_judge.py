"""The judge command: exit codes, formats, and what stands on the screen."""

import json

import pytest
from conftest import GOOD

RECORD_KEYS = {
    "format",
    "machine",
    "decision",
    "reasons",
    "findings",
    "draw",
    "steps",
    "suspect_readings",
    "causes",
    "next",
    "abnormality",
}
FINDING_KEYS = {
    "check",
    "subject",
    "outcome",
    "quantity",
    "value",
    "unit",
    "low",
    "high",
    "limit_low",
    "limit_high",
    "source",
    "message",
}


def judged(rewound, *arguments):
    done = rewound("judge", *arguments, "--format", "json")
    assert done.stderr == ""
    return done.returncode, json.loads(done.stdout)


def test_the_demo_record_is_released_with_code_0(rewound):
    code, result = judged(rewound, GOOD / "gh07_after_repair.toml")
    assert (code, result["decision"]) == (0, "release")
    assert RECORD_KEYS <= result.keys()
    assert all(FINDING_KEYS <= finding.keys() for finding in result["findings"])
    assert [row["speed"] for row in result["draw"]] == ["high", "medium", "low"]
    assert result["steps"]["outcome"] == "conforms" and result["steps"]["flag"] is None


def test_a_draw_far_above_the_nameplate_is_held_with_code_10(rewound, altered):
    record = altered(
        (
            "current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]",
            "current_A = [0.321, 0.402, 0.487, 0.571, 0.632, 0.663]",
        )
    )
    code, result = judged(rewound, record)
    assert (code, result["decision"]) == (10, "hold")
    assert result["draw"][0]["flag"] == "high" and result["draw"][0]["outcome"] == "fails"
    assert result["next"]


def test_exchanged_speed_leads_are_named_and_held(rewound, altered):
    record = altered(
        ("0.188, 0.235, 0.284, 0.332, 0.366, 0.383", "MEDIUM"),
        ("0.159, 0.198, 0.238, 0.278, 0.305, 0.319", "0.188, 0.235, 0.284, 0.332, 0.366, 0.383"),
        ("MEDIUM", "0.159, 0.198, 0.238, 0.278, 0.305, 0.319"),
    )
    code, result = judged(rewound, record)
    assert code == 10
    assert result["steps"]["flag"] == "swapped"
    assert result["steps"]["best_order"] == ["high", "low", "medium"]


def test_one_misread_digit_pair_leaves_it_undecided_with_code_20(rewound, altered):
    record = altered(("0.325, 0.381, 0.421", "0.325, 0.318, 0.421"))
    code, result = judged(rewound, record)
    assert (code, result["decision"]) == (20, "undecided")
    (suspect,) = result["suspect_readings"]
    assert (suspect["speed"], suspect["index"], suspect["explanation"]) == ("high", 3, "digits_transposed")
    assert suspect["would_fit"] == pytest.approx(0.381, rel=1e-12)


def test_an_earlier_visit_gives_levels_and_a_joint_test(rewound):
    code, result = judged(rewound, GOOD / "gh07_recheck.toml", "--earlier", GOOD / "gh07_after_repair.toml")
    assert code == 0
    assert all(row["judged_by"] == "earlier" and abs(row["level_percent"]) < 3 for row in result["draw"])
    assert 0 <= result["abnormality"] < 2


def test_an_earlier_visit_of_another_machine_is_refused(rewound, altered):
    other = altered(('id = "GH-07"', 'id = "GH-08"'))
    done = rewound("judge", GOOD / "gh07_recheck.toml", "--earlier", other)
    assert done.returncode == 65
    assert "GH-08" in done.stderr and done.stderr.count("\n") == 1


def test_the_shops_policy_changes_what_is_needed(rewound, altered, tmp_path):
    record = altered(("attempts = 10", "attempts = 3"), ("successes = 10", "successes = 3"))
    assert judged(rewound, record)[0] == 20
    policy = tmp_path / "policy.toml"
    policy.write_text('format = "rewound-policy/1"\n[limits]\nminimum_starts = 3\n', encoding="utf-8")
    assert judged(rewound, record, "--policy", policy)[0] == 0


def test_both_withstand_standards_and_both_temperatures_stand_in_the_json(rewound):
    _, result = judged(rewound, GOOD / "gh07_after_repair.toml")
    by_check = {finding["check"]: finding for finding in result["findings"]}
    # 230 V: IEC 60034-1 max(1000 + 2 U, 1500), NEMA MG 1 1000 V up to 1/2 hp and 250 V
    assert (by_check["withstand"]["numbers"]["iec"], by_check["withstand"]["numbers"]["nema"]) == (1500, 1000)
    numbers = by_check["resistance"]["numbers"]
    assert numbers["ohm"] == pytest.approx(18.40 * 254.5 / 255.5)
    assert numbers["ohm_25"] == pytest.approx(18.40 * 259.5 / 255.5)


def test_the_shops_own_row_lies_over_the_table(rewound, altered, tmp_path):
    policy = tmp_path / "policy.toml"
    policy.write_text(
        'format = "rewound-policy/1"\n[limits.earth_continuity_maximum.cord_up_to_5_m]\n'
        'maximum_ohm = 0.05\nsource = "bench rule 5"\n',
        encoding="utf-8",
    )
    code, result = judged(rewound, altered(), "--policy", policy)
    assert code == 10
    assert result["own_limits"] == [
        {
            "limit": "earth_continuity_maximum.cord_up_to_5_m.maximum_ohm",
            "value": 0.05,
            "source": "the shop's own limit bench rule 5",
        }
    ]
    (earth,) = [finding for finding in result["findings"] if finding["check"] == "earth"]
    assert (earth["limit_high"], earth["source"]) == (0.05, "the shop's own limit bench rule 5")


@pytest.mark.parametrize("arguments", [(), ("judge",), ("judge", "a.toml", "--format", "pdf"), ("no_such_verb",)])
def test_wrong_usage_is_code_64(rewound, arguments):
    run = rewound(*arguments)
    assert run.returncode == 64
    assert run.stderr.startswith("rewound: ") and run.stderr.count("\n") == 1


def test_the_text_fits_80_columns_and_never_says_safe(rewound, altered):
    long_words = altered(('description = "palm house, circulating fan 7"', f'description = "{"x" * 500}"'))
    for record in (GOOD / "gh07_after_repair.toml", long_words):
        text = rewound("judge", record).stdout
        assert text.startswith("GH-07")
        assert max(map(len, text.splitlines())) < 80
        assert "is safe" not in text.lower()
        assert "local codes" in " ".join(text.split())


def test_control_characters_of_a_record_do_not_reach_the_terminal(rewound, altered):
    record = altered(('description = "palm house, circulating fan 7"', r'description = "a\u001b[31mred\u0007"'))
    done = rewound("judge", record)
    assert done.returncode == 0
    assert "\x1b" not in done.stdout and "\x07" not in done.stdout


def test_the_template_is_a_record_that_can_be_judged(rewound, tmp_path):
    blank = rewound("template")
    assert blank.returncode == 0
    (tmp_path / "job.toml").write_text(blank.stdout, encoding="utf-8")
    code, result = judged(rewound, "job.toml")
    assert code == 20 and result["decision"] == "undecided"


def test_version(rewound):
    done = rewound("--version")
    assert done.returncode == 0 and done.stdout.startswith("rewound 0.")


def test_what_is_missing_is_asked_for_and_nothing_under_power_before_the_cold_tests(rewound, tmp_path):
    """Nothing is energised before the insulation was measured (common practice, no source)."""
    (tmp_path / "job.toml").write_text(rewound("template").stdout, encoding="utf-8")
    _, result = judged(rewound, "job.toml")
    assert "insulation resistance tester" in result["next"][0]
    for text in result["next"]:
        assert "run up" not in text and "starts" not in text
