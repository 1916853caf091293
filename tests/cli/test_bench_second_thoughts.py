"""Readings beyond a tester's range, tests made again and entries put right at the bench: nothing is invented, nothing
lost."""

import json

import pytest

from bench_driver import COLD, FIRST, RECORD, Bench, journal, plain, read, typed, written

COLD_READY = RECORD + COLD
DAMP = COLD.replace("[180, 240, 310]", "[1, 1, 1]")


@pytest.fixture
def record(tmp_path):
    return written(tmp_path, RECORD)


def in_test(path, *lines):
    """An insulation test of the winding to frame at 500 V and 21 degC, from its first reading."""
    return typed(path, "", "", "go insulation", "", "", *lines)


def insulation(path):
    return [(test["time_s"], test["resistance_Mohm"]) for test in read(path).get("insulation", [])]


@pytest.mark.parametrize("line", ["> 2000 Mohm", ">2000", ">2 G\u03a9", "over 2000", "60 >2000", "60s > 2000"])
def test_a_reading_beyond_the_range_counts_at_one_minute_as_at_least_its_top(rewound, record, line):
    shown = in_test(record, "15 900", "30 1500", line)
    assert insulation(record) == [([15, 30, 60], [900, 1500, ">2000"])]
    assert "over 2000 Mohm, beyond the range" in shown and "inside" in shown.split("the range:")[1]
    found = json.loads(rewound("judge", record, "--format", "json").stdout)["findings"]
    assert [f["outcome"] for f in found if f["quantity"] == "insulation_at_40_C"] == ["conforms"]


@pytest.mark.parametrize("line", ["OL", "ol", "inf", "60 OL", "O.L", "\u221e"])
def test_a_bare_overload_asks_for_the_top_of_the_range_and_invents_none(record, line):
    shown = in_test(record, "15 900", "30 1500", line, "", "2000")
    assert "top of the tester's range" in shown
    assert insulation(record) == [([15, 30, 60], [900, 1500, ">2000"])]


def test_over_range_elsewhere_than_at_one_minute_stands_in_its_row_and_bends_no_curve(rewound, record):
    shown = in_test(record, "15 900", ">2000", "600 >2000", "list")
    assert insulation(record) == [([15, 60, 600], [900, ">2000", ">2000"])]
    assert "600 s over 2000 Mohm, beyond the range" in shown.split("list")[1]
    found = json.loads(rewound("judge", record, "--format", "json").stdout)["findings"]
    assert not [f for f in found if f["check"] == "polarization_index" and f["outcome"] == "fails"]
    assert "checks" not in read(record)


def test_over_range_below_what_was_read_before_is_refused(record):
    shown = in_test(record, "15 2500", "60 >2000")
    assert "a range that holds the 2500 Mohm" in shown
    assert insulation(record) == [([15], [2500])]


def test_a_reading_over_range_is_listed_dropped_and_corrected_like_any_other(record):
    shown = in_test(record, "15 900", "60 >2000", "list", "drop 2", "60 1500", "correct 2 >2000")
    assert "2 winding to frame 60 s over 2000 Mohm, beyond the range" in shown
    assert insulation(record) == [([15, 60], [900, ">2000"])]


def test_the_end_of_the_range_that_the_testers_section_tells_is_not_asked(record):
    section = "[instruments.insulation_tester]\nreading_percent = 5\ndigits = 3\nresolution = 1e6\nfull_scale = 2e9\n\n"
    record.write_text(RECORD.replace("[visit]", section + "[visit]"), encoding="utf-8")
    shown = in_test(record, "OL")
    assert "top of the tester" not in shown and insulation(record) == [([60], [">2000"])]


def test_a_repeated_test_judges_anew_and_keeps_the_earlier_one_on_file_and_in_the_journal(tmp_path):
    path = written(tmp_path, RECORD + DAMP)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("go insulation", "repeat", "dried out", "", "", "15 180", "30 240", "310")
    shown = bench.say("done", "go high")
    bench.end()
    assert insulation(path) == [([15, 30, 60], [180, 240, 310])]
    assert read(path)["visit"]["work"] == [
        "dried out; insulation of winding to frame repeated, before: 15 s 1, 30 s 1, 60 s 1 Mohm at 500 V"
    ]
    assert (
        "changed repeated: winding to frame 15 s 1, 30 s 1, 60 s 1 Mohm at 500 V -> winding to frame 15 s 180 Mohm"
        in journal(path)
    )
    assert "-- run-up high" in shown


def test_a_repeat_begun_and_left_changes_nothing(tmp_path):
    path = written(tmp_path, RECORD + DAMP)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    assert "Mohm at 60 s" in bench.say("go insulation", "2", "", "", "")
    bench.say("done")
    bench.end()
    assert insulation(path) == [([15, 30, 60], [1, 1, 1])]


def test_an_undone_first_reading_of_a_repeat_brings_the_earlier_test_back_and_the_next_one_repeats_again(tmp_path):
    path = written(tmp_path, RECORD + DAMP)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("go insulation", "repeat", "", "", "", "15 180")
    assert "undone" in bench.say("undo")
    assert insulation(path) == [([15, 30, 60], [1, 1, 1])]
    bench.say("15 190")
    bench.end()
    assert insulation(path) == [([15], [190])]


