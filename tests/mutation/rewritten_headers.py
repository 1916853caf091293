# SPDX-License-Identifier: MIT
"""Headers with a mutant at each comparison, sign and number that decides (tools/mutate)."""

import dataclasses
import re
import shutil

# Loops over registers: their operators work on GCC's vector types, each width a function of its own instructions, and
# their results are held against plain loops (tests/unit/inside/test_mixture_kernel.cpp, test_curve_evidence.cpp).
LEFT_OUT = re.compile(r"_kernel\.hpp|_lanes\.hpp")
OPERATORS = {
    "<": ("less", ">"),
    ">": ("greater", "<"),
    "<=": ("at_most", ">="),
    ">=": ("at_least", "<="),
    "==": ("equal", "=="),
    "!=": ("unequal", "!="),
    "+": ("plus", "+"),
    "-": ("minus", "-"),
}
TOKEN = re.compile(
    r'"(?:[^"\\]|\\.)*"|\'(?:[^\'\\]|\\.)\'|//[^\n]*'
    r"|(?<=\s)(?:\+=|-=|<=|>=|==|!=|<|>|\+|-)(?=\s)"
    r"|(?:(?<=[(\[{])|(?<=[=,?:] )|(?<=return ))-(?=[\w(])"
    r"|(?<![\w.'])\d+\.\d*(?:e[+-]?\d+)?(?![\w.'])"
)
# A constant that decides is worked out when the program begins, or it could not be changed.
LOCAL_CONSTANT = re.compile(r"\bconstexpr ((?:double|auto|std::array) \w+ ?[={][^;]*rewound_mutant::)")
CONSTANT = re.compile(
    r"^inline constexpr (double|std::array(?:<[^=;]*?>)?) (\w+) ?=? ?((?:\{)?[^;]*?rewound_mutant::[^;]*);",
    re.MULTILINE,
)


def at_start(found):
    kind, name, value = found.groups()
    return f"inline const auto {name} = rewound_mutant::at_start([] {{ return {kind}{value if value[0] == '{' else '(' + value + ')'}; }});"


@dataclasses.dataclass(frozen=True)
class Place:
    """Where a mutant stands. What is the same in the next version of the file is its key."""

    header: str
    line: int
    word: str
    text: str
    nth: int  # of the same words on the same text in this header

    def key(self, neighbour):
        return f"{self.header} | {self.word} | {self.text} | {self.nth}{' | neighbour' if neighbour else ''}"


class Rewriter:
    """Numbers are even; the next odd one is a comparison's neighbour."""

    def __init__(self):
        self.places = {}

    def _replacement(self, word, mutant, in_front):
        if word in ("+=", "-="):
            return f"{word} rewound_mutant::added({mutant}) +="
        if in_front:
            return f"rewound_mutant::negative({mutant}) - "
        if word in OPERATORS:
            name, closing = OPERATORS[word]
            return f"{word} rewound_mutant::{name}({mutant}) {closing}"
        return f"rewound_mutant::limit({word}, {mutant})"

    def rewrite(self, name, text):
        out, at, seen = [], 0, {}
        for token in TOKEN.finditer(text):
            word = token.group(0)
            begin = text.rfind("\n", 0, token.start()) + 1
            line = text[begin : text.find("\n", token.start())]
            number = word[0].isdigit()
            if word[0] in "\"'/" or (number and float(word) in (0.0, 1.0, 2.0, 0.5)):
                continue
            if line.lstrip().startswith(("#", "static_assert", "template")) or "operator" in line or ".array()" in line:
                continue
            if "constexpr" in line and not re.search(r"constexpr (double|auto|std::array)", line):
                continue
            in_front = word == "-" and not text[token.end()].isspace()
            shown = "- in front" if in_front else word
            mutant = len(self.places) * 2 + 2
            nth = seen[shown, line] = seen.get((shown, line), 0) + 1
            self.places[mutant] = Place(name, text.count("\n", 0, token.start()) + 1, shown, line.strip(), nth)
            out += [text[at : token.start()], self._replacement(word, mutant, in_front)]
            at = token.end()
        rewritten = CONSTANT.sub(at_start, "".join([*out, text[at:]]))
        rewritten = LOCAL_CONSTANT.sub(r"const \1", rewritten)
        return rewritten.replace("#pragma once\n", "#pragma once\n\n#include <mutant.hpp>\n", 1)


def write_headers(root, target):
    """Writes what is changed below target and leaves what is not, so that a build is short. @return places by number"""
    rewriter = Rewriter()
    kept = set()
    for floor in ("checks", "verdict"):
        include = root / "libcore" / floor / "include"
        for path in sorted(include.rglob("*.hpp")):
            if LEFT_OUT.search(path.name):
                continue
            relative = path.relative_to(include)
            text = rewriter.rewrite(str(relative), path.read_text(encoding="utf-8"))
            place = target / relative
            place.parent.mkdir(parents=True, exist_ok=True)
            if not place.exists() or place.read_text(encoding="utf-8") != text:
                place.write_text(text, encoding="utf-8")
            kept.add(place)
    for path in target.rglob("*.hpp"):
        if path not in kept:
            path.unlink()
    return rewriter.places


def remove(target):
    shutil.rmtree(target, ignore_errors=True)
