"""No reading is put in another's place, no line swallowed, no hand edit overwritten at the bench."""

import os
import signal
import socket
import subprocess
import threading
import time

import pytest

from bench_driver import Bench, COLD, FIRST, HIGH, RECORD, journal, piped, plain, read, written
from scpi_simulator import Simulator


@pytest.fixture
def record(tmp_path):
    return written(tmp_path, RECORD + COLD)


def opened(path, *arguments, **options):
    bench = Bench(path, *arguments, cwd=path.parent, **options)
    bench.wait()
    return bench


def asked_again(path):
    """A run-up whose last reading looks misread and is asked for again."""
    bench = opened(path)
    bench.say(*(f"{volts} {amperes}" for volts, amperes in HIGH[:4]))
    assert "0.42 would fit" in bench.say("230 .24")
    return bench


def current(path):
    run = read(path)["run_up"][0]
    return list(zip(run["voltage_V"], run["current_A"]))


def stopped(bench, line):
    """A reading after which the person is stopped: up to the key that is then asked for."""
    bench.child.send(line + "\r")
    bench.child.expect("voltage is down > ")
    shown = plain(bench.child.before)
    bench.child.send("\r")
    bench.wait()
    return shown


def test_a_reading_at_another_voltage_takes_no_place_of_the_one_asked_for_again(record):
    bench = asked_again(record)
    bench.say("240 .44")
    bench.end()
    assert current(record)[4:] == [(230, 0.24), (240, 0.44)]


def test_a_reading_at_the_voltage_asked_for_again_replaces_and_says_so(record):
    bench = asked_again(record)
    assert "replaced high 230 V 0.24 A by high 231 V 0.42 A" in bench.say("231 .42")
    bench.end()
    assert current(record)[4:] == [(231, 0.42)]


def test_a_refused_correction_leaves_the_next_reading_its_own_place(record):
    bench = opened(record)
    bench.say(*(f"{volts} {amperes}" for volts, amperes in HIGH[:4]))
    assert "! " in bench.say("correct 2 oops")
    bench.say("230 .42")
    bench.end()
    assert current(record) == [(float(v), float(a)) for v, a in HIGH]


def test_an_undo_that_takes_the_insulation_away_ends_the_energised_step(tmp_path):
    path = written(tmp_path, RECORD)
    bench = opened(path)
    bench.say("go insulation", "15 180", "30 240", "60 310", "done")
    shown = bench.say("go high")
    assert "-- run-up high" in shown
    shown = bench.say("undo")
    assert "undone: winding to frame 60 s" in shown
    assert "Not energised" in shown and "-- run-up" not in shown
    bench.end()
    assert read(path)["insulation"][0]["resistance_Mohm"] == [180, 240]


def counting(path):
    bench = opened(path)
    bench.say("go insulation", "another circuit", "new circuit", "run")
    bench.child.send("\r")
    bench.child.expect("Enter stops")
    return bench


def test_a_number_typed_while_the_clock_runs_is_announced_and_in_the_journal(record):
    bench = counting(record)
    bench.child.send("180\r")
    bench.child.expect('"180" was not taken')
    bench.child.send("\r")
    bench.child.expect("stopped by hand")
    bench.wait()
    bench.end()
    assert "refused 180" in journal(record)


def test_words_typed_while_the_clock_runs_stop_it_and_are_done(record):
    bench = counting(record)
    bench.child.send("quit\r")
    bench.child.expect("Decision: ")
    assert "typed quit" in journal(record)


def with_ammeter(address):
    section = (
        f'[instruments.ammeter]\nreading_percent = 0.5\ndigits = 2\nresolution = 0.001\naddress = "{address}"\nquery ='
        ' "MEAS?"\n\n'
    )
    return RECORD.replace("[visit]", section + "[visit]") + COLD


def test_an_interrupt_while_an_instrument_is_read_costs_no_line(record):
    with Simulator([(1.5, "0.205")]) as meter:
        record.write_text(with_ammeter(meter.address), encoding="utf-8")
        bench = opened(record)
        bench.child.send("read 115\r")
        time.sleep(0.5)
        bench.child.sendintr()
        bench.wait()
        bench.say("150 .268")
        bench.end()
    assert current(record) == [(115, 0.205), (150, 0.268)]


def chatty(listener):
    """An instrument that says something more after its first answer."""
    connection, _ = listener.accept()
    with connection, connection.makefile("r") as lines:
        lines.readline()
        connection.sendall(b"0.205\n")
        time.sleep(0.2)
        connection.sendall(b"9.9\n")
        lines.readline()
        connection.sendall(b"0.268\n")
        lines.readline()


def test_what_an_instrument_sends_unasked_is_no_answer(record):
    with socket.create_server(("127.0.0.1", 0)) as listener:
        threading.Thread(target=chatty, args=(listener,), daemon=True).start()
        record.write_text(with_ammeter(f"tcp://127.0.0.1:{listener.getsockname()[1]}"), encoding="utf-8")
        bench = opened(record)
        bench.say("read 115")
        time.sleep(0.6)
        bench.say("read 150")
        bench.end()
    assert current(record) == [(115, 0.205), (150, 0.268)]


