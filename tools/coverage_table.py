# SPDX-License-Identifier: MIT
"""Adds up what gcov counted: a line or branch is reached when any program's copy of it was. See tools/coverage."""

import argparse
import collections
import json
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[1]


def counted(build):
    """Reports of gcov, one a file of counters."""
    for counters in sorted(build.rglob("*.gcda")):
        done = subprocess.run(
            ["gcov", "--json-format", "--stdout", "--branch-probabilities", counters.name],
            cwd=counters.parent,
            capture_output=True,
            check=True,
        )
        for report in done.stdout.splitlines():
            yield json.loads(report)


def added_up(build):
    """Of each source of libcore: times each line and each of its branches was taken."""
    lines = collections.defaultdict(lambda: collections.defaultdict(int))
    branches = collections.defaultdict(dict)
    for report in counted(build):
        for file in report["files"]:
            path = pathlib.Path(report["current_working_directory"], file["file"]).resolve()
            if not path.is_relative_to(ROOT / "libcore"):
                continue
            name = str(path.relative_to(ROOT))
            for line in file["lines"]:
                number = line["line_number"]
                lines[name][number] += line["count"]
                # Branches to where an exception goes on are the compiler's, not ours.
                taken = [each["count"] for each in line["branches"] if not each["throw"]]
                before = branches[name].get(number, [])
                width = max(len(taken), len(before))
                branches[name][number] = [sum(pair) for pair in zip(filled(taken, width), filled(before, width))]
    return lines, branches


def filled(counts, width):
    return counts + [0] * (width - len(counts))


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("build", type=pathlib.Path)
    parser.add_argument("--least", type=float, default=95.0)
    asked = parser.parse_args()
    lines, branches = added_up(asked.build.resolve())
    if not lines:
        sys.exit("nothing was counted: run tools/coverage first")
    floors = collections.defaultdict(lambda: [0, 0, 0, 0])
    missed = []
    for name in lines:
        floor = floors[name.split("/")[1]]
        reached = sum(count > 0 for count in lines[name].values())
        of_branches = [count for counts in branches[name].values() for count in counts]
        for i, value in enumerate((reached, len(lines[name]), sum(c > 0 for c in of_branches), len(of_branches))):
            floor[i] += value
        missed.append((len(lines[name]) - reached, name))
    print(f"{'floor':<14}{'lines':>8}{'reached':>9}{'branches':>10}{'reached':>9}")
    total = [sum(column) for column in zip(*floors.values())]
    for name, (reached, all_lines, taken, all_branches) in [*sorted(floors.items()), ("all", total)]:
        share = 100.0 * taken / max(all_branches, 1)
        print(f"{name:<14}{all_lines:>8}{100.0 * reached / all_lines:>8.1f}%{all_branches:>10}{share:>8.1f}%")
    print("most lines not reached: " + ", ".join(f"{name} {count}" for count, name in sorted(missed)[:-6:-1] if count))
    return 0 if 100.0 * total[0] / total[1] >= asked.least else 1


if __name__ == "__main__":
    sys.exit(main())
