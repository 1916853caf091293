"""Run-ups that are out of the usual at the bench: speeds named by numbers, watts that begin midway, three phases."""

import json

from bench_driver import COLD, RECORD, Bench, journal, plain, read, written
from scpi_simulator import Simulator

THREE = (
    RECORD.replace("phases = 1", "phases = 3")
    .replace("230", "400")
    .replace('"high", "low"', '"full"')
    .replace("series_reactor", "none")
    .replace("permanent_capacitor", "three_phase")
)


def opened(tmp_path, text):
    path = written(tmp_path, text + COLD)
    bench = Bench(path, cwd=tmp_path)
    return path, bench, bench.wait()


def test_speeds_named_by_numbers_are_told_apart_from_readings(tmp_path):
    path, bench, shown = opened(tmp_path, RECORD.replace('"high", "low"', '"1", "2", "3"'))
    assert "`1: 110 .61` is a reading of it" in " ".join(shown.split())
    assert "1: 230 V, A" in shown
    for line in ("2 110 .61", "2", "3 .2"):
        shown = " ".join(bench.say(line).split())
        assert "! " in shown and f"`{line[0]}:` for the speed" in shown, shown
    bench.say("115 .205", "2: 115 .18", "150 .23")
    assert "3: 230 V" in bench.say("3:")
    bench.say("1A")
    bench.end()
    assert [(r["speed"], r["voltage_V"], r["current_A"]) for r in read(path)["run_up"]] == [
        ("1", [115], [0.205]),
        ("2", [115, 150], [0.18, 0.23]),
        ("3", [230], [1]),
    ]


def test_watts_that_begin_midway_stand_in_the_row_of_their_reading(rewound, tmp_path):
    path, bench, _ = opened(tmp_path, RECORD)
    bench.say("115 .205")
    bench.say("150 .268 28.4W")
    assert "2  high 150 V 0.268 A 28.4 W" in bench.say("list")
    assert read(path)["run_up"][0]["rows"][1] == {"voltage_V": 150, "current_A": 0.268, "power_W": 28.4}
    bench.say("correct 1 115 .205 17.9W")
    bench.end()
    found = read(path)
    assert found["run_up"][0]["power_W"] == [17.9, 28.4] and "checks" not in found


def test_three_lines_are_typed_kept_corrected_and_judged(rewound, tmp_path):
    path, bench, shown = opened(tmp_path, THREE)
    assert "400 V, A A A" in shown
    assert "three amperes" in bench.say("200 1.1")
    bench.say("200 .20 .21 .19", "260 .26 .27 .26", "320V .33A .34A .33A 60W", "360 .37 .38 .37")
    assert "1  full 200 V 0.2 0.21 0.19 A" in bench.say("list")
    bench.say("correct 1 200 .20 .21 .20", "400 .41 .42 .41")
    bench.end()
    run = read(path)["run_up"][0]
    assert [row["current_A"] for row in run["rows"]] == [
        [0.20, 0.21, 0.20],
        [0.26, 0.27, 0.26],
        [0.33, 0.34, 0.33],
        [0.37, 0.38, 0.37],
        [0.41, 0.42, 0.41],
    ], plain(bench.seen)
    assert "full 200 V 0.2 0.21 0.19 A -> full 200 V 0.2 0.21 0.2 A" in journal(path)
    found = json.loads(rewound("judge", path, "--format", "json").stdout)["findings"]
    assert [f for f in found if f["check"] == "unbalance" and f["outcome"] == "conforms"]


def test_one_ammeter_is_read_in_three_lines_in_turn(tmp_path):
    with Simulator([".20", ".21", ".19"]) as meter:
        text = THREE.replace(
            "[visit]",
            f"[instruments.ammeter]\nreading_percent = 0.5\ndigits = 2\nresolution = 0.001\n"
            f'address = "{meter.address}"\nquery = "MEAS?"\n\n[visit]',
        )
        path, bench, _ = opened(tmp_path, text)
        assert "line 1" in bench.say("read 200")
        bench.say("", "", "")
        bench.end()
    assert read(path)["run_up"][0]["current_A"] == [[0.20], [0.21], [0.19]]
