"""The batch command: a folder of records or one long table, in order, restartable, in bounded memory."""

import csv
import io
import json
import os
import shutil
import signal
import subprocess
import time

import pytest
from conftest import GOOD, ROOT

COLUMNS = [
    "machine",
    "file",
    "decision",
    "reasons",
    "next",
    "levels",
    "suspect_readings",
    "likeliest_cause",
    "cause_probability",
    "abnormality",
    "reference_machines",
    "error",
]
HEADER = "machine,model,rated_voltage_V,rated_frequency_Hz,rated_current_A,date,state,speed,voltage_V,current_A"
RUN = [(120, 0.214), (150.2, 0.268), (180.1, 0.325), (209.8, 0.381), (230.1, 0.421), (240.2, 0.442)]


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def machine_rows(name, factor=1.0, model="circulator-40"):
    return [
        f"{name},{model},230,50,0.42,2026-05-14,after_repair,{speed},{volts},{amps * share * factor:.3f}"
        for speed, share in (("high", 1.0), ("medium", 0.87), ("low", 0.73))
        for volts, amps in RUN
    ]


def write_table(path, machines, header=HEADER):
    with open(path, "w", encoding="utf-8") as out:
        out.write(header + "\n")
        for rows in machines:
            out.write("\n".join(rows) + "\n")
    return path


@pytest.fixture
def draw_policy(tmp_path):
    path = tmp_path / "policy.toml"
    path.write_text('format = "rewound-policy/1"\nneeded = ["draw", "steps"]\n', encoding="utf-8")
    return path


@pytest.fixture
def shop(tmp_path, altered):
    """A folder: one released, one held, one undecided, one that cannot be read."""
    folder = tmp_path / "shop"
    folder.mkdir()
    altered(('id = "GH-07"', 'id = "B-1"'), name="shop/b.toml")
    altered(('id = "GH-07"', 'id = "A-1"'), ("continuity_ohm = 0.08", "continuity_ohm = 8"), name="shop/a.toml")
    altered(
        ('id = "GH-07"', 'id = "D-1"'),
        ("attempts = 10", "attempts = 3"),
        ("successes = 10", "successes = 3"),
        name="shop/d.toml",
    )
    altered(("phases = 1", "phases = 7"), name="shop/c.toml")
    (folder / "notes.txt").write_text("not a record", encoding="utf-8")
    return folder


