"""Broken input is refused within a second and 100 MB, with a line that says where: never an answer, never an error of
the program's own."""

import json
import os
import pathlib
import pty
import random
import re
import resource
import subprocess
import time

import pytest
from conftest import GOOD, ROOT

REFERENCE = ROOT / "reference" / "learnt" / "circulator-40.reference.toml"
LIMIT_S = 10 if "REWOUND_SANITIZED" in os.environ else 1.5  # of which most is another test's on the same core


def refused(*arguments, cwd, code=65):
    """Run within 100 MB of data; returns what is said. The time is that of the processor."""

    def small():
        if "REWOUND_SANITIZED" not in os.environ:
            resource.setrlimit(resource.RLIMIT_DATA, (100 << 20, 100 << 20))

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [os.environ["REWOUND_BIN"], *map(str, arguments)]
    done = subprocess.run(command, cwd=cwd, capture_output=True, timeout=60, preexec_fn=small)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    said = done.stderr.decode("utf-8")
    assert done.returncode == code, said
    assert after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime < LIMIT_S
    assert "internal" not in said and said.count("\n") >= 1
    return said


@pytest.fixture
def record(tmp_path, demo_text):
    def write(*changes):
        text = demo_text
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new, 1)
        (tmp_path / "job.toml").write_text(text, encoding="utf-8")
        return "job.toml"

    return write


CURRENTS = "current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]"
TINY_OR_HUGE = [
    ("rated_current_A = 0.42", "rated_current_A = 2e9"),
    ("rated_current_A = 0.42", "rated_current_A = 1e-86"),
    ("rated_voltage_V = 230", "rated_voltage_V = 1e-90"),
    ("rated_frequency_Hz = 50", "rated_frequency_Hz = 1e-300"),
    (CURRENTS, "current_A = [1e-90, 0.268, 0.325, 0.381, 0.421, 0.442]"),
    (CURRENTS, "current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 1e11]"),
    ("resistance_ohm = 18.4", "resistance_ohm = 1e-100"),
    ("expected_ohm = 18.2", "expected_ohm = 1e12"),
    ("continuity_ohm = 0.08", "continuity_ohm = 1e-200"),
    ("test_voltage_V = 500", "test_voltage_V = 1e-310"),
]


@pytest.mark.parametrize("old, new", TINY_OR_HUGE)
def test_a_number_that_no_bench_reads_is_refused_at_its_place(record, tmp_path, old, new):
    said = refused("judge", record((old, new)), cwd=tmp_path)
    assert f"{new.split(' = ')[0]}" in said and "job.toml:" in said


@pytest.mark.parametrize("key", ["rated_current_A = 0.42", "resistance_ohm = 18.4", "continuity_ohm = 0.08"])
def test_numbers_at_the_borders_of_what_can_be_end_in_a_decision_or_a_refusal(rewound, record, key):
    name = key.split(" = ")[0]
    for value in ("1e-12", "1e-9", "1e-6", "0.001", "1000", "1e5", "1e9"):
        assert rewound("judge", record((key, f"{name} = {value}"))).returncode in (0, 10, 20, 65), value


def test_a_loop_of_links_is_refused(tmp_path):
    os.symlink("b.toml", tmp_path / "a.toml")
    os.symlink("a.toml", tmp_path / "b.toml")
    assert "a.toml" in refused("judge", "a.toml", cwd=tmp_path)
    assert "a.toml" in refused("judge", GOOD / "gh07_after_repair.toml", "--out", "a.toml", cwd=tmp_path)


@pytest.mark.parametrize("file", ["/dev/zero", "/dev/full", "/dev/tty", "/dev/null"])
def test_a_device_is_no_record_and_no_table(tmp_path, record, file):
    refused("judge", file, cwd=tmp_path)
    refused("judge", GOOD / "gh07_after_repair.toml", "--policy", file, cwd=tmp_path)
    refused("batch", file, cwd=tmp_path)
    text = (tmp_path / record()).read_text(encoding="utf-8")
    head, rest = text.split("[[run_up]]", 1)
    tail = rest[rest.index("[[insulation]]") :]
    (tmp_path / "job.toml").write_text(f'{head}[[run_up]]\nfile = "{file}"\n\n{tail}', encoding="utf-8")
    refused("judge", "job.toml", cwd=tmp_path)


