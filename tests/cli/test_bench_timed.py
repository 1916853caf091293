"""Times at the bench are those of the answers: late ones, after a pause, and while a winding cools."""

import json
import time

from bench_driver import COLD, RECORD, Bench, piped, plain, read, written
from scpi_simulator import Simulator

REHEARSED = '\n[checks]\n"readings of a test, not of a rehearsal" = false\n'
HEAT = """
[heat_run]
cold_ohm = 18.4
cold_C = 21
ambient_C = 22
time_s = [600, 1200, 1800]
resistance_ohm = [19.9, 20.8, 21.5]
"""


def opened(path, *arguments):
    bench = Bench(path, *arguments, cwd=path.parent)
    bench.wait()
    return bench


def test_an_insulation_reading_typed_late_counts_at_the_time_it_comes(tmp_path):
    path = written(tmp_path, RECORD)
    bench = opened(path)
    bench.say("go insulation")
    bench.start_run()
    bench.child.expect("insulation at 15 s")
    time.sleep(3.2)
    bench.child.send("180\r")
    bench.child.expect("18 s 180 Mohm")
    bench.child.send("\r")
    bench.child.expect("stopped by hand")
    bench.wait()
    bench.end()
    assert read(path)["insulation"][0]["time_s"] == [18]


def test_a_heat_reading_counts_at_its_answer_and_the_clock_goes_on_through_a_pause(tmp_path):
    path = written(tmp_path, RECORD + COLD)
    bench = opened(path)
    bench.say("go heat run", "", "", "18.4", "21", "22", "230")
    bench.child.send("run 0.05 0.1\r")
    bench.child.expect("switched on > ")
    bench.child.send("\r")
    bench.child.expect("at 3 s, ohms [^>]*> ")
    time.sleep(1.6)
    bench.say("19.9")  # the answer of the first; asked again at 6 s
    bench.say("20.8")
    time.sleep(2.5)
    bench.say("run 0.05 0.2")
    bench.say("21.5")
    bench.end()
    first, second, third = read(path)["heat_run"]["time_s"]
    assert 4.5 <= first < 5.9 and 6 <= second < 6.9 and 9 <= third < 15


def test_a_heat_run_gone_on_with_later_asks_how_long_it_has_been_on(tmp_path):
    path = written(tmp_path, RECORD + COLD + HEAT + REHEARSED)
    bench = opened(path, "--rehearse", "60000")
    bench.say("go heat run")
    assert "no less than the last reading" in bench.say("run 10 60", "20min")
    bench.say("run 10 60", "45min")
    assert "at 3600 s" in bench.say("22.4")
    bench.say("22.6")
    bench.end()
    assert read(path)["heat_run"]["time_s"] == [600, 1200, 1800, 3000, 3600]


def test_cooling_readings_are_taken_judged_listed_and_dropped(rewound, tmp_path):
    path = written(tmp_path, RECORD + COLD + HEAT)
    bench = opened(path)
    bench.say("go heat run")
    assert "Cooling" in bench.say("off", "")
    for line in ("20 22.0", "40 21.7", "60 21.45", "80 21.2", "100 5A", "100 20.1", "drop 8"):
        bench.say(line)
    assert "7  switched off 80 s 21.2 ohm" in bench.say("list")
    assert "by switched off 80 s 21.22 ohm" in bench.say("correct 7 21.22")
    bench.end()
    run = read(path)["heat_run"]
    assert (run["cooling_time_s"], run["cooling_ohm"]) == ([20, 40, 60, 80], [22.0, 21.7, 21.45, 21.22])
    assert run["time_s"] == [600, 1200, 1800]
    said = [
        f["message"]
        for f in json.loads(rewound("judge", path, "--format", "json").stdout)["findings"]
        if f["check"] == "heat_run"
    ]
    assert any("switch" in message for message in said), said


def test_cooling_ohms_typed_alone_count_from_switching_off(tmp_path):
    path = written(tmp_path, RECORD + COLD + HEAT)
    bench = opened(path)
    bench.say("go heat run", "off", "")
    time.sleep(1.5)
    bench.say("22.0")
    bench.end()
    assert 1.4 <= read(path)["heat_run"]["cooling_time_s"][0] < 4


def test_switching_off_before_any_reading_is_refused(tmp_path):
    path = written(tmp_path, RECORD + COLD)
    bench = opened(path)
    assert "a reading of the run first" in bench.say("go heat run", "", "", "18.4", "21", "22", "230", "off")
    bench.end()