def test_a_piped_line_where_enter_is_asked_for_ends_with_one_line_and_is_in_the_journal(record):
    done = piped(["115 .205", "150 .268"], record, cwd=record.parent)
    assert done.returncode == 65
    assert done.stderr.count("\n") == 1 and "115 .205" in done.stderr and "standard input:1" in done.stderr
    assert "refused 115 .205" in journal(record)
    assert "run_up = []" in record.read_text(encoding="utf-8")


def test_bytes_that_are_no_text_are_refused_before_the_first_saving_and_after(tmp_path):
    path = tmp_path / "new.toml"
    lines = [b"GH\xff1", b"GH-1", *(line.encode() for line in FIRST[1:]), b"quit"]
    done = subprocess.run(
        [os.environ["REWOUND_BIN"], "bench", str(path)],
        input=b"\n".join(lines),
        capture_output=True,
        timeout=120,
        cwd=tmp_path,
        check=False,
    )
    assert b"! id: read bytes that are no text" in done.stdout, done.stdout
    assert read(path)["machine"]["id"] == "GH-1"


def test_a_new_record_takes_nothing_from_the_journal_of_the_one_before(tmp_path):
    path = tmp_path / "fan.toml"
    answers = ["GH-31", *FIRST[1:], "quit"]
    piped(answers, path, cwd=tmp_path)
    old = journal(path)
    path.unlink()
    done = piped(["GH-32", *FIRST[1:], "quit"], path, cwd=tmp_path)
    assert "taken up" not in done.stdout and "fan.toml.journal.before" in " ".join(done.stdout.split()).replace(" ", "")
    assert read(path)["machine"]["id"] == "GH-32"
    assert (tmp_path / "fan.toml.journal.before").read_text(encoding="utf-8") == old


def test_comments_added_between_sessions_are_kept_under_numbered_names(record):
    for count, name in ((1, "job.toml.before-bench"), (2, "job.toml.before-bench.2"), (3, "job.toml.before-bench.3")):
        text = f"# comment {count}\n" + record.read_text(encoding="utf-8")
        record.write_text(text, encoding="utf-8")
        bench = opened(record)
        bench.say(*[f"{HIGH[count][0]} {HIGH[count][1]}"])
        bench.end()
        assert (record.parent / name).read_text(encoding="utf-8") == text
    opened(record).end()
    assert len(list(record.parent.glob("job.toml.before-bench*"))) == 3


def test_an_edit_made_while_the_bench_is_open_is_kept_and_told(record):
    bench = opened(record)
    bench.say("115 .205")
    edited = "# from an editor\n" + record.read_text(encoding="utf-8")
    record.write_text(edited, encoding="utf-8")
    shown = " ".join(bench.say("150 .268").split())
    assert "changed by another hand" in shown
    assert "changed by another hand" not in bench.say("184 .331")
    bench.end()
    assert (record.parent / "job.toml.edited-meanwhile").read_text(encoding="utf-8") == edited
    assert len(current(record)) == 3


def test_a_gross_draw_at_the_rated_voltage_stops_the_run_up(record):
    assert "far too much" in stopped(opened(record), "230 5")


def test_a_rotor_held_at_rest_may_draw_more(record):
    bench = opened(record)
    assert "STOP" not in bench.say("115 .9 stalled")
    bench.end()


def test_a_reading_set_aside_is_said_to_be_so(record):
    bench = asked_again(record)
    assert "set aside: it looks misread" in plain(bench.seen)
    assert "nothing near 230 V" not in plain(bench.seen).splitlines()[-3]
    bench.end()


def test_answers_of_a_step_that_a_kill_cut_short_are_shown_at_the_next_session(record):
    bench = opened(record)
    bench.say("go insulation", "repeat", "dried out", "1000")
    bench.child.kill(signal.SIGKILL)
    bench.child.wait()
    bench.child.close(force=True)
    again = Bench(record, cwd=record.parent)
    shown = " ".join(again.wait().split())
    assert "test voltage, V dc = 1000" in shown
    again.end()


def test_an_empty_name_is_refused(tmp_path):
    done = piped([], "", cwd=tmp_path)
    assert done.returncode == 65 and done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_control_characters_of_a_record_or_a_line_are_not_echoed(record):
    text = RECORD.replace('"high", "low"', '"high\\u001b[31m", "l\u00f6w\u009b"')
    record.write_text(text + COLD, encoding="utf-8")
    lines = ["", "115 \x1b[2J", "115 .205", "curve", "list", "quit"]
    for locale in ("C.UTF-8", "C"):
        done = piped(lines, record, cwd=record.parent, env={**os.environ, "LC_ALL": locale})
        assert "run-up high?[31m" in done.stdout
        assert "\x1b" not in done.stdout and "\x9b" not in done.stdout
        assert locale != "C" or done.stdout.isascii()
