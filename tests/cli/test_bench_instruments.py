"""Instruments that answer queries over TCP and serial, well and badly, and the runs that sample themselves."""

import os
import shutil
import socket
import subprocess
import termios
import time

import pytest

from bench_driver import COLD, RECORD, Bench, journal, piped, read
from scpi_simulator import DROP, SILENCE, SerialSimulator, Simulator


def meter(kind, address, query, timeout_s=20):
    return (
        f"\n[instruments.{kind}]\nreading_percent = 0.5\ndigits = 2\nresolution = 0.001\n"
        f'address = "{address}"\nquery = "{query}"\ntimeout_s = {timeout_s}\n'
    )


REHEARSED = '\n[checks]\n"readings of a test, not of a rehearsal" = false\n'


def written(tmp_path, *meters, cold=COLD):
    path = tmp_path / "job.toml"
    path.write_text(RECORD + "".join(meters) + cold, encoding="utf-8")
    return path


def test_volts_and_amperes_are_read_when_the_person_presses_enter(tmp_path):
    with Simulator(["+1.150E+02", "149.9"]) as volts, Simulator(["2.05E-1\r", (0.3, "0.268")]) as amperes:
        path = written(
            tmp_path,
            meter("voltmeter", volts.address, "MEAS:VOLT:AC?"),
            meter("ammeter", amperes.address, "MEAS:CURR:AC?"),
        )
        bench = Bench(path, cwd=tmp_path)
        bench.wait()
        bench.say("", "")
        bench.end()
        assert read(path)["run_up"][0]["voltage_V"] == [115, 149.9]
        assert read(path)["run_up"][0]["current_A"] == [0.205, 0.268]
        assert amperes.queries == ["MEAS:CURR:AC?"] * 2
        assert amperes.connections == 1
        assert "measured ammeter 0.268" in journal(path)
        assert read(path)["instruments"]["ammeter"]["query"] == "MEAS:CURR:AC?"


@pytest.mark.parametrize(
    "answer, says",
    [
        ("9.9E37", "overload"),
        ("9.91E+37", "not a number"),
        ("ERR! ##", "is no number"),
        ("", "empty answer"),
        ("0.2 A", "is no number"),
        ("0,205", "a decimal comma or a list"),
    ],
)
def test_an_answer_that_is_no_reading_is_told_and_typed_instead(tmp_path, answer, says):
    with Simulator([answer]) as amperes:
        path = written(tmp_path, meter("ammeter", amperes.address, "READ?"))
        bench = Bench(path, cwd=tmp_path)
        bench.wait()
        shown = " ".join(bench.say("read 115").split())
        assert says in shown and "Type the reading instead" in shown
        bench.say("115 .205")
        bench.end()
        assert read(path)["run_up"][0]["current_A"] == [0.205]


def test_nothing_is_connected_to_before_the_person_has_seen_address_and_query_and_agreed(tmp_path):
    with Simulator(["0.205"]) as amperes:
        path = written(tmp_path, meter("ammeter", amperes.address, "READ?"))
        for answer in ("", "no", "quit"):
            done = piped([answer, "", "read 115", "quit"], path, cwd=tmp_path)
            shown = " ".join(done.stdout.split())
            assert f"ammeter {amperes.address} asked READ?" in shown and "type `connect`" in shown
        assert amperes.connections == 0 and amperes.queries == []
        piped(["connect", "", "read 115", "quit"], path, cwd=tmp_path)
        assert amperes.queries == ["READ?"]
        assert f"stated instruments are asked: ammeter {amperes.address} asked READ?" in journal(path)


@pytest.mark.parametrize("key", ["query", "address"])
@pytest.mark.parametrize("hidden", ["\\n", "\\r", "\\u001b", "\\u202e", "\\u0000", "\\t"])
def test_a_query_with_what_is_not_seen_is_refused(rewound, tmp_path, key, hidden):
    text = meter("ammeter", "tcp://127.0.0.1:1", "READ?")
    old = "READ?" if key == "query" else "127.0.0.1:1"
    done = rewound("judge", written(tmp_path, text.replace(old, old + hidden + "x")))
    assert done.returncode == 65 and f"instruments.ammeter.{key}" in done.stderr and "ASCII" in done.stderr


def test_a_line_dropped_between_two_readings_is_opened_again(tmp_path):
    with Simulator(["0.205", DROP, "0.268"]) as amperes:
        path = written(tmp_path, meter("ammeter", amperes.address, "READ?"))
        bench = Bench(path, cwd=tmp_path)
        bench.wait()
        bench.say("read 115", "read 150")
        bench.end()
        assert read(path)["run_up"][0]["current_A"] == [0.205, 0.268]
        assert amperes.connections == 2