def start(tmp_path, *arguments):
    return subprocess.Popen(
        [os.environ["REWOUND_BIN"], "batch", *map(str, arguments)],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_a_folder_is_judged_in_the_order_of_its_names_and_a_broken_record_is_listed(rewound, shop):
    done = rewound("batch", shop)
    rows = rows_of(done.stdout)
    assert list(rows[0]) == COLUMNS
    assert [row["file"] for row in rows] == ["a.toml", "b.toml", "c.toml", "d.toml"]
    assert [row["decision"] for row in rows] == ["hold", "release", "", "undecided"]
    assert [row["machine"] for row in rows] == ["A-1", "B-1", "", "D-1"]
    assert "phases" in rows[2]["error"] and "c.toml:" in rows[2]["error"]
    assert not any(row["error"] for row in rows if row["decision"])
    assert done.returncode == 65
    assert "\r" not in done.stderr  # no progress where standard error is no terminal


def test_the_exit_code_tells_the_worst(rewound, shop):
    (shop / "c.toml").unlink()
    assert rewound("batch", shop).returncode == 10
    (shop / "a.toml").unlink()
    assert rewound("batch", shop).returncode == 20
    (shop / "d.toml").unlink()
    assert rewound("batch", shop).returncode == 0


def test_a_json_line_is_what_judge_says_of_the_record_alone(rewound, shop):
    lines = [json.loads(line) for line in rewound("batch", shop, "--format", "json").stdout.splitlines()]
    assert lines[2]["decision"] is None and "phases" in lines[2]["error"]
    for line in (lines[0], lines[1], lines[3]):
        name = line.pop("file")
        assert line == json.loads(rewound("judge", shop / name, "--format", "json").stdout)


def test_a_table_is_judged_as_its_records_are_alone(rewound, tmp_path, draw_policy):
    table = write_table(
        tmp_path / "season.csv", [machine_rows("M-1"), machine_rows("M-2", 1.5), machine_rows("M-3", 1.02)]
    )
    done = rewound("batch", table, "--policy", draw_policy, "--format", "json")
    assert done.returncode == 10
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [line["machine"] for line in lines] == ["M-1", "M-2", "M-3"]
    assert [line["decision"] for line in lines] == ["release", "hold", "release"]
    for line in lines:
        factor = {"M-1": 1.0, "M-2": 1.5, "M-3": 1.02}[line["machine"]]
        text = (
            'format = "rewound-record/1"\n[machine]\nid = "%s"\nmodel = "circulator-40"\nphases = 1\nrated_voltage_V ='
            ' 230\nrated_frequency_Hz = 50\nrated_current_A = 0.42\nspeeds = ["high", "medium", "low"]\nspeed_control ='
            ' "unknown"\nrunning_circuit = "unknown"\n[visit]\ndate = 2026-05-14\nstate = "after_repair"\n'
            % line["machine"]
        )
        for speed, share in (("high", 1.0), ("medium", 0.87), ("low", 0.73)):
            volts, amps = zip(*((v, round(a * share * factor, 3)) for v, a in RUN))
            printed = ", ".join(f"{a * share * factor:.3f}" for _, a in RUN)
            text += f'[[run_up]]\nspeed = "{speed}"\nvoltage_V = {list(volts)}\ncurrent_A = [{printed}]\n'
        (tmp_path / "one.toml").write_text(text, encoding="utf-8")
        line.pop("file")
        assert line == json.loads(rewound("judge", "one.toml", "--policy", draw_policy, "--format", "json").stdout)


def test_the_reference_of_each_machines_model_is_used(rewound, tmp_path, draw_policy):
    for model in ("fan-a", "fan-b"):
        made = tmp_path / model
        made.mkdir()
        for i, factor in enumerate((0.99, 1.0, 1.01)):
            share = factor * (1.0 if model == "fan-a" else 2.0)
            write_table(tmp_path / "one.csv", [machine_rows(f"{model}-{i}", share, model)])
            text = (
                (GOOD / "gh07_after_repair.toml").read_text(encoding="utf-8").replace('"circulator-40"', f'"{model}"')
            )
            text = text.replace('"GH-07"', f'"{model}-{i}"')
            for values in (
                "0.214, 0.268, 0.325, 0.381, 0.421, 0.442",
                "0.188, 0.235, 0.284, 0.332, 0.366, 0.383",
                "0.159, 0.198, 0.238, 0.278, 0.305, 0.319",
            ):
                text = text.replace(values, ", ".join(f"{float(v) * share:.3f}" for v in values.split(", ")))
            (made / f"{i}.toml").write_text(text, encoding="utf-8")
        assert rewound("learn", *sorted(made.glob("*.toml")), "--out", f"{model}.ref").returncode == 0
    table = write_table(
        tmp_path / "season.csv",
        [machine_rows("A", 1.0, "fan-a"), machine_rows("B", 2.0, "fan-b"), machine_rows("C", 1.0, "fan-c")],
    )
    done = rewound("batch", table, "--reference", "fan-b.ref", "--reference", "fan-a.ref", "--policy", draw_policy)
    rows = rows_of(done.stdout)
    assert [row["reference_machines"] for row in rows] == ["3", "3", "0"]
    assert all("high" in row["levels"] and "medium" in row["levels"] for row in rows[:2])


def test_what_was_worked_out_for_one_machine_serves_the_next_to_the_last_digit(rewound, tmp_path, altered):
    """Beside a reference, a machine judged after others of its model comes out as one judged by itself."""
    assert rewound("learn", GOOD / "gh07_after_repair.toml", "--out", "model.ref").returncode == 0
    folder = tmp_path / "shop"
    folder.mkdir()
    for i, (volts, ohms) in enumerate((("120.0", "18.40"), ("121.3", "18.61"), ("118.2", "18.10"), ("150.0", "18.40"))):
        altered(
            ('id = "GH-07"', f'id = "M-{i}"'),
            ("[120.0, 150.2", f"[{volts}, 150.2"),
            ("resistance_ohm = 18.40", f"resistance_ohm = {ohms}"),
            ("expected_ohm = 18.2\n", ""),
            name=f"shop/{i}.toml",
        )
    lines = [
        json.loads(line)
        for line in rewound("batch", folder, "--reference", "model.ref", "--format", "json").stdout.splitlines()
    ]
    assert len(lines) == 4 and all(line["causes"] and line["abnormality"] is not None for line in lines)
    for line in lines:
        name = line.pop("file")
        assert line == json.loads(
            rewound("judge", folder / name, "--reference", "model.ref", "--format", "json").stdout
        )


def test_rows_that_are_wrong_stop_their_machine_alone(rewound, tmp_path, draw_policy):
    broken = machine_rows("M-2")
    broken[3] = broken[3].replace("0.381", "much")
    short = machine_rows("M-3")
    short[5] = short[5] + ",7"
    table = write_table(
        tmp_path / "season.csv", [machine_rows("M-1"), broken, short, machine_rows("M-4"), machine_rows("M-1")]
    )
    done = rewound("batch", table, "--policy", draw_policy)
    rows = rows_of(done.stdout)
    assert done.returncode == 65
    assert [row["machine"] for row in rows] == ["M-1", "M-2", "M-3", "M-4", "M-1"]
    assert [row["decision"] for row in rows] == ["release", "", "", "release", ""]
    assert 'season.csv:23: run_up "high", current_A, reading 4: read "much"' in rows[1]["error"]
    assert "season.csv:43: read 11 cells, allowed: 10" in rows[2]["error"]
    assert "season.csv:74: machine: read a machine whose rows came before" in rows[4]["error"]
    assert rows[4]["file"].endswith("season.csv:74")


def test_a_value_of_the_machine_is_the_same_on_all_its_rows(rewound, tmp_path, draw_policy):
    rows = machine_rows("M-1")
    rows[1] = rows[1].replace(",230,", ",230.0,", 1)
    assert rewound("batch", write_table(tmp_path / "season.csv", [rows]), "--policy", draw_policy).returncode == 0
    rows[1] = rows[1].replace(",230.0,", ",231,", 1)
    done = rewound("batch", write_table(tmp_path / "season.csv", [rows]), "--policy", draw_policy)
    assert done.returncode == 65 and "rated_voltage_V: read 231" in rows_of(done.stdout)[0]["error"]


@pytest.mark.parametrize(
    "header, told",
    [
        (HEADER.replace(",current_A", ",curent_A"), "did you mean current_A?"),
        (HEADER.replace("machine,", "name,"), "season.csv:1: "),
        (HEADER.replace("speed,voltage_V", "speed,voltage"), "did you mean"),
        (HEADER.replace("model", "machine"), "two columns of this name"),
        (HEADER.replace("rated_frequency_Hz", "supply_frequency_Hz"), "a column rated_frequency_Hz"),
    ],
)
def test_a_wrong_header_is_told_in_one_line_and_writes_nothing(rewound, tmp_path, header, told):
    table = write_table(tmp_path / "season.csv", [machine_rows("M-1")], header)
    done = rewound("batch", table, "--out", "results.csv")
    assert done.returncode == 65 and done.stdout == ""
    assert done.stderr.count("\n") == 1 and told in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["season.csv"]


def test_nothing_to_judge_is_an_error(rewound, tmp_path):
    (tmp_path / "empty").mkdir()
    (tmp_path / "none.csv").write_text("", encoding="utf-8")
    (tmp_path / "head.csv").write_text(HEADER + "\n\n", encoding="utf-8")
    for name, told in (
        ("empty", "without records"),
        ("none.csv", "empty file"),
        ("head.csv", "no rows"),
        ("absent", "No such file"),
    ):
        done = rewound("batch", name, "--out", "results.csv")
        assert done.returncode == 65 and done.stderr.count("\n") == 1 and told in done.stderr, done.stderr
        assert not (tmp_path / "results.csv").exists()


def test_no_cell_can_pass_for_a_formula(rewound, tmp_path, draw_policy):
    names = ["=1+1", "+A1", "-A1", "@SUM(A1)", "\t=1", '"=a,b"', '"say ""=hi"""', "-5", "+7.5", "x=1", '" =2"']
    table = write_table(tmp_path / "season.csv", [machine_rows(name) for name in names])
    done = rewound("batch", table, "--policy", draw_policy)
    read = [row["machine"] for row in rows_of(done.stdout)]
    assert read == ["'=1+1", "'+A1", "'-A1", "'@SUM(A1)", "'=1", "'=a,b", 'say "=hi"', "-5", "+7.5", "x=1", "'=2"]
    folder = tmp_path / "hostile"
    folder.mkdir()
    text = (GOOD / "gh07_after_repair.toml").read_text(encoding="utf-8")
    for i, name in enumerate((r"\t=1", r"\r=2", r" @x", r"a\nb", r"\u001b[31m")):
        (folder / f"{i}.toml").write_text(text.replace('"GH-07"', f'"{name}"'), encoding="utf-8")
    (folder / "=cmd.toml").write_text("broken", encoding="utf-8")
    done = rewound("batch", folder)
    rows = rows_of(done.stdout)
    assert done.stdout.count("\n") == 7  # a row a line, whatever the texts
    assert [row["machine"] for row in rows] == ["' =1", "' =2", "' @x", "a b", " [31m", ""]
    assert rows[5]["file"] == "'=cmd.toml"


def test_threads_give_the_same_results_in_the_same_order(rewound, tmp_path, draw_policy):
    machines = [machine_rows(f"M-{i}", 1 + 0.01 * (i % 7)) for i in range(40)]
    machines[5][2] = "torn"
    table = write_table(tmp_path / "season.csv", machines)
    one = rewound("batch", table, "--policy", draw_policy)
    four = rewound("batch", table, "--policy", draw_policy, "--threads", "4")
    assert one.stdout == four.stdout and one.stdout.count("\n") > 40
    assert one.returncode == four.returncode == 65


@pytest.mark.parametrize("form, threads", [("csv", 1), ("json", 2)])
def test_a_killed_run_goes_on_where_it_was_and_loses_nothing(rewound, tmp_path, draw_policy, form, threads):
    table = write_table(tmp_path / "season.csv", [machine_rows(f"M-{i}", 1 + 0.01 * (i % 7)) for i in range(60)])
    arguments = (table, "--policy", draw_policy, "--format", form, "--threads", threads)
    whole = rewound("batch", *arguments).stdout
    results = tmp_path / f"results.{form}"
    killed = 0
    while True:
        running = start(tmp_path, *arguments, "--out", results)
        size = results.stat().st_size if results.exists() else 0
        until = time.monotonic() + 30
        while running.poll() is None and time.monotonic() < until:
            if killed < 6 and results.exists() and results.stat().st_size > size + 1500:
                running.kill()
                break
            time.sleep(0.002)
        _, told = running.communicate()
        if running.returncode != -signal.SIGKILL:
            break
        killed += 1
        text = results.read_text(encoding="utf-8")
        assert whole.startswith(text[: text.rfind("\n") + 1])
    assert killed >= 2
    assert results.read_text(encoding="utf-8") == whole
    assert "taken over from" in told
    again = rewound("batch", *arguments, "--out", results)
    assert "60 machines judged before" in again.stderr
    assert results.read_text(encoding="utf-8") == whole


def test_torn_ends_are_judged_again(rewound, tmp_path, draw_policy):
    table = write_table(tmp_path / "season.csv", [machine_rows(f"M-{i}") for i in range(6)])
    arguments = ("batch", table, "--policy", draw_policy, "--out", "results.csv")
    assert rewound(*arguments).returncode == 0
    results, progress = tmp_path / "results.csv", tmp_path / "results.csv.run"
    whole, lines = results.read_bytes(), progress.read_bytes().splitlines(keepends=True)
    ends = [int(line.split()[0]) for line in lines[1:]]

    def resumed():
        done = rewound(*arguments)
        assert done.returncode == 0 and results.read_bytes() == whole and progress.read_bytes() == b"".join(lines)
        return done.stderr

    results.write_bytes(whole[: ends[2] + 10])  # killed while a row was written
    progress.write_bytes(b"".join(lines[:4]))
    assert "3 machines judged before" in resumed()
    results.write_bytes(whole[: ends[3]])  # killed between row and progress, whose line is torn
    progress.write_bytes(b"".join(lines[:4]) + lines[4][:7])
    assert "3 machines judged before" in resumed()
    results.write_bytes(whole[: ends[1] - 4])  # a power cut took more of the results than of the progress
    assert "1 machine judged before" in resumed()
    results.write_bytes(b"")
    assert "judged before" not in resumed()


def test_results_of_another_run_are_left_alone(rewound, tmp_path, draw_policy):
    table = write_table(tmp_path / "season.csv", [machine_rows(f"M-{i}") for i in range(3)])
    results = tmp_path / "results.csv"
    results.write_text("mine", encoding="utf-8")
    done = rewound("batch", table, "--out", "results.csv")
    assert done.returncode == 65 and "--fresh" in done.stderr and results.read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "results.csv.run").exists()
    assert rewound("batch", table, "--out", "results.csv", "--fresh").returncode == 20
    kept = results.read_text(encoding="utf-8")
    for arguments in ((table, "--policy", draw_policy), (table, "--format", "json")):
        done = rewound("batch", *arguments, "--out", "results.csv")
        assert done.returncode == 65 and "other records or options" in done.stderr
        assert results.read_text(encoding="utf-8") == kept
    write_table(table, [machine_rows(f"M-{i}") for i in range(4)])
    assert rewound("batch", table, "--out", "results.csv").returncode == 65
    assert rewound("batch", table, "--out", "results.csv", "--fresh").returncode == 20
    assert len(rows_of(results.read_text(encoding="utf-8"))) == 4
    for name in (table, "new.toml"):
        assert rewound("batch", table, "--out", name, "--fresh").returncode == 64
    assert table.read_text(encoding="utf-8").startswith("machine")


