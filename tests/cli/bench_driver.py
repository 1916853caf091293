"""Drives `rewound bench` for its tests: in a pseudo-terminal of 80 by 24, or through a pipe."""

import os
import re
import subprocess
import sys
import tomllib

import pexpect

PROMPT = r"[^\n]*> "
CONNECT = r"type `connect` [^\n]* > "
CAUTION = r"press Enter when [^\n]* > "
ESCAPE = re.compile(r"\x1b(\[[0-9;?]*[ -/]*[@-~]|[()][0-9A-Za-z]|[=>])")

RECORD = """format = "rewound-record/1"
run_up = []

[machine]
id = "GH-31"
phases = 1
rated_voltage_V = 230
rated_frequency_Hz = 50
rated_current_A = 0.42
poles = 4
speeds = ["high", "low"]
speed_control = "series_reactor"
running_circuit = "permanent_capacitor"
winding_kind = "random_wound"
insulation_system = "thermosetting"
wound_year = 2026
appliance_class = "I"

[visit]
date = 2026-05-14
state = "after_repair"
ambient_C = 21
humidity_percent = 48
supply_voltage_V = 230
"""

COLD = """
[[insulation]]
circuit = "winding to frame"
test_voltage_V = 500
winding_C = 21
time_s = [15, 30, 60]
resistance_Mohm = [180, 240, 310]

[[resistance]]
section = "main"
resistance_ohm = 18.4
winding_C = 21
expected_ohm = 18.3

[earth]
continuity_ohm = 0.08
"""

# Answers to the first questions of a new record, in their order.
FIRST = ["GH-31", "230 50 .42", "high low", "series_reactor", "permanent_capacitor", "I", "rewound", "", "21"]

HIGH = [("115", "0.205"), ("150", "0.268"), ("184", "0.331"), ("207", "0.376"), ("230", "0.42")]


def written(tmp_path, text=RECORD + COLD):
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def read(path):
    return tomllib.loads(path.read_text(encoding="utf-8"))


def journal(path):
    return (path.parent / (path.name + ".journal")).read_text(encoding="utf-8")


def plain(text):
    """What a person sees of terminal output, escapes and rewritten lines taken out."""
    return ESCAPE.sub("", text).replace("\r\n", "\n")


class Bench:
    """A dialogue in a pseudo-terminal. Cautions are counted and answered by Enter, instruments
    of the record are let be asked."""

    def __init__(self, *arguments, cwd, term="xterm", locale="C.UTF-8"):
        environment = {**os.environ, "TERM": term, "LC_ALL": locale}
        self.seen = ""
        self.cautions = 0
        self.prompts = 0  # all that waited for an answer, cautions among them
        self.keys = 0  # all that was typed, Enter too
        self.child = pexpect.spawn(
            os.environ["REWOUND_BIN"],
            ["bench", *map(str, arguments)],
            cwd=str(cwd),
            env=environment,
            dimensions=(24, 80),
            encoding="utf-8",
            timeout=60,
            codec_errors="replace",
        )
        self.child.delaybeforesend = 0
        self.child.logfile_read = sys.stdout  # shown where a test fails

    def wait(self):
        """Wait for the next question that is no caution; returns what was shown since the last one."""
        shown = ""
        while True:
            self.child.expect(PROMPT)
            self.prompts += 1
            shown += self.child.before + self.child.after
            if re.search(CONNECT, plain(self.child.after)):
                self.child.send("connect\r")
            elif re.search(CAUTION, plain(self.child.after)):
                self.cautions += 1
                self.keys += 1
                self.child.send("\r")
            else:
                break
            shown += "\n"
        self.seen += shown
        return plain(shown)

    def say(self, *lines):
        """Answer questions one after another; returns what stood before and in the last question."""
        shown = ""
        for line in lines:
            self.keys += len(line) + 1
            self.child.send(line + "\r")
            shown = self.wait()
        return shown

    def start_run(self, line="run"):
        """Start an insulation run under the clock; its first question is not waited for."""
        self.child.send(line + "\r")
        self.child.expect("full voltage > ")
        self.child.send("\r")

    def end(self, line="quit"):
        self.keys += len(line) + 1
        self.child.send(line + "\r")
        self.child.expect(pexpect.EOF)
        self.seen += self.child.before
        self.child.close()
        return plain(self.child.before)

    @property
    def exit_code(self):
        return self.child.exitstatus


def piped(lines, *arguments, cwd, **options):
    return subprocess.run(
        [os.environ["REWOUND_BIN"], "bench", *map(str, arguments)],
        input="".join(line + "\n" for line in lines),
        capture_output=True,
        text=True,
        timeout=120,
        cwd=cwd,
        **options,
    )


def typed(path, *lines):
    """What is shown, in one line, where these are typed through a pipe and then `quit`."""
    return " ".join(piped([*lines, "quit"], path, cwd=path.parent).stdout.split())
