# SPDX-License-Identifier: MIT
"""The command-line tool as a user meets it: exit codes, what goes to which stream, files written whole."""

import json
import os
import pathlib
import subprocess
import tempfile
import unittest

TOOL = os.environ["REWOUND_TOOL"]
RECORDS = pathlib.Path(os.environ["REWOUND_REFERENCE_DIR"]) / "records"
GOOD = RECORDS / "good" / "gh07_after_repair.toml"

RELEASED, HELD, UNDECIDED, WRONG_USAGE, BAD_INPUT = 0, 10, 20, 64, 65


def run(*arguments):
    return subprocess.run([TOOL, *map(str, arguments)], capture_output=True, text=True, timeout=60, check=False)


class CommandLine(unittest.TestCase):
    def setUp(self):
        room = tempfile.TemporaryDirectory()
        self.addCleanup(room.cleanup)
        self.room = pathlib.Path(room.name)

    def altered(self, before, after):
        """The good record with one part altered; fails when that part is not there once."""
        text = GOOD.read_text(encoding="utf-8")
        self.assertEqual(text.count(before), 1, before)
        path = self.room / "altered.toml"
        path.write_text(text.replace(before, after), encoding="utf-8")
        return path

    def test_a_good_record_is_released_with_exit_code_0(self):
        done = run("judge", GOOD)
        self.assertEqual(done.returncode, RELEASED, done.stderr)
        self.assertIn("RELEASE", done.stdout.upper())
        self.assertEqual(done.stderr, "")
        self.assertLessEqual(max(map(len, done.stdout.splitlines())), 80)

    def test_a_failing_check_holds_with_exit_code_10(self):
        self.assertEqual(run("judge", self.altered("successes = 10", "successes = 9")).returncode, HELD)

    def test_a_missing_check_is_undecided_with_exit_code_20(self):
        done = run("judge", self.altered("[earth]\ncontinuity_ohm = 0.08\n", ""))
        self.assertEqual(done.returncode, UNDECIDED)
        self.assertIn("earth pin", done.stdout)

    def test_every_bad_record_ends_with_exit_code_65_and_one_line_on_the_error_stream(self):
        bad = sorted((RECORDS / "bad").glob("*.toml"))
        self.assertGreater(len(bad), 10)
        for path in [*bad, self.room / "no such file.toml", self.room]:
            with self.subTest(path=path.name):
                done = run("judge", path)
                self.assertEqual(done.returncode, BAD_INPUT)
                self.assertEqual(done.stdout, "")
                self.assertEqual(len(done.stderr.splitlines()), 1, done.stderr)
                self.assertIn(str(path), done.stderr)

    def test_wrong_usage_ends_with_exit_code_64(self):
        for arguments in ([], ["judge"], ["no-such-verb"], ["judge", GOOD, "--no-such-option"],
                          ["judge", GOOD, "--format", "poem"]):
            with self.subTest(arguments=arguments):
                done = run(*arguments)
                self.assertEqual(done.returncode, WRONG_USAGE)
                self.assertEqual(done.stdout, "")
                self.assertNotEqual(done.stderr, "")

    def test_json_names_its_format_and_its_decision(self):
        done = run("judge", GOOD, "--format", "json")
        result = json.loads(done.stdout, parse_constant=lambda word: self.fail(f"not JSON: {word}"))
        self.assertEqual(result["format"], "rewound-result/1")
        self.assertEqual(result["decision"], "release")
        self.assertEqual([row["speed"] for row in result["draw"]], ["high", "medium", "low"])
        self.assertIsNone(result["steps"]["flag"])
        self.assertEqual(result["suspect_readings"], [])
        outcomes = {"conforms", "fails", "undecided", "not_tested"}
        self.assertTrue(all(finding["outcome"] in outcomes for finding in result["findings"]))

    def test_out_writes_what_standard_output_would_show(self):
        out = self.room / "report.txt"
        done = run("judge", GOOD, "--out", out)
        self.assertEqual((done.returncode, done.stdout), (RELEASED, ""))
        self.assertEqual(out.read_text(encoding="utf-8"), run("judge", GOOD).stdout)
        self.assertEqual([path.name for path in self.room.iterdir()], ["report.txt"])

    def test_an_output_that_cannot_be_written_is_an_error_and_leaves_nothing(self):
        done = run("judge", GOOD, "--out", self.room / "no such folder" / "report.txt")
        self.assertEqual(done.returncode, BAD_INPUT)
        self.assertEqual(list(self.room.iterdir()), [])

    def test_an_earlier_visit_and_a_policy_are_taken_into_account(self):
        earlier = self.altered("date = 2026-05-14", "date = 2025-05-14")
        self.assertIn("earlier visit", run("judge", GOOD, "--earlier", earlier).stdout)
        policy = self.room / "policy.toml"
        policy.write_text('format = "rewound-policy/1"\n[limits]\nearth_maximum_ohm = 0.01\n', encoding="utf-8")
        self.assertEqual(run("judge", GOOD, "--policy", policy).returncode, HELD)
        other = self.altered('id = "GH-07"', 'id = "GH-08"')
        self.assertEqual(run("judge", GOOD, "--earlier", other).returncode, BAD_INPUT)

    def test_the_template_is_a_record_that_can_be_judged(self):
        done = run("template")
        self.assertEqual(done.returncode, 0)
        path = self.room / "record.toml"
        path.write_text(done.stdout, encoding="utf-8")
        self.assertEqual(run("judge", path).returncode, UNDECIDED)

    def test_the_version_is_that_of_the_project(self):
        self.assertEqual(run("--version").stdout, f"rewound {os.environ['REWOUND_VERSION']}\n")


if __name__ == "__main__":
    unittest.main()