def test_results_may_lie_in_the_folder_that_is_judged(rewound, shop):
    first = rewound("batch", shop, "--out", shop / "results.csv")
    again = rewound("batch", shop, "--out", shop / "results.csv")
    assert first.returncode == again.returncode == 65
    assert "4 machines judged before" in again.stderr


def peak_kilobytes(process):
    """Peak memory of a process until it ends (the kernel's own count, which begins anew with the program)."""
    peak = 0
    while process.poll() is None:
        with open(f"/proc/{process.pid}/status", encoding="ascii") as status:
            peak = max([peak] + [int(line.split()[1]) for line in status if line.startswith("VmHWM")])
        time.sleep(0.005)
    return peak


@pytest.mark.skipif("REWOUND_SANITIZED" in os.environ, reason="the sanitizers keep freed memory")
def test_memory_does_not_grow_with_the_number_of_machines(tmp_path):
    """20 000 machines (27 megabytes) take less than 20 MB, and 5000 the same but for 16 to 32 bytes a machine.

    Each machine has one row too long, so that it is read and refused: judging takes the same memory for any number.
    """
    peaks = []
    for machines in (5000, 20000):
        rows = machine_rows("M")
        with open(tmp_path / f"{machines}.csv", "w", encoding="utf-8") as out:
            out.write(HEADER + "\n")
            for i in range(machines):
                out.write(
                    "\n".join(row.replace("M,", f"M-{i},", 1) + ("" if n else ",9") for n, row in enumerate(rows))
                    + "\n"
                )
        running = start(tmp_path, f"{machines}.csv", "--out", f"{machines}.out", "--threads", 2)
        peaks.append(peak_kilobytes(running))
        assert running.returncode == 65
        assert (tmp_path / f"{machines}.out").read_text(encoding="utf-8").count("\n") == machines + 1
        running.communicate()
    assert 1000 < peaks[0] and peaks[1] < 20_000
    assert peaks[1] - peaks[0] < 1500


