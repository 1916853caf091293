#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Sees by clang that every public header compiles with nothing before it but what it includes itself.

usage: stand_alone.py BUILD COMPILER     the headers that CMake verifies in this build, each with its own floor's paths
       stand_alone.py --self-test COMPILER

A header is compiled behind one that it reaches by its own includes, which was compiled from nothing and is kept:
nothing is in sight then that would not be so without it, since a header's includes stand before all it says itself
(where they do not, it is compiled from nothing). So what many headers share is read a few times, and a header that
leans on what another happens to include still does not compile. Declarations are compiled without bodies, and each
file of bodies (impl/) once, by itself, as the compiled floors take it: sterner than by inclusion, where bodies of
other headers are in sight. That all can be used by inclusion alone is seen once, together, <rewound/rewound.hpp> first.
"""

import json
import pathlib
import re
import shlex
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

ALL_OF_IT = "rewound/rewound.hpp"
BODIES_ELSEWHERE = "-DREWOUND_COMPILED"
BUILT = ("job", "report")  # floors that are compiled libraries in any case
VERIFIED = "_verify_interface_header_sets/"
INCLUDE = re.compile(r"^\s*#\s*include\s*<([^>]+)>", re.MULTILINE)
COMMENT = re.compile(r"//[^\n]*|/\*.*?\*/", re.DOTALL)


def paths_and_names(command):
    """What decides which headers are seen and how: include paths in their order, macros, the language."""
    kept, words = [], iter(shlex.split(command))
    for word in words:
        if word == "-isystem":
            kept += [word, next(words)]
        elif word.startswith(("-I", "-D", "-std=")):
            kept.append(word)
    return kept


def verified_headers(build):
    """(name of a header, its flags) for every header that CMake verifies, and for the bodies behind them."""
    found = {}
    for entry in json.loads((build / "compile_commands.json").read_text(encoding="utf-8")):
        if VERIFIED in entry["file"]:
            name = entry["file"].rsplit(VERIFIED, 1)[1].removesuffix(".cxx")
            found[name] = paths_and_names(entry["command"])
    for name, flags in list(found.items()):
        if name == ALL_OF_IT or name.split("/")[1] in BUILT:
            continue
        if BODIES_ELSEWHERE not in flags:
            flags.append(BODIES_ELSEWHERE)
        seen = tree(flags)
        todo = [name]
        while todo:
            for each in INCLUDE.findall(seen.text(todo.pop())):
                # What is read several times, for one width of registers after the other, is no header of its own.
                if "/impl/" in each and each not in found and "#pragma once" in seen.text(each):
                    found[each] = flags
                    todo.append(each)
    return found


def own_includes(text):
    """The library's headers that a header includes before it says anything; none if it includes more after that."""
    found, spoken = [], False
    for line in text.splitlines():
        included = INCLUDE.match(line)
        if included and "/impl/" in included[1]:
            continue  # its bodies, at its end
        if included and spoken:
            return []
        if included and included[1].startswith("rewound/"):
            found.append(included[1])
        elif line.strip() and not line.lstrip().startswith("#"):
            spoken = True
    return found


def weight(included):
    """About what an include costs beside others: what is heavy counts for many."""
    return 8 if included.startswith(("Eigen/", "boost/")) else 1


class tree:
    """The headers as they are seen under one set of flags."""

    def __init__(self, flags):
        self.roots = [pathlib.Path(flag[2:]) for flag in flags if flag.startswith("-I")]
        self.bodies = BODIES_ELSEWHERE not in flags
        self.texts, self.reached, self.weights = {}, {}, {}

    def text(self, name):
        if name not in self.texts:
            path = next((path for root in self.roots if (path := root / name).exists()), None)
            self.texts[name] = "" if path is None else COMMENT.sub("", path.read_text(encoding="utf-8"))
        return self.texts[name]

    def reach(self, name):
        """The headers of the library that are read whole before a header says anything itself."""
        if name not in self.reached:
            seen = set()
            for included in own_includes(self.text(name)):
                seen |= {included} | self.reach(included)
            self.reached[name] = seen
        return self.reached[name]

    def cost(self, name):
        if name not in self.weights:
            seen, todo = set(), [name]
            while todo:
                for included in INCLUDE.findall(self.text(todo.pop())):
                    if included not in seen and (self.bodies or "/impl/" not in included):
                        seen.add(included)
                        todo.append(included)
            self.weights[name] = 1 + sum(map(weight, seen))
        return self.weights[name]


def worth_keeping(seen, names, most=12):
    """The headers behind which the others are compiled: those that spare most, one after the other."""
    kept, spared = [], dict.fromkeys(names, 0)
    candidates = sorted(set().union(*map(seen.reach, names)))
    for _ in range(most):

        def gain(candidate):
            behind = [name for name in names if candidate in seen.reach(name)]
            return sum(max(0, seen.cost(candidate) - spared[name]) for name in behind) - 2 * seen.cost(candidate)

        best = max(candidates, key=gain, default=None)
        if best is None or gain(best) <= 0:
            break
        kept.append(best)
        for name in names:
            if best in seen.reach(name):
                spared[name] = max(spared[name], seen.cost(best))
    return kept


