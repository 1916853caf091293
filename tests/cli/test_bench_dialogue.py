"""The dialogue at the bench, in a pseudo-terminal and through a pipe: order, remarks, stops, and the record it
leaves."""

import json
import os
import re

import pytest

from bench_driver import COLD, HIGH, RECORD, Bench, journal, piped, plain, read, written

COLD_READY = RECORD + COLD


@pytest.fixture
def record(tmp_path):
    return written(tmp_path, COLD_READY)


@pytest.fixture
def bare(tmp_path):
    return written(tmp_path, RECORD)


def decision_of(rewound, path):
    return json.loads(rewound("judge", path, "--format", "json").stdout)["decision"]


def at_run_up(path, **options):
    bench = Bench(path, cwd=path.parent, **options)
    bench.wait()
    return bench


def test_a_visit_is_taken_from_the_first_prompt_to_the_saved_record(rewound, tmp_path):
    path = tmp_path / "new.toml"
    bench = Bench(path, cwd=tmp_path)
    shown = bench.wait()
    assert "your number, and what it is" in shown
    assert not path.exists()
    refused = bench.say("GH-31, palm house, fan 31", "-230 50")
    assert "rated voltage, V" in refused and "a voltage from" in refused
    bench.say(
        "230 50 420mA", "2", "1", "permanent capacitor", "I", "rewound", "8 insulation_tester variable_transformer"
    )
    assert not path.exists()
    shown = bench.say("21")
    assert read(path)["machine"]["id"] == "GH-31" and read(path)["machine"]["description"] == "palm house, fan 31"
    assert "-- earth" in shown and "unplug" in shown
    assert "inside" in bench.say("80m 3m")
    assert "-- resistance" in plain(bench.seen)
    assert "inside" in bench.say("18.4 expected 18.3")
    shown = bench.say("")
    assert "-- insulation" in shown
    assert "not enough yet" in bench.say("15 180")
    bench.say("30 240")
    assert "inside" in bench.say("310")
    shown = bench.say("done")
    assert "-- run-up high" in shown and "residual-current" in shown
    bench.say("230")
    for volts, amperes in HIGH:
        shown = bench.say(f"{volts} {amperes}")
    assert "marked 0.42 A" in shown and "inside" in shown
    bench.say("done")
    for volts, amperes in HIGH:
        bench.say(f"{volts} {float(amperes) * 0.8:.3f}")
    shown = bench.say("done")
    assert "-- starting" in shown
    bench.say("5 5 150V 3.2s")
    bench.say("")
    last = bench.end().strip().splitlines()[-1]
    found = read(path)
    assert found["run_up"][0]["voltage_V"] == [float(v) for v, _ in HIGH]
    assert found["run_up"][0]["current_A"] == [float(a) for _, a in HIGH]
    assert found["insulation"][0]["resistance_Mohm"] == [180, 240, 310]
    decision = decision_of(rewound, path)
    assert decision in last
    assert bench.exit_code == {"release": 0, "hold": 10, "undecided": 20}[decision]
    assert all(len(line) <= 80 for line in re.split(r"[\r\n]+", plain(bench.seen)))


def test_a_reading_is_taken_in_every_way_it_is_typed(record):
    bench = at_run_up(record)
    bench.say("115 .205", "150 268mA", "high 184 .331", ".376A 207V", "0.42")
    bench.say("low 115 .16")
    bench.end()
    runs = read(record)["run_up"]
    assert runs[0]["voltage_V"] == [115, 150, 184, 207, 230]
    assert runs[0]["current_A"] == [0.205, 0.268, 0.331, 0.376, 0.42]
    assert runs[1]["speed"] == "low" and runs[1]["current_A"] == [0.16]


def test_bad_input_is_refused_in_one_line_and_nothing_is_kept(record):
    before = record.read_text(encoding="utf-8")
    bench = at_run_up(record)
    for line in ("11o .6", "0,61", "-5 .3", "fast 110 .3"):
        shown = bench.say(line)
        assert shown.splitlines()[1].startswith("! "), shown
    bench.end()
    assert "run_up = []" in record.read_text(encoding="utf-8") or record.read_text(encoding="utf-8") == before
    assert journal(record).count(" refused ") == 4


