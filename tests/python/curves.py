# SPDX-License-Identifier: MIT
"""Invented curves for the fit tests, always from a stated seed, and a reader for the oracle files."""

import numpy as np

RATED = 230.0


def power_curve(seed, readings=8, scatter=0.02):
    """Voltages [V] and currents [A] of one curve a x^n with relative scatter."""
    rng = np.random.default_rng(seed)
    voltage = np.sort(rng.uniform(0.4, 1.1, readings)) * RATED
    a, n = rng.uniform(0.05, 5.0), rng.uniform(0.6, 3.0)
    current = a * (voltage / RATED) ** n * np.exp(rng.normal(0.0, scatter, readings))
    return voltage, current


def random_weights(seed, readings=8):
    return np.random.default_rng(seed + 1000).uniform(0.1, 40.0, readings)


def oracle_table(path):
    """Named lines and the rows of numbers of a file in reference/oracles."""
    named, rows = {}, []
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("#"):
            continue
        key, *cells = (cell.strip() for cell in line.split("|"))
        if key == "row":
            rows.append([float(cell) for cell in cells])
        elif key == "parameter":
            named[cells[0]] = [float(cell) for cell in cells[1:]]
        else:
            named[key] = cells
    return named, np.array(rows)
