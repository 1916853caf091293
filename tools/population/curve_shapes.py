#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Writes reference/machines/curve_shape_*.table: the shapes that curves of current against voltage take.

A few thousand machines are drawn at random and solved (machine_model.py); power laws with a bend and saturating
curves in closed form stand beside them, so that a machine which the model does not know is not thought impossible.
Each curve, ln(current / current at rated voltage) over z = ln(voltage / rated), is put into a common basis: z, z^2,
and six functions that carry what parabolas of these curves leave over. The coefficients are then gathered into kinds,
each with mean and covariance: a mixture of normal distributions, which a judgement of readings uses as its prior.

    tools/population/curve_shapes.py            about four minutes on one core
"""

import pathlib
import sys

import numpy as np

from machine_model import log_currents, random_machine

MACHINES = 7000
SEED = 20260514
NODES = np.linspace(np.log(0.30), np.log(1.25), 40)
READ = (NODES > np.log(0.42)) & (NODES < np.log(1.12))  # where run-ups are read: what the basis must follow best
EXTRA_FUNCTIONS = 6
FAMILIES_SHARE = 4.0  # of the prior probability, in parts: closed forms (four of one part each) ...
LOADED_SHARE, BARE_SHARE = 4.0, 2.0  # ... machines with their fan on, and bare
LOADED_KINDS, BARE_KINDS = 12, 4
ROOT = pathlib.Path(__file__).resolve().parents[2]


def simulated(random):
    curves, loaded = [], []
    while len(curves) < MACHINES:
        machine = random_machine(random)
        curve = log_currents(machine, np.exp(NODES))
        # Machines that stall within the usual run-up are left out: their stalled readings are no running curve.
        if curve is None or np.isnan(curve).any():
            continue
        curves.append(curve - np.interp(0.0, NODES, curve))
        loaded.append(machine.loaded)
        if len(curves) % 500 == 0:
            print(f"{len(curves)} of {MACHINES} machines", file=sys.stderr)
    return np.array(curves), np.array(loaded)


def closed_forms(random, count=1500):
    """Bent power laws, and a x + b x^m with gentle, usual and sharp saturation (spreads: common practice, no
    source)."""
    z = NODES
    out = [np.array([random.normal(0.9, 0.6) * z + random.normal(0.3, 0.7) * z * z for _ in range(count)])]
    for low, high in ((2.0, 4.0), (4.0, 7.0), (7.0, 12.0)):
        share, power = random.uniform(0.0, 0.6, count), random.uniform(low, high, count)
        tilt = random.normal(0.0, 0.08, count)
        out.append(
            np.array([np.log((1 - b) * np.exp(z) + b * np.exp(m * z)) + t * z for b, m, t in zip(share, power, tilt)])
        )
    return out


def parabola_misfit(curves, weights):
    terms = np.stack([NODES, NODES**2], axis=1)
    fitted = np.linalg.lstsq(terms * weights[:, None], (curves * weights).T, rcond=None)[0]
    return curves - (terms @ fitted).T


def basis_of(curves):
    """Columns z, z^2 and the principal directions of what parabolas leave over, each 1 at most where run-ups are
    read."""
    weights = np.where(READ, 1.0, 0.3)
    directions = np.linalg.svd(parabola_misfit(curves, weights) * weights, full_matrices=False)[2][:EXTRA_FUNCTIONS]
    extra = directions / weights
    # 0 at the rated voltage, so that the level of a curve is its value there.
    extra -= np.array([np.interp(0.0, NODES, row) for row in extra])[:, None]
    extra /= np.abs(extra[:, READ]).max(axis=1)[:, None]
    return np.concatenate([np.stack([NODES, NODES**2], axis=1), extra.T], axis=1), weights


def groups(points, count, random):
    centres = points[random.choice(len(points), count, replace=False)]
    for _ in range(60):
        nearest = ((points[:, None] - centres[None]) ** 2).sum(-1).argmin(1)
        centres = np.array([points[nearest == j].mean(0) if (nearest == j).any() else centres[j] for j in range(count)])
    return nearest


def kinds_of(name, curves, share, count, basis, weights, random):
    """(name, weight, mean, Cholesky factor of the covariance) of `count` groups of like shape."""
    coefficients = np.linalg.lstsq(basis * weights[:, None], (curves * weights).T, rcond=None)[0].T
    shapes = (basis[READ] @ coefficients.T).T
    shapes = shapes - shapes.mean(0)
    _, sizes, directions = np.linalg.svd(shapes, full_matrices=False)
    # Square roots of the directions' sizes: small bends count too, but not as much as large ones.
    points = shapes @ directions[:5].T / np.sqrt(sizes[:5] / np.sqrt(len(shapes)))
    nearest = groups(points, count, random)
    out = []
    for j in range(count):
        members = coefficients[nearest == j]
        if len(members) < 25:
            continue
        covariance = np.cov(members.T) + 1e-10 * np.eye(basis.shape[1])
        out.append(
            (
                f"{name}_{len(out) + 1}",
                share * len(members) / len(curves),
                members.mean(0),
                np.linalg.cholesky(covariance),
            )
        )
    return out


def write_tables(basis, kinds):
    folder = ROOT / "reference" / "machines"
    origin = "# Made by tools/population/curve_shapes.py from the project's own simulation; not to be edited.\n"
    columns = basis.shape[1]
    with open(folder / "curve_shape_basis.table", "w") as out:
        out.write(
            "# Basis of curve shapes: values at log_x = ln(voltage / rated voltage), straight lines between.\n" + origin
        )
        out.write(" | ".join(["log_x:number"] + [f"f{j}:number" for j in range(columns)]) + "\n")
        for z, row in zip(NODES, basis):
            out.write(" | ".join(f"{value:.6f}" for value in [z, *row]) + "\n")
    total = sum(weight for _, weight, _, _ in kinds)
    with open(folder / "curve_shape_kinds.table", "w") as out:
        out.write(
            "# Kinds of curve: prior weight, mean coefficients, and rows of the covariance's Cholesky factor.\n"
            + origin
        )
        out.write(
            " | ".join(["kind:text", "weight:number", "mean:number"] + [f"l{j}:number" for j in range(columns)]) + "\n"
        )
        for name, weight, mean, factor in kinds:
            for value, row in zip(mean, factor):
                numbers = " | ".join(f"{x:.6f}" for x in row)
                out.write(f"{name} | {weight / total:.6f} | {value:.6f} | {numbers}\n")


def main():
    random = np.random.default_rng(SEED)
    curves, loaded = simulated(random)
    forms = closed_forms(random)
    basis, weights = basis_of(np.concatenate([curves] + [form[:300] for form in forms[1:]]))
    # A machine is never quite like its model: exponents are spread by 0.05 more (common practice, no source).
    curves = curves + random.normal(0.0, 0.05, (len(curves), 1)) * NODES
    kinds = []
    names = ["bent", "saturating_gently", "saturating", "saturating_sharply"]
    for name, form in zip(names, forms):
        kinds += kinds_of(name, form, FAMILIES_SHARE / len(forms), 1, basis, weights, random)
    kinds += kinds_of("loaded", curves[loaded], LOADED_SHARE, LOADED_KINDS, basis, weights, random)
    kinds += kinds_of("bare", curves[~loaded], BARE_SHARE, BARE_KINDS, basis, weights, random)
    write_tables(basis, kinds)


if __name__ == "__main__":
    main()