def test_a_line_that_is_always_dropped_and_one_that_is_silent_are_told(tmp_path):
    with Simulator([DROP]) as dropping:
        path = written(tmp_path, meter("ammeter", dropping.address, "READ?"))
        done = piped(["connect", "", "read 115", "115 .205", "quit"], path, cwd=tmp_path)
        assert "connection was dropped" in done.stdout
        assert read(path)["run_up"][0]["current_A"] == [0.205]
    with Simulator([SILENCE]) as silent:
        path = written(tmp_path, meter("ammeter", silent.address, "READ?", timeout_s=0.3))
        done = piped(["connect", "", "read 115", "quit"], path, cwd=tmp_path)
        assert "no answer in time" in " ".join(done.stdout.split())
        assert silent.queries == ["READ?"]


def test_a_late_answer_is_not_taken_for_the_next_one(tmp_path):
    with Simulator([(1.5, "0.999"), "0.268"]) as amperes:
        path = written(tmp_path, meter("ammeter", amperes.address, "READ?", timeout_s=0.4))
        done = piped(["connect", "", "read 115", "read 150", "quit"], path, cwd=tmp_path)
        assert "no answer in time" in " ".join(done.stdout.split())
        assert read(path)["run_up"][0]["current_A"] == [0.268]


def test_nobody_at_the_address_is_told(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as closed:
        port = closed.getsockname()[1]
    path = written(tmp_path, meter("ammeter", f"tcp://127.0.0.1:{port}", "READ?"))
    done = piped(["connect", "", "read 115", "115 .205", "quit"], path, cwd=tmp_path)
    assert f"tcp://127.0.0.1:{port}" in done.stdout
    assert read(path)["run_up"][0]["current_A"] == [0.205]


@pytest.mark.parametrize(
    "old, new, says",
    [
        ('address = "tcp://127.0.0.1:1"\n', "", "address beside query"),
        ('query = "READ?"\n', "", "query beside address"),
        ("tcp://127.0.0.1:1", "telnet://127.0.0.1", "tcp://host:port or serial:"),
        ("timeout_s = 20", "timeout_s = 0", "above 0"),
    ],
)
def test_a_link_that_is_not_whole_is_refused_with_its_field(rewound, tmp_path, old, new, says):
    text = meter("ammeter", "tcp://127.0.0.1:1", "READ?")
    assert old in text
    path = written(tmp_path, text.replace(old, new))
    done = rewound("judge", path)
    assert done.returncode == 65
    assert "instruments.ammeter" in done.stderr and says in done.stderr


def test_the_ten_minute_insulation_run_samples_itself(tmp_path):
    megohms = [180, 240, 310, 420, 480, 520, 560, 620, 700]
    with Simulator([f"{value}E6" for value in megohms]) as tester:
        path = written(tmp_path, meter("insulation_tester", tester.address, "MEAS:RES?"), cold=REHEARSED)
        bench = Bench(path, "--rehearse", "600", cwd=tmp_path)
        bench.wait()
        bench.say("go insulation", "", "", "")
        bench.start_run("run 10")
        bench.child.expect(r"in \d\d:\d\d")
        bench.wait()
        bench.end()
        assert "REHEARSAL" in bench.seen
        test = read(path)["insulation"][0]
        assert test["time_s"] == [15, 30, 60, 120, 180, 240, 300, 420, 600]
        assert test["resistance_Mohm"] == megohms


def test_a_run_stopped_by_a_key_keeps_what_it_has(tmp_path):
    with Simulator(["180E6", "240E6", "310E6"]) as tester:
        path = written(tmp_path, meter("insulation_tester", tester.address, "MEAS:RES?"), cold=REHEARSED)
        bench = Bench(path, "--rehearse", "20", cwd=tmp_path)
        bench.wait()
        bench.say("go insulation", "", "", "")
        bench.start_run("run 10")
        bench.child.expect("15 s 180 Mohm")
        bench.child.send("\r")
        bench.child.expect("stopped by hand")
        bench.wait()
        bench.end()
        held = read(path)["insulation"][0]["resistance_Mohm"]
        assert held == [180, 240, 310][: len(held)]


def test_the_heat_run_samples_itself_and_each_sample_is_on_disk(tmp_path):
    ohms = [19.9, 20.8, 21.5, 22.0]
    with Simulator([str(value) for value in ohms]) as ohmmeter:
        path = written(tmp_path, meter("ohmmeter", ohmmeter.address, "MEAS:RES?"), cold=COLD + REHEARSED)
        done = piped(
            ["connect", "", "go heat run", "", "18.4", "21", "22", "230", "run 10 40", "", "done", "quit"],
            path,
            "--rehearse",
            "6000",
            cwd=tmp_path,
        )
        run = read(path)["heat_run"]
        assert run["time_s"] == [600, 1200, 1800, 2400], done.stdout
        assert run["resistance_ohm"] == ohms
        assert (run["cold_ohm"], run["cold_C"], run["ambient_C"], run["voltage_V"]) == (18.4, 21, 22, 230)
        assert journal(path).count("kept heat run") == 4


def test_a_sample_that_an_instrument_misses_is_typed(tmp_path):
    with Simulator(["9.9E37", "20.8"]) as ohmmeter:
        path = written(tmp_path, meter("ohmmeter", ohmmeter.address, "MEAS:RES?"), cold=COLD + REHEARSED)
        piped(
            ["connect", "", "go heat run", "", "18.4", "21", "22", "230", "run 10 20", "", "19.9", "done", "quit"],
            path,
            "--rehearse",
            "6000",
            cwd=tmp_path,
        )
        assert read(path)["heat_run"]["resistance_ohm"] == [19.9, 20.8]


def test_an_instrument_behind_a_serial_port_is_read_with_the_baud_of_its_address(tmp_path):
    with SerialSimulator(["+2.05E-01\r", (0.3, "0.268"), "9.9E37"]) as amperes:
        path = written(tmp_path, meter("ammeter", amperes.address, "MEAS:CURR:AC?"))
        bench = Bench(path, cwd=tmp_path)
        bench.wait()
        bench.say("read 115", "read 150")
        assert "overload" in bench.say("read 184")
        assert amperes.baud() == termios.B19200
        bench.end()
        assert amperes.queries == ["MEAS:CURR:AC?"] * 3
    assert read(path)["run_up"][0]["current_A"] == [0.205, 0.268]


def test_a_silent_serial_port_and_one_that_is_not_there_are_told(tmp_path):
    with SerialSimulator([SILENCE, (1.5, "0.999"), "0.268"]) as amperes:
        path = written(tmp_path, meter("ammeter", amperes.address, "READ?", timeout_s=0.4))
        done = piped(["connect", "", "read 115", "read 115", "read 150", "quit"], path, cwd=tmp_path)
        assert " ".join(done.stdout.split()).count("no answer in time") >= 1
        assert 0.999 not in [value for run in read(path)["run_up"] for value in run["current_A"]]
    path = written(tmp_path, meter("ammeter", "serial:/dev/rewound-no-such-port", "READ?"))
    done = piped(["connect", "", "read 115", "115 .205", "quit"], path, cwd=tmp_path)
    assert "serial:/dev/rewound-no-such-port: No such file" in " ".join(done.stdout.split())
    assert read(path)["run_up"][0]["current_A"] == [0.205]


SLOW_LOOK_UP = """#include <netdb.h>
#include <unistd.h>
int getaddrinfo(const char* node, const char* service, const struct addrinfo* hints, struct addrinfo** found) {
  (void)node; (void)service; (void)hints; (void)found;
  sleep(30);
  return EAI_AGAIN;
}
"""


@pytest.mark.skipif("REWOUND_SANITIZED" in os.environ, reason="a sanitizer wants to be the first library")
def test_a_name_look_up_that_hangs_is_given_up_when_the_time_is_up(tmp_path):
    compiler = shutil.which(os.environ.get("CC", "cc"))
    assert compiler is not None  # the one that built the tool
    (tmp_path / "slow.c").write_text(SLOW_LOOK_UP, encoding="utf-8")
    subprocess.run([compiler, "-shared", "-fPIC", "-o", "slow.so", "slow.c"], cwd=tmp_path, check=True)
    path = written(tmp_path, meter("ammeter", "tcp://meter.example.invalid:5025", "READ?", timeout_s=0.5))
    began = time.monotonic()
    done = piped(
        ["connect", "", "read 115", "115 .205", "quit"],
        path,
        cwd=tmp_path,
        env={**os.environ, "LD_PRELOAD": str(tmp_path / "slow.so")},
    )
    assert time.monotonic() - began < 15
    assert "no answer in time" in " ".join(done.stdout.split())
    assert read(path)["run_up"][0]["current_A"] == [0.205]


def test_a_tester_that_answers_with_an_overload_is_typed_as_over_range(tmp_path):
    with Simulator(["900E6", "9.9E37"]) as tester:
        path = written(tmp_path, meter("insulation_tester", tester.address, "MEAS:RES?"), cold=REHEARSED)
        bench = Bench(path, "--rehearse", "600", cwd=tmp_path)
        bench.wait()
        bench.say("go insulation", "", "", "")
        bench.start_run()
        assert "overload" in bench.wait()
        bench.say("OL", "2000", ">2000")
        bench.end()
    test = read(path)["insulation"][0]
    assert (test["time_s"], test["resistance_Mohm"]) == ([15, 30, 60], [900, ">2000", ">2000"])


def test_dropping_watts_of_a_speed_without_readings_is_refused(tmp_path):
    path = written(tmp_path)
    done = piped(["", "drop watts", "quit"], path, cwd=tmp_path)
    assert "this speed has no reading yet" in " ".join(done.stdout.split())
