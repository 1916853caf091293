"""Nothing typed at the bench is lost: kills, full disks, closed terminals, two at once."""

import json
import os
import re
import resource
import signal
import subprocess
import time

import pytest

from bench_driver import Bench, COLD, FIRST, HIGH, RECORD, journal, piped, read, written


@pytest.fixture
def record(tmp_path):
    return written(tmp_path, RECORD + COLD)


def opened(path):
    bench = Bench(path, cwd=path.parent)
    bench.wait()
    return bench


def killed(bench, how=signal.SIGKILL):
    bench.child.kill(how)
    bench.child.wait()
    bench.child.close(force=True)


def readable(rewound, path):
    assert rewound("judge", path).returncode in (0, 10, 20)


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGHUP, signal.SIGTERM])
def test_a_kill_between_readings_loses_nothing_and_is_resumed(rewound, record, how):
    taken = []
    for volts, amperes in HIGH:
        bench = opened(record)
        bench.say(f"{volts} {amperes}")
        taken.append(float(amperes))
        killed(bench, how)
        readable(rewound, record)
        assert read(record)["run_up"][0]["current_A"] == taken


def test_a_closed_terminal_loses_nothing(record):
    bench = opened(record)
    bench.say("115 .205", "150 .268")
    bench.child.close()
    assert read(record)["run_up"][0]["current_A"] == [0.205, 0.268]


@pytest.mark.parametrize("delay", [0.0, 0.01, 0.03, 0.06, 0.1, 0.2])
def test_a_kill_while_a_reading_is_taken_leaves_a_record_that_holds_it_or_says_so(rewound, record, delay):
    bench = opened(record)
    bench.say("115 .205")
    bench.child.send("150 .268\r")
    time.sleep(delay)
    killed(bench)
    readable(rewound, record)
    currents = read(record)["run_up"][0]["current_A"]
    assert currents in ([0.205], [0.205, 0.268])
    typed = "typed 150 .268" in journal(record)
    again = Bench(record, cwd=record.parent)
    shown = again.wait()
    if typed and "kept high 150 V 0.268 A" not in journal(record):
        assert '"150 .268" was being taken' in " ".join(shown.split())
    assert read(record)["run_up"][0]["current_A"] == currents
    again.end()


def test_a_kill_among_the_first_questions_keeps_the_answers(tmp_path):
    path = tmp_path / "new.toml"
    answers = ["GH-31, palm house", "240 50 0.42", "high low", "fact poles 4", "2", "1"]
    for count in range(1, len(answers)):
        bench = Bench(path, cwd=tmp_path)
        bench.wait()
        bench.say(answers[count - 1])
        killed(bench)
    assert not path.exists()
    bench = Bench(path, cwd=tmp_path)
    shown = bench.wait()
    shown = " ".join(shown.split())
    assert "fan: GH-31, palm house" in shown and "240 50 0.42" in shown and "made: tapped_winding" in shown
    assert "how it starts and runs" in shown.split("tapped_winding")[1]
    assert "poles: 4" in bench.say("list")
    killed(bench)


def test_a_second_bench_on_one_record_is_refused_in_one_line(record):
    bench = opened(record)
    done = piped(["quit"], record, cwd=record.parent)
    assert done.returncode == 65
    assert done.stderr.count("\n") == 1 and "another bench" in done.stderr
    assert done.stdout == ""
    bench.say("115 .205")
    bench.end()
    assert read(record)["run_up"][0]["current_A"] == [0.205]
    assert piped(["quit"], record, cwd=record.parent).returncode == 20


def small_files(limit):
    """For a process: files end at so many bytes, as on a full disk."""

    def prepare():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    return prepare


def test_a_disk_that_takes_no_more_is_told_and_the_record_stays_as_it_was(rewound, record):
    assert piped(["", "115 .205", "quit"], record, cwd=record.parent).returncode == 20
    before = record.read_text(encoding="utf-8")
    limit = len(before.encode()) + 4
    done = piped(["", "150 .268", "drop", "quit"], record, cwd=record.parent, preexec_fn=small_files(limit))
    assert "NOT on disk" in done.stdout
    assert "The last change is NOT on disk" in " ".join(done.stdout.split())
    assert record.read_text(encoding="utf-8") == before
    readable(rewound, record)
    assert [p.name for p in record.parent.iterdir() if ".part-" in p.name] == []
    piped(["", "150 .268", "quit"], record, cwd=record.parent)
    assert read(record)["run_up"][0]["current_A"] == [0.205, 0.268]