def test_a_folder_of_many_files_is_gone_through_in_order(rewound, tmp_path):
    folder = tmp_path / "many"
    folder.mkdir()
    for i in range(300):
        (folder / f"{i * 7 % 300:03}.toml").write_text("broken", encoding="utf-8")
    rows = rows_of(rewound("batch", folder).stdout)
    assert [row["file"] for row in rows] == [f"{i:03}.toml" for i in range(300)]


def test_results_that_someone_edited_are_left_alone(rewound, tmp_path):
    folder = ROOT / "reference" / "records" / "good"
    assert rewound("batch", folder, "--out", "results.csv").returncode in (0, 20)
    results = tmp_path / "results.csv"
    edited = results.read_text(encoding="utf-8").replace(",release,", ",release (fetched),", 1)
    assert "(fetched)" in edited
    results.write_text(edited, encoding="utf-8")
    again = rewound("batch", folder, "--out", "results.csv")
    assert again.returncode == 65 and "--fresh" in again.stderr
    assert results.read_text(encoding="utf-8") == edited


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_among_the_records_is_listed_and_stops_nothing(rewound, tmp_path):
    folder = tmp_path / "records"
    folder.mkdir()
    os.mkfifo(folder / "a.toml")
    shutil.copy(ROOT / "reference" / "records" / "good" / "gh07_after_repair.toml", folder / "b.toml")
    done = rewound("batch", folder)
    assert done.returncode == 65
    assert "a pipe" in done.stdout and ",release," in done.stdout
