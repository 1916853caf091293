# SPDX-License-Identifier: MIT
"""The curve families and their sums of squares in NumPy, written from the formulas alone."""

import numpy as np
from scipy import optimize

FAMILIES = ("proportional", "power", "log_quadratic", "magnetising", "magnetising_load")


def current_of(model, p, x):
    z = np.log(x)
    if model == "proportional":
        return p[0] * x
    if model == "power":
        return p[0] * x ** p[1]
    if model == "log_quadratic":
        return np.exp(p[0] + p[1] * z + p[2] * z**2)
    if model == "magnetising":
        return p[0] * x + p[1] * x ** p[2]
    return np.sqrt((p[0] * x + p[1] * x ** p[2]) ** 2 + (p[3] / x + p[4] * x) ** 2)


def exponent_of(model, p, x):
    """d ln I / d ln x by the complex step."""
    step = 1e-20
    return np.imag(np.log(current_of(model, p, x * np.exp(1j * step)))) / step


def residuals(p, model, x, current, weights=None, u_current=0.01, u_x=0.005):
    if weights is not None:
        return np.sqrt(weights) * (current - current_of(model, p, x))
    variance = u_current**2 + (exponent_of(model, p, x) * u_x) ** 2
    return (np.log(current) - np.log(current_of(model, p, x))) / np.sqrt(variance)


def bounds_of(model, weighted):
    if model in ("proportional", "power"):
        return [1e-9, -np.inf][: 1 if model == "proportional" else 2], np.inf
    if model == "log_quadratic":
        return -np.inf, np.inf
    low = np.zeros(3 if model == "magnetising" else 5)
    high = np.full(len(low), np.inf)
    low[2], high[2] = (1.2 if weighted else 2.0), 12.0
    return low, high


def random_start(model, x, current, rng):
    level = np.exp(np.mean(np.log(current / x)))
    if model == "proportional":
        return [level]
    if model == "power":
        return [level * rng.uniform(0.5, 2.0), rng.uniform(0.0, 4.0)]
    if model == "log_quadratic":
        return np.polyfit(np.log(x), np.log(current), 2)[::-1] + rng.normal(0.0, [0.1, 0.3, 0.3])
    shares = level * rng.uniform(0.02, 1.0, 4)
    m = rng.uniform(2.1, 11.9)
    return [shares[0], shares[1], m] if model == "magnetising" else [shares[0], shares[1], m, shares[2], shares[3]]


def lowest_by_scipy(model, x, current, weights, rng, starts=5):
    """The lowest sum of squares that scipy.optimize.least_squares finds from random starts within the bounds."""
    best = np.inf
    for _ in range(starts):
        found = optimize.least_squares(
            residuals, random_start(model, x, current, rng), args=(model, x, current, weights), jac="3-point",
            bounds=bounds_of(model, weights is not None), x_scale="jac", ftol=1e-13, xtol=1e-13, gtol=1e-13,
            max_nfev=300,
        )  # fmt: skip
        best = min(best, 2 * found.cost)
    return best


def run_up(seed, readings, kind="magnetising", scatter=0.005):
    """x and currents [A] of one invented curve with relative scatter."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0.3, 1.15, readings))
    a, b, m = rng.uniform(0.1, 1.0), rng.uniform(0.01, 0.5), rng.uniform(2.0, 10.0)
    p, g = rng.uniform(0.0, 0.3), rng.uniform(0.0, 0.4)
    if kind == "magnetising":
        truth = current_of("magnetising", [a, b, m], x)
    else:
        truth = current_of("magnetising_load", [a, b, m, p, g], x)
    return x, truth * np.exp(rng.normal(0.0, scatter, readings))
