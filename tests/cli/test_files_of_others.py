"""What bears another's name stays: outputs that are no plain file, outputs that are inputs, pages and progress files of
somebody else, private copies, and what a killed run leaves."""

import fcntl
import os
import shutil
import stat
import subprocess
import threading

import pytest
from conftest import ROOT

GLASSHOUSE = ROOT / "reference" / "records" / "glasshouse"
RECORD = GLASSHOUSE / "gh03_release.toml"
REFERENCE = ROOT / "reference" / "learnt" / "circulator-40.reference.toml"
VISITS = sorted((ROOT / "reference" / "records" / "good").glob("gh12_*.toml"))

COMMANDS = {
    "judge": ["judge", RECORD],
    "judge html": ["judge", RECORD, "--format", "html"],
    "learn": ["learn", GLASSHOUSE / "gh03_release.toml"],
    "trend": ["trend", *VISITS],
    "plot": ["plot", RECORD],
    "whatif": ["whatif", RECORD],
    "parameters": ["parameters", RECORD],
    "simulate": ["simulate", "--machine", "circulator-40"],
}


@pytest.mark.parametrize("command", COMMANDS)
def test_a_link_stays_a_link_and_its_target_is_replaced(rewound, tmp_path, command):
    (tmp_path / "kept").mkdir()
    target = tmp_path / "kept" / "target"
    target.write_text("old", encoding="utf-8")
    os.symlink("kept/target", tmp_path / "out")
    done = rewound(*COMMANDS[command], "--out", "out")
    assert done.returncode in (0, 10, 20), done.stderr
    assert (tmp_path / "out").is_symlink() and target.read_text(encoding="utf-8") not in ("", "old")


@pytest.mark.parametrize("command", COMMANDS)
def test_a_pipe_gets_the_text_and_stays_a_pipe(rewound, tmp_path, command):
    pipe = tmp_path / "out"
    os.mkfifo(pipe)
    got = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_text(encoding="utf-8")), daemon=True)
    reader.start()
    done = rewound(*COMMANDS[command], "--out", "out")
    reader.join(20)
    assert done.returncode in (0, 10, 20), done.stderr
    assert stat.S_ISFIFO(pipe.stat().st_mode) and got[0] == rewound(*COMMANDS[command]).stdout


@pytest.fixture
def device(tmp_path):
    """Devices of this test's own: the machine's would be gone where the program fails."""

    def make(name, minor):
        path = tmp_path / name
        try:
            os.mknod(path, stat.S_IFCHR | 0o666, os.makedev(1, minor))
            with open(path, "rb"):
                return path
        except OSError:
            pytest.skip("devices are made by root, on a file system that has them")

    return make


@pytest.mark.parametrize("command", COMMANDS)
def test_a_device_stays_a_device(rewound, device, command):
    nothing, full = device("null", 3), device("full", 7)
    before = os.stat(nothing)
    assert rewound(*COMMANDS[command], "--out", nothing).returncode in (0, 10, 20)
    after = os.stat(nothing)
    assert (before.st_ino, before.st_rdev, before.st_mode) == (after.st_ino, after.st_rdev, after.st_mode)
    done = rewound(*COMMANDS[command], "--out", full)
    assert done.returncode == 65 and "full" in done.stderr
    assert stat.S_ISCHR(os.stat(full).st_mode)


def test_a_terminal_is_written_to_by_its_name(rewound):
    ours, theirs = os.openpty()
    assert rewound("judge", RECORD, "--out", os.ttyname(theirs)).returncode == 0
    assert os.read(ours, 10).startswith(b"GH-03")
    os.close(ours)
    os.close(theirs)


def test_standard_output_by_name_is_written_on_with(rewound, tmp_path):
    with open(tmp_path / "log", "a", encoding="utf-8") as log:
        log.write("before\n")
        log.flush()
        subprocess.run(
            [os.environ["REWOUND_BIN"], "judge", RECORD, "--out", "/proc/self/fd/1"], stdout=log, check=True, timeout=60
        )
    assert (tmp_path / "log").read_text(encoding="utf-8").startswith("before\n")
    assert not (tmp_path / "log").is_symlink()


