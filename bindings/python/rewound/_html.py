# SPDX-License-Identifier: MIT
"""Results as short pieces of HTML for notebooks; every text from outside is escaped."""

from __future__ import annotations

import html
from typing import Any, List, Mapping, Sequence

import numpy as np

_MOST_ROWS = 20


def facts_and_lists(title: str, facts: Mapping[str, str], lists: Mapping[str, Sequence[str]]) -> str:
    """A title, facts one a line, and lists under their heads; an empty list is left out."""
    out = [f"<p><strong>{escaped(title)}</strong></p>"] if title else []
    if facts:
        lines = "<br>".join(f"{escaped(name)}: {escaped(value)}" for name, value in facts.items())
        out.append(f"<p>{lines}</p>")
    for head, entries in lists.items():
        if entries:
            items = "".join(f"<li>{escaped(entry)}</li>" for entry in entries)
            out.append(f"<p>{escaped(head)}</p><ul>{items}</ul>")
    return _block("".join(out))


def table(title: str, rows: Sequence[Mapping[str, Any]], note: str = "") -> str:
    """Rows with the keys of the first as heads; folded away where there are many."""
    if not rows:
        return ""
    heads = "".join(f'<th scope="col" style="text-align:left">{escaped(head)}</th>' for head in rows[0])
    lines = "".join(_line(row) for row in rows)
    body = f"<table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table>"
    caption = escaped(f"{title} ({note})" if note else title)
    if len(rows) > _MOST_ROWS:
        return _block(f"<details><summary>{caption}, {len(rows)} rows</summary>{body}</details>")
    return _block(f"<p>{caption}</p>{body}")


def curves_table(
    title: str,
    models: Sequence[str],
    status: Sequence[str],
    params: "np.ndarray[Any, Any]",
    chi2: "np.ndarray[Any, Any]",
) -> str:
    """The first curves of a fit, and how many more there are."""
    rows: List[Mapping[str, Any]] = []
    for i, model in enumerate(models[:_MOST_ROWS]):
        numbers = ", ".join(f"{value:.4g}" for value in params[i] if not np.isnan(value))
        rows.append({"curve": i, "model": model, "status": status[i], "parameters": numbers, "chi2": float(chi2[i])})
    more = len(models) - len(rows)
    return table(title, rows, note=f"{more} more not shown" if more else "")


def escaped(value: Any) -> str:
    """A cell as text that means nothing to a browser; numbers to four digits, what is absent as a dash."""
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return "-"
    if isinstance(value, float):
        return f"{value:.4g}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return html.escape(str(value), quote=True)


def _line(row: Mapping[str, Any]) -> str:
    cells = "".join(f'<td style="text-align:left">{escaped(value)}</td>' for value in row.values())
    return f"<tr>{cells}</tr>"


def _block(inside: str) -> str:
    return f'<div class="rewound">{inside}</div>'