def test_every_reading_is_answered_beside_a_reference(rewound, tmp_path, demo_text):
    good = tmp_path / "good.toml"
    good.write_text(demo_text, encoding="utf-8")
    assert rewound("learn", good, "--out", "model.toml").returncode == 0
    path = tmp_path / "job.toml"
    text = COLD_READY.replace('id = "GH-31"', 'id = "GH-31"\nmodel = "circulator-40"').replace(
        '["high", "low"]', '["high", "medium", "low"]'
    )
    path.write_text(text, encoding="utf-8")
    bench = Bench(path, "--reference", "model.toml", cwd=tmp_path)
    bench.wait()
    shown = bench.say("120 .214")
    assert re.search(r"expected 0\.2\d* \+- [0-9.]+ A, read [+-]?[0-9.]+ %; speed so far", shown)
    assert "not enough yet" in shown
    for line in ("150 .268", "180 .325", "210 .381", "230 .421"):
        shown = bench.say(line)
    assert "speed so far" in shown and "inside" in shown
    assert "STOP" not in plain(bench.seen)
    bench.say("done")
    assert "STOP" in bench_stop(bench, "115 .9")
    bench.child.send("\r")
    bench.wait()
    last = bench.end()
    result = json.loads(rewound("judge", path, "--reference", "model.toml", "--format", "json").stdout)
    assert f"Decision: {result['decision']}" in last


def bench_stop(bench, line):
    """A reading after which the person is stopped: up to the key that is then asked for."""
    bench.child.send(line + "\r")
    bench.child.expect("voltage is down > ")
    return plain(bench.child.before)


def test_a_draw_far_above_the_marked_current_at_low_voltage_stops_the_run_up(record):
    bench = at_run_up(record)
    shown = bench_stop(bench, "115 .9")
    assert "STOP" in shown and "far too much" in shown and "marked 0.42 A" in shown
    bench.child.send("\r")
    bench.wait()
    bench.end()
    assert read(record)["run_up"][0]["current_A"] == [0.9]
    assert " stopped " in journal(record)


def test_a_current_that_no_longer_follows_the_voltage_stops_the_run_up(record):
    bench = at_run_up(record)
    bench.say("150 .26", "160 .28")
    assert "no longer follows" in bench_stop(bench, "170 .45")


def test_a_misread_number_is_asked_for_again(record):
    bench = at_run_up(record)
    for volts, amperes in HIGH[:4]:
        shown = bench.say(f"{volts} {amperes}")
    shown = bench.say("230 .24")
    assert "0.24?" in shown and "0.42 would fit: type it again" in shown
    assert "again 230 V" in shown
    shown = bench.say(".42")
    assert "would fit" not in shown and "again" not in shown
    bench.end()
    assert read(record)["run_up"][0]["current_A"] == [0.205, 0.268, 0.331, 0.376, 0.42]
    assert "changed high 230 V 0.24 A -> high 230 V 0.42 A" in journal(record)


def test_a_suspect_reading_is_kept_when_the_person_says_so(record):
    bench = at_run_up(record)
    for volts, amperes in HIGH[:4]:
        bench.say(f"{volts} {amperes}")
    bench.say("230 .24")
    assert "again" not in bench.say("keep")
    bench.end()
    assert read(record)["run_up"][0]["current_A"][-1] == 0.24


def test_insulation_below_the_minimum_is_not_energised(bare):
    bench = Bench(bare, cwd=bare.parent)
    bench.wait()
    bench.say("80m", "18.4 expected 18.3", "")
    shown = bench.say("1", "1", "1", "done")
    assert "STOP" in shown and "Not energised" in shown
    assert "run-up" not in shown.split("Not energised")[0]
    shown = bench.say("go high")
    assert "Not energised" in shown
    bench.end()
    assert read(bare)["run_up"] == []
    assert bench.exit_code == 10


def test_nothing_is_energised_before_insulation_was_judged(bare):
    bench = Bench(bare, cwd=bare.parent)
    bench.wait()
    for step in ("go high", "go starting", "go heat run", "go coast-down", "go leakage"):
        assert "insulation has not been judged" in bench.say(step)
    bench.end()


