# SPDX-License-Identifier: MIT
"""What the pages take from the project itself: tables of limits, keys of a record, coverage as it was measured."""

import collections
import csv
import dataclasses
import os
import pathlib

import docutils.nodes
import rewound
from docutils.statemachine import StringList
from rewound import _core
from sphinx.util.docutils import SphinxDirective

REPOSITORY = pathlib.Path(__file__).resolve().parents[2]


class _Table(SphinxDirective):
    """A table whose rows a subclass finds."""

    has_content = False

    def table(self, heads, rows, title="", widths="auto"):
        lines = [f".. list-table:: {title}", "   :header-rows: 1", f"   :widths: {widths}", ""]
        for row in [heads, *rows]:
            for place, cell in enumerate(row):
                lines.append(("   * - " if place == 0 else "     - ") + str(cell).replace("\n", " "))
        node = docutils.nodes.Element()
        self.state.nested_parse(StringList(lines, source="table"), self.content_offset, node)
        return node.children


class LimitsTable(_Table):
    """``.. limits:: NAME``: reference/limits/NAME.table with what its comment says."""

    required_arguments = 1

    def run(self):
        path = REPOSITORY / "reference" / "limits" / f"{self.arguments[0]}.table"
        self.env.note_dependency(str(path))
        lines = path.read_text(encoding="utf-8").splitlines()
        comment = " ".join(line[1:].strip() for line in lines if line.startswith("#"))
        heads, *rows = [
            [cell.strip() for cell in line.split("|")] for line in lines if line.strip() and not line.startswith("#")
        ]
        heads = [head.partition(":")[0].rstrip("_") for head in heads]
        shown = [[f"``{row[0]}``", *map(plain, row[1:])] for row in rows]
        return [docutils.nodes.paragraph(text=comment), *self.table([f"``{head}``" for head in heads], shown)]


def plain(cell):
    """A cell as text that means nothing to reStructuredText."""
    return "".join("\\" + c if c in "*`|\\_" else c for c in cell) or "\\ "


class RecordKeys(_Table):
    """``.. record-keys::``: every key of a record, section by section."""

    def run(self):
        sections = collections.defaultdict(list)
        for key in _core.record_keys():
            need = "needed" if key["needed"] else ""
            unit = f" [{key['unit']}]" if key.get("unit") else ""
            sections[key["section"]].append([f"``{key['name']}``", key["kind"].replace("_", " ") + unit, need])
        out = []
        for section, rows in sections.items():
            out += self.table(["key", "kind", ""], rows, title=f"``[{section}]``", widths="40 40 20")
        return out


class MeasuredCoverage(_Table):
    """``.. coverage::``: what tools/docs/coverage.py measured when the pages were made."""

    def run(self):
        with open(os.environ["REWOUND_COVERAGE"], encoding="utf-8", newline="") as table:
            heads, *rows = csv.reader(table)
        return self.table(heads, rows, widths="40 36 8 8 8")


def skip_fields(app, what, name, thing, skip, options):
    """Fields of named tuples and dataclasses stand in the docstring of their class."""
    field = type(thing).__name__ in ("_tuplegetter", "member_descriptor")
    return True if field or (getattr(thing, "__doc__", "") or "").startswith("Former name of") else None


def public_names(app, what, name, thing, options, signature, returns):
    """Compiled classes under the name that people know them by; what a function makes is not called."""
    if what == "class" and not dataclasses.is_dataclass(thing):
        return "", None
    return signature, returns and returns.replace("rewound._core.", "rewound.")


def setup(app):
    app.add_directive("limits", LimitsTable)
    app.add_directive("record-keys", RecordKeys)
    app.add_directive("coverage", MeasuredCoverage)
    app.connect("autodoc-skip-member", skip_fields)
    app.connect("autodoc-process-signature", public_names)
    return {"version": rewound.__version__, "parallel_read_safe": True}