def test_a_pipe_that_nobody_writes_to_is_not_waited_for(tmp_path, record):
    os.mkfifo(tmp_path / "pipe")
    for arguments in (
        ["judge", "pipe"],
        ["judge", record(), "--earlier", "pipe"],
        ["batch", "pipe"],
        ["learn", "pipe"],
    ):
        assert "a pipe" in refused(*arguments, cwd=tmp_path)


def test_what_is_too_large_is_told_with_its_limit(tmp_path, record, demo_text):
    (tmp_path / "large.toml").write_text(demo_text + "#" * (2 << 20), encoding="utf-8")
    assert "at most 1 MB" in refused("judge", "large.toml", cwd=tmp_path)
    (tmp_path / "wide.csv").write_text("speed,voltage_V,current_A\n" + "high,230,0.4\n" * 800_000, encoding="utf-8")
    head, rest = demo_text.split("[[run_up]]", 1)
    tail = rest[rest.index("[[insulation]]") :]
    (tmp_path / "job.toml").write_text(head + '[[run_up]]\nfile = "wide.csv"\n\n' + tail, encoding="utf-8")
    assert "at most 8 MB" in refused("judge", "job.toml", cwd=tmp_path)
    (tmp_path / "wide.csv").write_text("speed,voltage_V,current_A\n" + "high,230,0.4\n" * 10_000, encoding="utf-8")
    assert "1000 readings or fewer" in refused("judge", "job.toml", cwd=tmp_path)
    many = ", ".join(["0.4"] * 10_000)
    volts = re.search(r"voltage_V = \[.*\]", demo_text).group(0)
    long_lists = record((CURRENTS, f"current_A = [{many}]"), (volts, f"voltage_V = [{many}]"))
    assert "1000 readings or fewer" in refused("judge", long_lists, cwd=tmp_path)
    assert "400 bytes or fewer" in refused("judge", record(('id = "GH-07"', f'id = "{"x" * 500_000}"')), cwd=tmp_path)
    assert "300 tables or fewer" in refused(
        "judge",
        record(("[earth]", '[[starts]]\nposition = "u"\nattempts = 5\nsuccesses = 5\n' * 5000 + "[earth]")),
        cwd=tmp_path,
    )


def test_a_large_file_that_is_no_record_is_not_mended_line_by_line(tmp_path):
    (tmp_path / "job.toml").write_text("a b c\n" * 160_000, encoding="utf-8")
    refused("judge", "job.toml", cwd=tmp_path)


def test_what_is_allowed_takes_no_longer_than_its_size_asks_for(record, tmp_path, demo_text):
    """A thousand readings of one speed, and a remark of four thousand letters without a blank."""
    draw = random.Random(11)
    volts = [round(100 + 0.14 * i, 2) for i in range(1000)]
    amps = [round(0.42 * v / 230 * draw.gauss(1, 0.2), 4) for v in volts]
    listed = re.search(r"voltage_V = \[.*\]", demo_text).group(0)
    path = record((CURRENTS, f"current_A = {amps}"), (listed, f"voltage_V = {volts}"))
    text = (tmp_path / path).read_text(encoding="utf-8")
    (tmp_path / path).write_text(text.replace("[visit]", f'[visit]\nnotes = ["{"n" * 4000}"]', 1), encoding="utf-8")
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    done = subprocess.run([os.environ["REWOUND_BIN"], "judge", path, "--full"], cwd=tmp_path, capture_output=True)
    assert done.returncode in (10, 20), done.stderr
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before < 5 * LIMIT_S


@pytest.mark.parametrize("step", ["1e-6", "1e-3", "0.01"])
def test_a_heat_run_of_no_time_is_refused_or_quick(record, tmp_path, step):
    times = [i * float(step) for i in range(8)]
    heat = f"[heat_run]\ncold_ohm = 18.4\ncold_C = 21\nambient_C = 22\ntime_s = {times}\n"
    heat += f"resistance_ohm = {[round(18.4 + 0.3 * i, 2) for i in range(8)]}\n\n[earth]"
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    command = [os.environ["REWOUND_BIN"], "judge", record(("[earth]", heat))]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, timeout=60)
    assert done.returncode in (10, 20, 65), done.stderr
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before < 2 * LIMIT_S