def test_cautions_come_before_their_step_and_once(bare):
    bench = Bench(bare, cwd=bare.parent)
    shown = bench.wait()
    assert shown.index("unplug") < shown.index("frame to earth pin")
    assert bench.cautions == 2
    bench.say("80m")
    assert "hands off" not in plain(bench.seen)
    bench.say("go insulation")
    assert bench.cautions == 4
    bench.say("310", "done")
    assert bench.cautions == 5
    assert plain(bench.seen).count("residual-current") == 0
    bench.say("done")
    assert plain(bench.seen).count("residual-current") == 1
    bench.say("go low", "go high")
    assert plain(bench.seen).count("residual-current") == 1
    bench.end()


def test_undo_correct_and_drop_leave_a_trace(record):
    bench = at_run_up(record)
    bench.say("115 .205", "150 .286")
    assert "undone" in bench.say("undo")
    bench.say("150 .268", "correct 1 115 .206")
    assert "1  high 115 V 0.206 A" in bench.say("list")
    bench.say("drop 2")
    bench.end()
    run = read(record)["run_up"][0]
    assert (run["voltage_V"], run["current_A"]) == ([115], [0.206])
    text = journal(record)
    assert "undone high 150 V 0.286 A" in text
    assert "changed high 115 V 0.205 A -> high 115 V 0.206 A" in text
    assert "changed dropped: high 150 V 0.268 A" in text


def test_a_hand_written_record_is_kept_beside_as_it_was(record):
    text = "# written by hand\n" + record.read_text(encoding="utf-8")
    record.write_text(text, encoding="utf-8")
    bench = at_run_up(record)
    bench.say("115 .205")
    bench.end()
    assert (record.parent / "job.toml.before-bench").read_text(encoding="utf-8") == text


def test_the_growing_curve_is_drawn_in_the_terminals_characters(record):
    for locale, bar in (("C.UTF-8", "\u2502"), ("C", "|")):
        bench = at_run_up(record, locale=locale)
        shown = bench.say("115 .205", "150 .268", "curve")
        assert bar in shown and "1 high, 2 low" in shown
        assert locale != "C" or shown.isascii()
        assert all(len(line) <= 80 for line in shown.splitlines())
        bench.say("drop 2", "drop 1")
        bench.end()


@pytest.mark.parametrize("term", ["dumb", "vt100", "xterm"])
def test_it_works_in_plain_terminals(record, term):
    bench = at_run_up(record, term=term)
    bench.say("115 .205", "150 .268")
    bench.end()
    if term == "dumb":
        assert "\x1b" not in bench.seen
    assert read(record)["run_up"][0]["current_A"] == [0.205, 0.268]


def test_through_a_pipe_it_writes_no_escapes_and_takes_the_same_lines(rewound, record):
    lines = ["", *(f"{v} {a}" for v, a in HIGH), "judge", "quit"]
    done = piped(lines, record, cwd=record.parent)
    assert done.returncode == 20, done.stderr
    assert "\x1b" not in done.stdout and "\r" not in done.stdout
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    assert read(record)["run_up"][0]["current_A"] == [float(a) for _, a in HIGH]
    assert done.stdout.strip().splitlines()[-1].startswith(f"Decision: {decision_of(rewound, record)}")


def test_a_name_that_the_terminal_cannot_show_is_spelt_with_question_marks(record):
    record.write_text(COLD_READY.replace("GH-31", "Palmenhaus \u00e4\u001b"[:-1]), encoding="utf-8")
    done = piped(["quit"], record, cwd=record.parent, env={**os.environ, "LC_ALL": "C"})
    assert "Palmenhaus ?" in done.stdout and done.stdout.isascii()


def test_a_record_that_cannot_be_read_is_refused_with_its_line(tmp_path):
    path = written(tmp_path, RECORD.replace("rated_voltage_V = 230", "rated_voltage_V = -230"))
    done = piped([], path, cwd=tmp_path)
    assert done.returncode == 65
    assert done.stderr.count("\n") == 1 and "rated_voltage_V" in done.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job.toml"]