def test_a_coast_down_says_what_the_judgement_found_of_it(rewound, tmp_path):
    path = written(tmp_path, RECORD + COLD)
    readings = ["1 1400", "2 1310", "3 1226", "4 1147", "5 1073", "6 1003", "7 937", "8 875", "9 816", "10 760"]
    bench = opened(path)
    bench.say("go coast-down")
    assert "not enough yet" in bench.say(readings[0])
    shown = " ".join(bench.say(*readings[1:]).split())
    bench.end()
    found = json.loads(rewound("judge", path, "--format", "json").stdout)["findings"]
    told = next(f for f in found if f["check"] == "coast_down" and f["quantity"] == "deceleration")
    assert "not enough yet" not in shown, plain(bench.seen)
    number = float(shown.split("deceleration ")[1].split()[0])
    assert abs(number - told["value"]) <= 0.51 * 10 ** -len(str(number).partition(".")[2]) and "rpm/s" in shown


def test_a_coast_down_beside_an_earlier_one_is_inside_or_outside_as_it_is_judged(rewound, tmp_path):
    coast = "\n[coast_down]\ntime_s = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]\nspeed_rpm = "
    early = tmp_path / "early.toml"
    early.write_text(
        RECORD + COLD + coast + "[1400, 1310, 1226, 1147, 1073, 1003, 937, 875, 816, 760]\n", encoding="utf-8"
    )
    path = written(tmp_path, RECORD + COLD + coast + "[1400, 1210, 1030, 860, 700]\n")
    path.write_text(
        path.read_text(encoding="utf-8").replace("[1, 2, 3, 4, 5, 6, 7, 8, 9, 10]", "[1, 2, 3, 4, 5]"), encoding="utf-8"
    )
    done = piped(["", "go coast-down", "6 550", "quit"], path, "--earlier", early, cwd=tmp_path)
    remark = " ".join(done.stdout.split("6 550")[1].split("seconds rpm")[0].split())
    found = json.loads(rewound("judge", path, "--earlier", early, "--format", "json").stdout)["findings"]
    assert any(f["check"] == "coast_down" and f["outcome"] == "fails" for f in found)
    assert remark.endswith("OUTSIDE"), done.stdout


def test_a_run_goes_on_with_the_clock_of_the_run_before_while_the_tester_is_on(tmp_path):
    path = written(tmp_path, RECORD + REHEARSED)
    bench = opened(path, "--rehearse", "60000")
    bench.say("go insulation", "run", "", "180", "240", "310")
    assert "is the tester on since" in bench.say("run 10")
    assert "insulation at 120 s" in bench.say("yes")
    bench.say("420", "done")
    bench.end()
    assert read(path)["insulation"][0]["time_s"] == [15, 30, 60, 120]


def test_a_run_begun_after_typed_readings_asks_how_long_the_tester_has_been_on(tmp_path):
    path = written(tmp_path, RECORD + REHEARSED)
    bench = opened(path, "--rehearse", "60000")
    bench.say("go insulation", "15 180", "30 240", "60 310", "run 10")
    assert "no less than the last reading" in bench.say("40")
    bench.say("run 10")
    assert "insulation at 180 s" in bench.say("130s")
    bench.end()


def test_who_leaves_a_heat_run_is_asked_for_the_ohms_of_its_cooling(tmp_path):
    path = written(tmp_path, RECORD + COLD + HEAT)
    bench = opened(path)
    bench.say("go heat run")
    assert "ohms while it cools" in bench.say("done")
    bench.say("off", "", "20 22", "done")
    bench.end()
    assert read(path)["heat_run"]["cooling_ohm"] == [22]


def test_the_ohmmeter_is_read_while_the_winding_cools(tmp_path):
    with Simulator(["22.0", "21.7"]) as ohmmeter:
        meter = (
            "[instruments.ohmmeter]\nreading_percent = 0.5\ndigits = 2\nresolution = 0.001\naddress ="
            f' "{ohmmeter.address}"\nquery = "MEAS:RES?"\n\n[visit]'
        )
        path = written(tmp_path, RECORD.replace("[visit]", meter) + COLD + HEAT)
        bench = opened(path)
        bench.say("go heat run", "off", "", "")
        time.sleep(1.1)
        bench.say("", "done")
        bench.end()
    run = read(path)["heat_run"]
    assert run["cooling_ohm"] == [22.0, 21.7] and run["cooling_time_s"][1] >= 1


def test_a_heat_run_by_thermometer_asks_for_no_cold_ohms_until_ohms_are_read(tmp_path):
    path = written(tmp_path, RECORD + COLD)
    bench = opened(path)
    bench.say("go heat run", "", "degC", "21", "22", "230")
    bench.say("600 35", "1200 44")
    assert "cold ohms" in bench.say("off", "")
    bench.say("18.4", "20 21.1")
    bench.end()
    run = read(path)["heat_run"]
    assert run["temperature_C"] == [35, 44] and (run["cold_ohm"], run["cooling_ohm"]) == (18.4, [21.1])
    other = written(tmp_path, RECORD + COLD)
    bench = opened(other)
    bench.say("go heat run", "", "degC", "21", "22", "230")
    bench.say("600 35")
    bench.end()
    assert "cold_ohm" not in read(other)["heat_run"]
