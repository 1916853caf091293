"""The whole dialogue at the bench fits a terminal of 80 columns, however long names are, piped and in a terminal."""

import os
import re

import pytest

from bench_driver import ESCAPE, Bench, piped, read

LONG = "the north glasshouse's second circulator, behind the orchids, with the long name"
SPEEDS = "as-fast-as-it-will-go-in-summer and-slowly-through-the-whole-winter-night"
FAST = SPEEDS.split()[0]
POLICY = """format = "rewound-policy/1"
needed = ["draw", "steps", "insulation", "resistance", "starting", "leakage", "withstand", "coast_down", "heat_run", "checks"]
required_checks = ["the switch opens both lines and the guard is on again, screws and all, as it was"]
"""
BASICS = [
    "?",
    "GH-31, " + LONG,
    "?",
    "230 50 .42 75W",
    SPEEDS,
    "?",
    "1",
    "2",
    "II",
    "repaired",
    "2026",
    "",
    "facts",
    "21",
]
STEPS = [
    "help",
    "plan",
    "facts",
    "judge",
    "note " + LONG,
    "go resistance",
    LONG,
    "?",
    "18.4",
    LONG + " again 18.4 expected 18.3",
    "list",
    "",
    "go insulation",
    "?",
    "circuit " + LONG,
    "15 180",
    "30 240",
    "310",
    "OL",
    "2000",
    "list",
    "done",
    "go insulation",
    "500V",
    "21C",
    "15 180",
    "30 240",
    "60 310",
    "180 3 3 3",
    "done",
    "go withstand",
    "",
    "1500",
    "ac",
    "60",
    "new",
    "no",
    "go " + FAST,
    "231 50",
    "?",
    "120.68",
    "115 .205",
    "150 .268",
    "184 .331",
    "207 .376",
    "230 .24",
    "keep",
    "list",
    "curve",
    "correct 1 115 .206",
    "done",
    "go leakage",
    "?",
    "0.2 230V",
    "",
    "go starting",
    "?",
    LONG + " 5 4 150V 3.2s",
    "",
    "go coast-down",
    "1 1120",
    "2 1000",
    "3 900",
    "list",
    "done",
    "go heat run",
    "",
    "",
    "18.4",
    "21",
    "22",
    "230",
    "600 20.1",
    "list",
    "done",
    "go checks",
    "yes",
    "judge",
    "plan",
]


def too_wide(shown):
    """Lines over 80 columns. Of what a person types the line editor itself goes on in the next line, with a
    backspace."""
    lines = re.split(r"[\r\n]+", ESCAPE.sub("", shown))
    own = [line.split("> ")[0] + "> " if "\b" in line else line for line in lines]
    return [line for line in own if len(line) > 80]


def test_no_line_of_the_whole_dialogue_is_wider_than_the_terminal(tmp_path):
    (tmp_path / "policy.toml").write_text(POLICY, encoding="utf-8")
    path = tmp_path / "new.toml"
    bench = Bench(path, "--policy", "policy.toml", cwd=tmp_path)
    bench.wait()
    bench.say(*BASICS)
    for line in STEPS:
        bench.say(line)
    bench.end()
    assert not too_wide(bench.seen)
    found = read(path)
    assert {
        "resistance",
        "insulation",
        "withstand",
        "run_up",
        "leakage",
        "starts",
        "coast_down",
        "heat_run",
        "checks",
    } <= set(found)


@pytest.mark.parametrize("locale", ["C", "C.UTF-8"])
def test_piped_answers_are_echoed_within_the_width_too(tmp_path, locale):
    done = piped([*BASICS, "quit"], tmp_path / "new.toml", cwd=tmp_path, env={**os.environ, "LC_ALL": locale})
    assert not [line for line in done.stdout.splitlines() if len(line) > 80]
    assert LONG[:60] in done.stdout
