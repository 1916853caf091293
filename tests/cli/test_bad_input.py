"""Bad input: one line with file, line and field, what was read and what is allowed; exit code 65; nothing written."""

import pytest

DEFECTS = [
    ("rated_voltage_V = 230", "rated_voltage = 230", "rated_voltage_V?"),
    ("phases = 1", 'phases = "one"', "1 or 3, as in phases = 1"),
    ("0.268, 0.325", "-0.268, 0.325", 'run_up "high", current_A, reading 2: read -0.268'),
    ("0.268, 0.325", "nan, 0.325", 'run_up "high", current_A, reading 2: read nan'),
    ("0.268, 0.325", "inf, 0.325", 'run_up "high", current_A, reading 2: read inf'),
    ("0.268, 0.325", "0.325", "5 values, allowed: 6"),
    ('speed = "low"', 'speed = "slow"', "high, medium, low"),
    ("time_s = [15, 30, 60", "time_s = [15, 60, 30", "times that rise"),
    ('format = "rewound-record/1"', 'format = "rewound-record/9"', "rewound-record/1"),
    ("[0.214, 0.268, 0.325, 0.381, 0.421, 0.442]", "[]", "at least one reading"),
    ("date = 2026-05-14", 'date = "14 May"', "a date: year-month-day"),
    ('id = "GH-07"', "id = GH-07", 'a text in quotation marks, as in id = "GH-07"'),
    ("expected_ohm = 18.2", "wire_awg = 99", "a whole number from 0 to 56"),
    ("expected_ohm = 18.2", "lead_resistance_ohm = 20", "less than resistance_ohm, here 18.4"),
    ("expected_ohm = 18.2", 'speed = "turbo"', "high, medium, low"),
    ("frame_earthed = true", 'portable = "no"', "true or false"),
    ("continuity_ohm = 0.08", "cord_length_m = -2\ncontinuity_ohm = 0.08", "a length above 0"),
]


@pytest.mark.parametrize("old, new, told", DEFECTS)
def test_a_defect_is_told_in_one_line_and_writes_nothing(rewound, altered, tmp_path, demo_text, old, new, told):
    record = altered((old, new))
    line = demo_text[: demo_text.index(old)].count("\n") + 1
    done = rewound("judge", record, "--out", "result.txt")
    assert done.returncode == 65
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert f"job.toml:{line}: " in done.stderr
    assert told in done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job.toml"]


@pytest.mark.parametrize(
    "content", [b"", b" \n\n", b"\x00\x01\x02", b"PK\x03\x04 not a record", b"\xff\xfe", b"\x7fELF\0a\n" * 90]
)
def test_files_that_are_no_record(rewound, tmp_path, content):
    (tmp_path / "job.toml").write_bytes(content)
    done = rewound("judge", "job.toml")
    assert done.returncode == 65 and done.stderr.count("\n") == 1 and "job.toml" in done.stderr


def test_a_missing_file_and_a_folder(rewound, tmp_path):
    for name in ("none.toml", "."):
        done = rewound("judge", name)
        assert done.returncode == 65 and done.stderr.count("\n") == 1


def test_an_output_that_cannot_be_written_leaves_nothing(rewound, altered, tmp_path):
    record = altered()
    done = rewound("judge", record, "--out", "no/such/folder/out.txt")
    assert done.returncode == 65 and "out.txt" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]


def test_an_existing_output_is_kept_when_the_record_is_bad(rewound, altered, tmp_path):
    kept = tmp_path / "result.txt"
    kept.write_text("yesterday", encoding="utf-8")
    assert rewound("judge", altered(("phases = 1", "phases = 7")), "--out", kept).returncode == 65
    assert kept.read_text(encoding="utf-8") == "yesterday"
    assert rewound("judge", altered(), "--out", kept).returncode == 0
    assert kept.read_text(encoding="utf-8").startswith("GH-07")


def test_readings_from_a_table(rewound, altered, tmp_path, demo_text):
    head, rest = demo_text.split("[[run_up]]", 1)
    tail = rest[rest.index("[[insulation]]") :]
    (tmp_path / "job.toml").write_text(head + '[[run_up]]\nfile = "runup.csv"\n\n' + tail, encoding="utf-8")
    rows = ["speed,voltage_V,current_A"]
    for speed, currents in (
        ("high", (0.268, 0.381, 0.421)),
        ("medium", (0.235, 0.332, 0.366)),
        ("low", (0.198, 0.278, 0.306)),
    ):
        rows += [f"{speed},{volts},{amps}" for volts, amps in zip((150, 210, 230), currents)]
    table = tmp_path / "runup.csv"
    table.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert rewound("judge", "job.toml").returncode == 0
    table.write_text("\n".join(rows).replace("0.381", "0,381") + "\n", encoding="utf-8")
    done = rewound("judge", "job.toml")
    assert done.returncode == 65 and "runup.csv:3: " in done.stderr and "4 cells" in done.stderr
    table.write_text("\n".join(rows).replace("0.381", "much") + "\n", encoding="utf-8")
    done = rewound("judge", "job.toml")
    assert done.returncode == 65 and 'runup.csv:3: run_up "high", current_A, reading 2' in done.stderr