@pytest.mark.parametrize("way", ["itself", "link", "hard link", "other spelling"])
@pytest.mark.parametrize("which", ["record", "reference", "policy", "earlier"])
def test_an_output_that_is_an_input_is_refused(rewound, tmp_path, way, which):
    files = {"record": RECORD, "reference": REFERENCE, "earlier": RECORD}
    for name, source in files.items():
        shutil.copy(source, tmp_path / name)
    (tmp_path / "policy").write_text('format = "rewound-policy/1"\n', encoding="utf-8")
    before = (tmp_path / which).read_bytes()
    out = {"itself": which, "other spelling": f"./x/../{which}"}.get(way, "out")
    (tmp_path / "x").mkdir()
    if way == "link":
        os.symlink(which, tmp_path / "out")
    if way == "hard link":
        os.link(tmp_path / which, tmp_path / "out")
    arguments = ["judge", "record", "--reference", "reference", "--policy", "policy", "--earlier", "earlier"]
    done = rewound(*arguments, "--out", out)
    assert done.returncode == 64 and "input" in done.stderr
    assert (tmp_path / which).read_bytes() == before


def test_a_table_that_a_record_names_is_an_input(rewound, tmp_path, demo_text):
    head, rest = demo_text.split("[[run_up]]", 1)
    tail = rest[rest.index("[[insulation]]") :]
    (tmp_path / "job.toml").write_text(head + '[[run_up]]\nfile = "runup.csv"\n\n' + tail, encoding="utf-8")
    table = tmp_path / "runup.csv"
    table.write_text("speed,voltage_V,current_A\nhigh,150,0.268\nhigh,210,0.381\nhigh,230,0.421\n", encoding="utf-8")
    before = table.read_bytes()
    assert rewound("judge", "job.toml", "--out", "runup.csv").returncode == 64
    assert table.read_bytes() == before
    folder = tmp_path / "season"
    folder.mkdir()
    for name in ("job.toml", "runup.csv"):
        shutil.move(tmp_path / name, folder / name)
    for fresh in ([], ["--fresh"]):
        for out in ("season/runup.csv", "season/job.toml"):
            assert rewound("batch", "season", "--out", out, *fresh).returncode in (64, 65)
            assert (folder / "runup.csv").read_bytes() == before
    os.link(folder / "job.toml", tmp_path / "results.csv")
    assert rewound("batch", "season", "--out", "results.csv", "--fresh").returncode == 64
    assert (folder / "job.toml").read_text(encoding="utf-8").startswith("format") or "format" in head


@pytest.mark.parametrize("what", ["reference", "policy"])
def test_no_batch_writes_over_what_it_judges_by(rewound, tmp_path, what):
    shutil.copy(REFERENCE, tmp_path / "reference")
    (tmp_path / "policy").write_text('format = "rewound-policy/1"\n', encoding="utf-8")
    before = (tmp_path / what).read_bytes()
    os.symlink(what, tmp_path / "link")
    for out in (what, "link"):
        done = rewound("batch", GLASSHOUSE, "--reference", "reference", "--policy", "policy", "--out", out, "--fresh")
        assert done.returncode == 64, done.stderr
        assert (tmp_path / what).read_bytes() == before


def test_a_progress_file_of_somebody_else_is_not_taken(rewound, tmp_path):
    (tmp_path / "results.csv.run").write_text("my own running times\n", encoding="utf-8")
    for fresh in ([], ["--fresh"]):
        done = rewound("batch", GLASSHOUSE, "--out", "results.csv", *fresh)
        assert done.returncode == 65 and "results.csv.run" in done.stderr
        assert (tmp_path / "results.csv.run").read_text(encoding="utf-8") == "my own running times\n"
    assert not (tmp_path / "results.csv").exists()


def test_a_page_that_no_batch_wrote_stays(rewound, tmp_path):
    records, pages = tmp_path / "records", tmp_path / "pages"
    records.mkdir()
    pages.mkdir()
    shutil.copy(RECORD, records / "a.toml")
    for name in ("a.html", "index.html"):
        (pages / name).write_text("<p>mine</p>", encoding="utf-8")
        done = rewound("batch", records, "--format", "html", "--out", pages, "--fresh")
        assert done.returncode == 65 and name in done.stderr
        assert (pages / name).read_text(encoding="utf-8") == "<p>mine</p>"
        (pages / name).unlink()
    assert rewound("batch", records, "--format", "html", "--out", pages, "--fresh").returncode == 0
    assert rewound("batch", records, "--format", "html", "--out", pages, "--fresh").returncode == 0