def numbers_of(text):
    """Where each number of a reference's machines stands."""
    begins = text.index("[[machine]]")
    return [m for m in re.finditer(r"(?<![\w.\"-])-?\d+\.\d+(?:e[+-]?\d+)?", text) if m.start() > begins]


def test_one_changed_number_of_a_reference_is_refused_or_leaves_a_decision(rewound, tmp_path):
    """Symmetry, definiteness and what readings can give: a sign, a factor, a digit."""
    text = REFERENCE.read_text(encoding="utf-8")
    draw = random.Random(3)
    places = numbers_of(text)
    assert len(places) > 500
    told = 0
    record = ROOT / "reference" / "records" / "glasshouse" / "gh03_release.toml"
    tried = 60
    for i in range(tried):
        place = draw.choice(places)
        value = float(place.group(0))
        new = [-value - 1, value * 1000 + 7, 1e300, value * 1e-9][i % 4]
        (tmp_path / "r.toml").write_text(text[: place.start()] + repr(new) + text[place.end() :], encoding="utf-8")
        done = rewound("judge", record, "--reference", "r.toml")
        assert done.returncode in (0, 10, 20, 65), (i, place.group(0), new, done.stderr)
        told += done.returncode == 65
    assert told > 0.8 * tried


def test_learning_writes_finite_numbers_or_nothing(rewound, tmp_path, demo_text):
    for i, amps in enumerate(("[1e-9, 1e-9, 1e-9, 1e5, 1e5, 1e5]", "[1e5, 1e-9, 1e5, 1e-9, 1e5, 1e-9]")):
        (tmp_path / "a.toml").write_text(demo_text.replace(CURRENTS, f"current_A = {amps}"), encoding="utf-8")
        done = rewound("learn", "a.toml", "--out", f"{i}.toml")
        assert done.returncode in (0, 65), done.stderr
        if done.returncode == 0:
            assert "nan" not in (tmp_path / f"{i}.toml").read_text(encoding="utf-8").lower()
            assert rewound("judge", "a.toml", "--reference", f"{i}.toml").returncode in (0, 10, 20)


@pytest.mark.parametrize("seed", ["18446744073709551616", "1e30", "-1", "abc", "1.5"])
def test_a_seed_beyond_64_bits_is_refused(rewound, seed):
    for option in ("--seed", "--unit", "--bench"):
        done = rewound("simulate", "--machine", "circulator-40", option, seed)
        assert done.returncode == 64 and done.stdout == "", option
    assert rewound("simulate", "--machine", "circulator-40", "--seed", "18446744073709551615").returncode == 0


def test_an_id_that_is_no_utf8_is_refused(tmp_path):
    refused(
        "simulate", "--machine", "circulator-40", "--id", b"\xff\xfe".decode("utf-8", "surrogateescape"), cwd=tmp_path
    )


HOSTILE = "\u202eGH\x1b[2J\u0007\u2066x"