def compiled(compiler, name, flags, *, more=(), behind=None, kept=None, folder):
    """Compiles a header from nothing, or behind one that was kept; what the compiler says if it does not compile."""
    stub = folder / name.replace("/", "_")
    stub.write_text("".join(f"#include <{each}>\n" for each in (name, *more)), encoding="utf-8")
    command = [compiler, *flags, "-w", "-x", "c++-header", str(stub)]
    command += ["-include-pch", str(behind)] if behind else []
    command += ["-fpch-instantiate-templates", "-o", str(kept)] if kept else ["-fsyntax-only"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    return run.stderr if run.returncode else ""


def failures_of_a_floor_set(headers, compiler, folder):
    """Of headers that see the same macros; `headers` are names and flags."""
    # Who sees most sees every floor below.
    flags = max(headers.values(), key=len)
    seen = tree(flags)
    where = {name: folder / f"{i}.pch" for i, name in enumerate(worth_keeping(seen, list(headers)))}

    def keep(name):
        return name, compiled(compiler, name, headers.get(name, flags), kept=where[name], folder=folder)

    def one(name):
        behind = max((each for each in seen.reach(name) if each in where), key=seen.cost, default=None)
        return name, compiled(compiler, name, headers[name], behind=where.get(behind), folder=folder)

    with ThreadPoolExecutor(2) as pool:
        said = {name: text for name, text in pool.map(keep, where) if text}
        if not said:
            said = {name: text for name, text in pool.map(one, [each for each in headers if each not in where]) if text}
    return said


def failures(headers, compiler):
    """What the compiler says of each header that does not stand alone."""
    said, sets = {}, {}
    for name, flags in headers.items():
        if name != ALL_OF_IT:
            macros = tuple(sorted(flag for flag in flags if flag.startswith("-D")))
            sets.setdefault(macros, {})[name] = flags
    if ALL_OF_IT in headers:
        names = [name for name in headers if name.split("/")[1] not in BUILT and "/impl/" not in name]
        with tempfile.TemporaryDirectory() as folder:
            found = compiled(compiler, ALL_OF_IT, headers[ALL_OF_IT], more=names, folder=pathlib.Path(folder))
            said |= {ALL_OF_IT: found} if found else {}
    for each in sets.values():
        with tempfile.TemporaryDirectory() as folder:
            said |= failures_of_a_floor_set(each, compiler, pathlib.Path(folder))
    return said


# A header of each kind: name, text, and whether it stands alone.
PLANTED = [
    ("low", "#include <string>\ninline std::string low() { return {}; }\n", True),
    ("other", "#include <vector>\ninline std::vector<int> other() { return {}; }\n", True),
    ("lacks_standard", "inline std::string lacking() { return {}; }\n", False),
    ("lacks_ours", "#include <rewound/low.hpp>\ninline auto lacking() { return other(); }\n", False),
    (
        "high",
        "#include <rewound/low.hpp>\n#include <rewound/other.hpp>\ninline auto high() { return other(); }\n",
        True,
    ),
    ("leans", "#include <rewound/low.hpp>\ninline auto leaning() { return high(); }\n", False),
    ("late", "inline std::string late();\n#include <rewound/low.hpp>\n", False),
    ("bodies", "#include <rewound/low.hpp>\nint bodies();\n#include <rewound/impl/bodies.hpp>\n", True),
    ("bad_bodies", "#include <rewound/low.hpp>\nint bad();\n#include <rewound/impl/bad_bodies.hpp>\n", False),
]
BODIES = {"bodies": "inline int bodies() { return 1; }\n", "bad_bodies": "inline int bad() { return other()[0]; }\n"}


def self_test(compiler):
    with tempfile.TemporaryDirectory() as folder:
        root = pathlib.Path(folder) / "rewound"
        (root / "impl").mkdir(parents=True)
        for name, text, _ in PLANTED:
            (root / f"{name}.hpp").write_text("#pragma once\n" + text, encoding="utf-8")
        for name, text in BODIES.items():
            (root / "impl" / f"{name}.hpp").write_text("#pragma once\n" + text, encoding="utf-8")
        flags = ["-I" + folder, "-std=c++20"]
        found = failures({f"rewound/{name}.hpp": flags for name, _, _ in PLANTED}, compiler)
    expected = {f"rewound/{name}.hpp" for name, _, alone in PLANTED if not alone}
    return [f"{name}: told wrongly" for name in sorted(expected ^ set(found))]


def main(arguments):
    if len(arguments) != 2:
        sys.exit(__doc__)
    if arguments[0] == "--self-test":
        found = self_test(arguments[1])
    else:
        headers = verified_headers(pathlib.Path(arguments[0]))
        said = failures(headers, arguments[1])
        found = [f"{name}\n{text}" for name, text in said.items()] or ([] if headers else ["no headers"])
        print(f"{len(headers)} headers")
    print("\n".join(found) if found else "each stands alone")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