@pytest.mark.parametrize("closed", [(0,), (1,), (2,), (0, 1, 2), (1, 2)])
def test_closed_standard_descriptors_send_nothing_into_a_file(tmp_path, closed):
    """As a timer's job may start it: no result and no message may land in the file that is opened first."""

    def close():
        for descriptor in closed:
            os.close(descriptor)

    binary = os.environ["REWOUND_BIN"]
    broken = tmp_path / "records"
    broken.mkdir()
    shutil.copy(RECORD, broken / "a.toml")
    (broken / "b.toml").write_text("broken", encoding="utf-8")
    open_ones = {name: subprocess.DEVNULL for name in ("stdin", "stdout", "stderr")}
    done = subprocess.run(
        [binary, "batch", "records", "--out", "out.csv"], cwd=tmp_path, preexec_fn=close, timeout=60, **open_ones
    )
    assert done.returncode == 65
    usual = subprocess.run([binary, "batch", "records", "--out", "usual.csv"], cwd=tmp_path, timeout=60, **open_ones)
    assert usual.returncode == 65
    assert (tmp_path / "out.csv").read_bytes() == (tmp_path / "usual.csv").read_bytes()
    assert (tmp_path / "out.csv.run").read_bytes().splitlines()[1:] == (
        (tmp_path / "usual.csv.run").read_bytes().splitlines()[1:]
    )
    if 1 in closed:
        shown = subprocess.run([binary, "judge", RECORD], cwd=tmp_path, preexec_fn=close, timeout=60, **open_ones)
        assert shown.returncode == 65, "a result that went nowhere is no success"


@pytest.mark.parametrize("mask, mode", [(0o022, 0o644), (0o077, 0o600), (0o027, 0o640), (0o002, 0o664)])
def test_a_new_file_follows_the_umask_and_an_old_one_keeps_its_mode(tmp_path, mask, mode):
    def run():
        command = [os.environ["REWOUND_BIN"], "judge", RECORD, "--out", "out.txt"]
        subprocess.run(command, cwd=tmp_path, preexec_fn=lambda: os.umask(mask), check=True, timeout=60)
        return stat.S_IMODE((tmp_path / "out.txt").stat().st_mode)

    assert run() == mode
    os.chmod(tmp_path / "out.txt", 0o600)
    assert run() == 0o600


def test_what_a_killed_run_left_is_cleaned_by_the_next(rewound, tmp_path):
    (tmp_path / "out.txt.part-rewound").write_text("half a resu", encoding="utf-8")
    assert rewound("judge", RECORD, "--out", "out.txt").returncode == 0
    assert [path.name for path in tmp_path.iterdir()] == ["out.txt"]


def test_what_two_killed_runs_of_one_output_left_is_cleaned_by_the_next_but_not_what_is_being_written(
    rewound, tmp_path
):
    parts = [tmp_path / f"out.txt.part-rewound{nth}" for nth in ("", "-2", "-3")]
    for part in parts:
        part.write_text("half a resu", encoding="utf-8")
    with open(parts[0], "rb") as at_work, open(parts[2], "rb") as too:  # two other runs
        fcntl.flock(at_work, fcntl.LOCK_EX)
        fcntl.flock(too, fcntl.LOCK_EX)
        assert rewound("judge", RECORD, "--out", "out.txt").returncode == 0
        assert {path.name for path in tmp_path.iterdir()} == {"out.txt", parts[0].name, parts[2].name}
    assert rewound("judge", RECORD, "--out", "out.txt").returncode == 0
    assert [path.name for path in tmp_path.iterdir()] == ["out.txt"]


def test_a_file_beside_that_is_somebody_elses_stays(rewound, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_text("mine", encoding="utf-8")
    os.symlink(elsewhere, tmp_path / "out.txt.part-rewound")
    assert rewound("judge", RECORD, "--out", "out.txt").returncode == 0
    assert elsewhere.read_text(encoding="utf-8") == "mine"
    assert (tmp_path / "out.txt").read_text(encoding="utf-8").startswith("GH-03")


def test_copies_of_a_private_record_stay_private(tmp_path, demo_text):
    record = tmp_path / "job.toml"
    record.write_text("# by hand\n" + demo_text, encoding="utf-8")
    os.chmod(record, 0o600)
    command = [os.environ["REWOUND_BIN"], "bench", "job.toml"]
    subprocess.run(command, cwd=tmp_path, input="note oiled\nquit\n", capture_output=True, text=True, timeout=60)
    made = {path.name: stat.S_IMODE(path.stat().st_mode) for path in tmp_path.iterdir()}
    assert {"job.toml", "job.toml.journal", "job.toml.before-bench"} <= set(made)
    assert set(made.values()) == {0o600}