def in_terminal(*arguments, cwd):
    """What a terminal on standard output and error gets."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [os.environ["REWOUND_BIN"], *map(str, arguments)], cwd=cwd, stdout=theirs, stderr=theirs, close_fds=True
    )
    os.close(theirs)
    seen = b""
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:
            break
        if not part:
            break
        seen += part
    process.wait(60)
    os.close(ours)
    return seen.decode("utf-8")


def steers(text):
    return [c for c in text if c in "\x1b\x07\u202e\u2066" or (ord(c) < 0x20 and c not in "\r\n")]


def test_nothing_steers_a_terminal(record, tmp_path):
    quoted = json.dumps(HOSTILE, ensure_ascii=True)
    path = record(('id = "GH-07"', f"id = {quoted}"), ('model = "circulator-40"', f"model = {quoted}"))
    commands = [["judge", path], ["judge", path, "--full"], ["judge", path, "--format", "json"]]
    commands += [["judge", path, "--format", "html"], ["learn", path], ["plot", path], ["parameters", path]]
    commands += [["whatif", path], ["trend", path, path], ["batch", "."], ["batch", ".", "--format", "json"]]
    commands += [["simulate", "--machine", "circulator-40", "--id", HOSTILE], ["judge", HOSTILE], [HOSTILE]]
    commands += [["judge", path, "--format", HOSTILE], ["judge", path, HOSTILE], ["help", HOSTILE]]
    for command in commands:
        seen = in_terminal(*command, cwd=tmp_path)
        assert seen and not steers(seen), command


def test_the_manual_page_knows_every_command_and_option(rewound):
    page = rewound("help", "--format", "man").stdout
    listed = re.findall(r"^  (\w+) {2,}", rewound("--help").stdout.split("Subcommands:")[1], flags=re.MULTILINE)
    assert len(listed) > 9
    for command in listed:
        assert f".SS {command}\n" in page
        for option in re.findall(r"^  (?:-\w,)?--([\w-]+)", rewound(command, "--help").stdout, flags=re.MULTILINE):
            assert option == "help" or "\\-\\-" + option.replace("-", "\\-") in page, (command, option)


def test_bash_completes_commands_options_and_words(rewound, tmp_path):
    script = tmp_path / "completion"
    assert rewound("help", "--format", "bash", "--out", script).returncode == 0

    def completed(*words):
        ask = f'source "{script}"; COMP_WORDS=({" ".join(words)}); COMP_CWORD={len(words) - 1}; _rewound; '
        ask += 'echo "${COMPREPLY[@]}"'
        return subprocess.run(["bash", "-c", ask], capture_output=True, text=True, check=True).stdout.split()

    assert completed("rewound", "ju") == ["judge"]
    assert "--earlier" in completed("rewound", "judge", "--e")
    assert completed("rewound", "judge", "--format", "h") == ["html"]


def test_help_tells_of_every_key_of_the_record(rewound):
    table = rewound("template", "--keys").stdout
    keys = set(re.findall(r"^\| `(\w+)`", table, flags=re.MULTILINE))
    assert len(keys) > 80
    for key in sorted(keys)[::7]:
        told = rewound("help", key)
        assert told.returncode == 0 and f" {key} = " in told.stdout
    whole = rewound("help", "run_up").stdout
    assert "voltage_V" in whole and "winding_C" in whole
    wrong = rewound("help", "rated_curent_A")
    assert wrong.returncode == 64 and "rated_current_A" in wrong.stderr


def test_the_version_names_what_the_program_was_built_with(rewound):
    told = rewound("--version", "--verbose").stdout
    for name in ("rewound", "Boost 1.", "Eigen 3.", "toml++ ", "nlohmann-json ", "CLI11 ", "libedit "):
        assert name in told, told
    assert re.fullmatch(r"rewound \d+\.\d+\.\d+\n", rewound("--version").stdout)
    assert pathlib.Path(ROOT / "tools" / "release" / "tested_with.txt").read_text(encoding="utf-8").count("\n") > 5


PROSE = "Dear diary,\ntoday we oiled the fan.\nIt ran well; 0.82 A on high.\n\nMore tomorrow.\n"


@pytest.mark.parametrize(
    ("text", "more"),
    [
        (PROSE, 3),
        ("volts;amps\n110;0.8\n", 1),
        ("<html>\n<body class='x'>\n<p>Hello\n</body>\n</html>\n", 4),
        ("// of a program\nint main() {\n  auto text = there::read();\n}\n", 3),
    ],
)
def test_a_file_of_another_kind_is_refused_by_one_line(tmp_path, text, more):
    (tmp_path / "other.toml").write_text(text, encoding="utf-8")
    said = refused("judge", "other.toml", cwd=tmp_path)
    assert said.count("\n") == 1
    assert f"other.toml:1: read {text.splitlines()[0]} and {more} more line" in said


def test_of_prose_in_a_record_the_first_lines_are_shown_and_the_rest_counted(tmp_path, demo_text):
    for count in (1, 3, 4, 5, 40):
        lines = "".join(f"prose of line {i}\n" for i in range(count))
        (tmp_path / "job.toml").write_text(demo_text + lines, encoding="utf-8")
        said = refused("judge", "job.toml", cwd=tmp_path).splitlines()
        whole = count <= 4
        assert len(said) == (count if whole else 4)
        assert all(f"read prose of line {i}," in said[i] for i in range(count if whole else 3))
        if not whole:
            assert f"read {count - 3} more lines of this kind" in said[-1]
            first_hidden = len(demo_text.splitlines()) + 4
            assert f"job.toml:{first_hidden}: " in said[-1]