@pytest.mark.parametrize(
    "step, lines, before, after, where",
    [
        (
            "insulation",
            ["go on", "correct 2 250"],
            "30 s 240 Mohm",
            "30 s 250 Mohm",
            lambda r: r["insulation"][0]["resistance_Mohm"][1] == 250,
        ),
        (
            "resistance",
            ["correct 1 18.9 22"],
            "main 18.4 ohm at 21 degC",
            "main 18.9 ohm at 22 degC",
            lambda r: r["resistance"][0]["winding_C"] == 22,
        ),
        (
            "earth",
            ["correct 1 90m"],
            "earth 0.08 ohm",
            "earth 0.09 ohm",
            lambda r: r["earth"]["continuity_ohm"] == 0.09,
        ),
        (
            "leakage",
            ["0.2", "correct 1 0.3"],
            "0.2 mA",
            "0.3 mA",
            lambda r: r["leakage"][0]["current_mA"] == 0.3,
        ),
        (
            "starting",
            ["5 5", "correct 1 6 5"],
            "upright 5 of 5",
            "upright 5 of 6",
            lambda r: r["starts"][0]["attempts"] == 6,
        ),
        (
            "coast-down",
            ["1 1100", "correct 1 1200"],
            "1 s 1100 rpm",
            "1 s 1200 rpm",
            lambda r: r["coast_down"]["speed_rpm"] == [1200],
        ),
        (
            "heat run",
            ["", "", "18.4", "21", "22", "230", "600 20.1", "correct 1 21.1"],
            "600 s 20.1 ohm",
            "600 s 21.1 ohm",
            lambda r: r["heat_run"]["resistance_ohm"] == [21.1],
        ),
    ],
)
def test_every_listed_entry_is_corrected_with_a_trace(tmp_path, step, lines, before, after, where):
    path = written(tmp_path, COLD_READY)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("go " + step, *lines)
    bench.end()
    assert where(read(path)), plain(bench.seen)
    assert any(" changed " in line and before + " -> " in line and after in line for line in journal(path).splitlines())


def test_a_correction_that_does_not_fit_is_refused_and_nothing_changes(tmp_path):
    path = written(tmp_path, COLD_READY)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("go insulation", "go on")
    for line in ("correct 9 240", "correct 2 5A", "correct x 240", "correct 2", "correct 2 90 240"):
        assert "! " in bench.say(line), line
    bench.end()
    assert insulation(path) == [([15, 30, 60], [180, 240, 310])]


def test_words_of_help_are_no_answers_at_the_first_questions(tmp_path):
    path = tmp_path / "new.toml"
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    shown = " ".join(bench.say("help").split())
    assert "questions about the machine" in shown and shown.endswith("as GH-7, fan >")
    for word in ("list", "plan", "judge", "done", "drop 1", "go high"):
        assert bench.say(word).strip().endswith("as GH-7, fan >"), word
    bench.say("GH-31", "230 50 .42")
    assert "[230 50 .42]" in bench.say("undo")
    assert "fan: GH-31" in bench.say("list")
    bench.say("undo", '"stop"')
    bench.say(*FIRST[1:])
    bench.end()
    assert read(path)["machine"]["id"] == "stop"


def test_commands_hold_within_the_questions_of_a_step(tmp_path):
    path = written(tmp_path, COLD_READY)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("go resistance", "aux")
    assert "1  main 18.4 ohm at 21 degC" in bench.say("list")
    assert "`undo`" in bench.say("help")
    shown = bench.say("undo")
    assert "left out" in shown and "next section" in shown
    bench.say("aux")
    assert "dropped: main 18.4 ohm" in bench.say("drop 1")
    bench.say("aux")
    assert "-- insulation" not in bench.say("stop")
    bench.end()
    assert "resistance" not in read(path)
    assert "undone the answers since the last change" in journal(path)


def test_who_goes_to_another_speed_and_leaves_it_has_not_left_the_first(tmp_path):
    path = written(tmp_path, COLD_READY)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("low 115 .16")
    shown = bench.say("done")
    assert "-- run-up high" in shown
    plan = bench.say("plan")
    assert "run-up low: left open" in plan and "run-up high: to do" in plan
    bench.end()


def test_a_refused_count_is_quoted_as_it_was_typed(tmp_path):
    path = written(tmp_path, COLD_READY)
    shown = typed(path, "", "go starting", "4.6 4", "5", "5 5A", "5 4")
    assert '"4.6 4"' in shown and "whole numbers of tries" in shown
    assert "refused 4.6 4" in journal(path)
    assert read(path)["starts"][0]["successes"] == 4


def test_a_test_is_repeated_from_within_it(tmp_path):
    path = written(tmp_path, RECORD)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("go insulation")
    assert "nothing to repeat" in bench.say("repeat")
    bench.say("15 1", "30 1", "1", "repeat", "", "", "", "15 180", "30 240", "310")
    bench.end()
    assert insulation(path) == [([15, 30, 60], [180, 240, 310])]
    assert "before: 15 s 1, 30 s 1, 60 s 1 Mohm" in read(path)["visit"]["work"][0]