def test_a_full_file_system_is_told_and_resumed_once_there_is_room(rewound, tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip("no right to mount a small file system")
    try:
        path = disk / "job.toml"
        path.write_text(RECORD + COLD, encoding="utf-8")
        bench = opened(path)
        bench.say("115 .205")
        with open(disk / "filler", "wb", buffering=0) as filler:
            with pytest.raises(OSError):
                while filler.write(b"x" * 512):
                    pass
        bench.child.send("150 .268\r")
        bench.child.expect("make room and press Enter")
        bench.child.expect("> ")
        readable(rewound, path)
        assert read(path)["run_up"][0]["current_A"] == [0.205]
        (disk / "filler").unlink()
        bench.child.send("\r")
        bench.wait()
        bench.end()
        assert read(path)["run_up"][0]["current_A"] == [0.205, 0.268]
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=False)


def test_every_line_typed_and_every_reading_kept_stands_in_the_journal_with_its_time(record):
    bench = opened(record)
    bench.say("115 .205", "garbage", "150 268mA")
    bench.end()
    lines = journal(record).splitlines()
    assert all(re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ [a-z]+ ", line) for line in lines)
    text = "\n".join(lines)
    for part in (
        "typed 115 .205",
        "kept high 115 V 0.205 A",
        "typed garbage",
        "refused garbage",
        "kept high 150 V 0.268 A",
    ):
        assert part in text


def test_the_end_of_input_keeps_what_was_taken_and_tells_the_decision(rewound, record):
    done = piped(["", "115 .205"], record, cwd=record.parent)
    decision = json.loads(rewound("judge", record, "--format", "json").stdout)["decision"]
    assert done.stdout.strip().splitlines()[-1].startswith(f"Decision: {decision}")
    assert read(record)["run_up"][0]["current_A"] == [0.205]


def refused_elsewhere(path):
    done = piped(["quit"], path, cwd=path.parent)
    return (
        done.returncode == 65 and done.stderr.count("\n") == 1 and "another bench" in done.stderr and done.stdout == ""
    )


def test_a_journal_removed_by_hand_lets_no_second_bench_in_and_is_written_again(record):
    bench = opened(record)
    bench.say("115 .205")
    before = journal(record)
    (record.parent / "job.toml.journal").unlink()
    assert refused_elsewhere(record)
    bench.say("150 .268")
    assert refused_elsewhere(record)
    bench.end()
    assert read(record)["run_up"][0]["current_A"] == [0.205, 0.268]
    assert journal(record).startswith(before) and "kept high 150 V 0.268 A" in journal(record)
    assert piped(["quit"], record, cwd=record.parent).returncode == 20


def test_where_journal_and_record_are_removed_and_a_second_bench_begins_the_first_writes_no_more(record):
    first = opened(record)
    first.say("115 .205")
    for name in ("job.toml.journal", "job.toml"):
        (record.parent / name).unlink()
    second = Bench(record, cwd=record.parent)
    second.wait()
    second.say("GH-32")
    first.child.send("150 .268\r")
    first.child.expect("opened meanwhile")
    first.child.expect("was not kept")
    first.child.wait()
    assert first.child.exitstatus == 65
    assert not record.exists() and "150 .268" not in journal(record)
    second.say(*FIRST[1:])
    second.end()
    assert read(record)["machine"]["id"] == "GH-32"


def test_who_quits_on_a_full_disk_is_told_that_the_last_change_is_not_there(record):
    piped(["", "115 .205", "quit"], record, cwd=record.parent)
    limit = len(record.read_bytes()) + 4
    done = piped(["", "150 .268", "quit", "quit", "quit"], record, cwd=record.parent, preexec_fn=small_files(limit))
    assert done.stdout.count("NOT on disk:") == 1
    assert "The last change is NOT on disk" in " ".join(done.stdout.split())
