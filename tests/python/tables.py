# SPDX-License-Identifier: MIT
"""Rows of the oracle tables of reference/oracles/, as Python sees them."""

import pathlib

FOLDER = pathlib.Path(__file__).resolve().parents[2] / "reference" / "oracles"


def rows(table, quantity):
    """The rows of one quantity: (inputs as a dict of numbers, expected, tolerance); at least one."""
    found = []
    for line in (FOLDER / table).read_text(encoding="utf-8").splitlines():
        if line.startswith(("#", "id|")) or not line.strip():
            continue
        _, name, inputs, expected, tolerance, _ = line.split("|")
        if name == quantity:
            given = {key: float(value) for key, value in (pair.split("=") for pair in inputs.split(";"))}
            found.append((given, float(expected), float(tolerance)))
    assert found, f"{table} has no {quantity}"
    return found
