#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Rules of the source tree that no compiler keeps. Prints every violation and exits with 1 when there is any.

usage: check_structure.py ROOT         checks a source tree
       check_structure.py --self-test  plants each violation in a temporary tree and sees that it is found
"""

import pathlib
import re
import sys
import tempfile

LONGEST_LINE = 120
BANNED_IN_TESTS = "doctest" + "::Approx"
INCLUDE = re.compile(r'^\s*#\s*include\s*[<"]rewound/([^>"]+)[>"]', re.MULTILINE)
FLOORS = ["base", "units", "measurement", "record", "fit", "machine", "checks", "verdict", "job", "report"]
STATEFUL = re.compile(r"(?<!math::)\b(lgamma|rand|strtok|localtime|gmtime|asctime|setlocale)\(")


def sources(folder):
    return sorted(p for p in folder.rglob("*") if p.suffix in (".hpp", ".cpp", ".py", ".pyi", ".cmake"))


def headers_of(root, floor):
    return sorted((root / "libcore" / floor / "include").rglob("*.hpp"))


def includes(path):
    return INCLUDE.findall(path.read_text(encoding="utf-8"))


def siblings_blind(root):
    """A public header of checks/ includes of checks/ nothing but its detail/ and its own implementation, of which parts
    may stand in impl/<its name>/."""
    for path in headers_of(root, "checks"):
        for included in includes(path):
            check = path.parent.name if path.parent.parent.name == "impl" else path.stem
            own = pathlib.PurePath(included).stem == check or f"/impl/{check}/" in included
            if included.startswith("checks/") and not included.startswith("checks/detail/") and not own:
                yield f"{path}: a check includes its sibling {included}"


def fit_and_machine_blind(root):
    for floor, other in (("fit", "machine"), ("machine", "fit")):
        for path in headers_of(root, floor):
            for included in includes(path):
                if included.startswith(other + "/"):
                    yield f"{path}: {floor} includes {included}"


def details_private(root):
    for floor in FLOORS:
        for path in sources(root / "libcore" / floor):
            for included in includes(path):
                parts = included.split("/")
                if "detail" in parts and parts[0] != floor:
                    yield f"{path}: includes another floor's {included}"
    for folder in ("bindings", "tools"):
        for path in sources(root / folder):
            for included in includes(path):
                if "detail" in included.split("/"):
                    yield f"{path}: includes {included}"


def lines_short(root):
    for folder in ("libcore", "bindings", "tools", "tests"):
        for path in sources(root / folder):
            for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
                sentence = path.suffix == ".py" and '"' in line  # a string stays in one piece
                if len(line) > LONGEST_LINE and not sentence:
                    yield f"{path}:{number}: {len(line)} characters, at most {LONGEST_LINE}"


def approximate_banned(root):
    for path in sources(root / "tests"):
        if BANNED_IN_TESTS in path.read_text(encoding="utf-8"):
            yield f"{path}: {BANNED_IN_TESTS} passes vacuously on small values; use tests/support/near.hpp"


def threads_safe(root):
    """Functions of the C library that keep a state of their own are not called from what judges on several threads."""
    for path in [*sources(root / "libcore"), *sources(root / "tools" / "rewound" / "batch")]:
        for found in STATEFUL.findall(path.read_text(encoding="utf-8")):
            yield f"{path}: {found} keeps a state that threads share"


def tables_sourced(root):
    """Every row of a table that judges or ranks has a source, in its last column."""
    for folder in ("limits", "causes"):
        for path in sorted((root / "reference" / folder).glob("*.table")):
            lines = [
                line for line in path.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")
            ]
            if not lines or lines[0].rsplit("|", 1)[-1].strip() != "source:text":
                yield f"{path}: its last column is not source:text"
                continue
            for line in lines[1:]:
                if not line.rsplit("|", 1)[-1].strip():
                    yield f"{path}: no source: {line}"


def ranges_hold(root):
    """Every number of practice lies in the range that a policy may set it to."""
    for path in (root / "reference" / "limits").glob("practice.table"):
        lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
        names = [column.split(":")[0].strip() for column in lines[0].split("|")]
        for line in lines[1:]:
            row = dict(zip(names, line.split("|")))
            if not float(row["low"]) <= float(row["value"]) <= float(row["high"]):
                yield f"{path}: out of its range: {line}"


RULES = [
    siblings_blind,
    fit_and_machine_blind,
    details_private,
    lines_short,
    approximate_banned,
    threads_safe,
    tables_sourced,
    ranges_hold,
]


def check(root):
    """All violations; a tree without headers on some floor is one, so that nothing passes on an empty tree."""
    found = [f"{root}: no headers of {floor}" for floor in FLOORS if not headers_of(root, floor)]
    for rule in RULES:
        found += list(rule(root))
    return found


PLANTED = {
    siblings_blind: ("libcore/checks/include/rewound/checks/a.hpp", "#include <rewound/checks/b.hpp>\n"),
    fit_and_machine_blind: ("libcore/machine/include/rewound/machine/a.hpp", "#include <rewound/fit/linear.hpp>\n"),
    details_private: ("libcore/job/src/a.cpp", '  #include "rewound/checks/detail/a.hpp"\n'),
    lines_short: ("tools/rewound/a.cpp", "/" * (LONGEST_LINE + 1) + "\n"),
    tables_sourced: ("reference/causes/a.table", "cause:text | prior:number | source:text\nnone | 0.9 |\n"),
    ranges_hold: (
        "reference/limits/practice.table",
        "name:text | value:number | low:number | high:number | unit:text | source:text\nshare | 2 | 0 | 1 | 1 | x\n",
    ),
    threads_safe: ("libcore/job/src/a.cpp", "double ways = std::lgamma(n);\n"),
    approximate_banned: ("tests/unit/test_a.cpp", f"CHECK(a == {BANNED_IN_TESTS}(b));\n"),
}


def sound_tree(root):
    for floor in FLOORS:
        path = root / "libcore" / floor / "include" / "rewound" / floor / "sound.hpp"
        path.parent.mkdir(parents=True)
        path.write_text(f"#include <rewound/{floor}/detail/sound.hpp>\n", encoding="utf-8")


def self_test():
    failures = []
    if set(PLANTED) != set(RULES):
        failures.append("a rule has no planted violation")
    with tempfile.TemporaryDirectory() as empty:
        if not check(pathlib.Path(empty)):
            failures.append("an empty tree passes")
    with tempfile.TemporaryDirectory() as folder:
        sound_tree(pathlib.Path(folder))
        failures += [f"a sound tree is refused: {found}" for found in check(pathlib.Path(folder))]
    for rule, (name, text) in PLANTED.items():
        with tempfile.TemporaryDirectory() as folder:
            root = pathlib.Path(folder)
            sound_tree(root)
            path = root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
            if len(list(rule(root))) != 1 or len(check(root)) != 1:
                failures.append(f"{rule.__name__} does not find what was planted")
    return failures


def main(arguments):
    if arguments == ["--self-test"]:
        found = self_test()
    elif len(arguments) == 1:
        found = check(pathlib.Path(arguments[0]))
    else:
        sys.exit(__doc__)
    print("\n".join(found) if found else "no violation")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
