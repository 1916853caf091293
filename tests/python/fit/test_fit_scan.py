# SPDX-License-Identifier: MIT
"""The weighted magnetising and log-quadratic fits are the lowest of several minima.

Source: a dense scan of the exponents in NumPy, refined by SciPy.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize

import rewound
from families import current_of

SCANNED = np.linspace(1.2, 12.0, 2001)


def best_for(x, current, weights, m):
    """The sum of squares with the best a and b, for each m, by projection on what lies across x."""
    root = np.sqrt(weights)
    line = root * x / x.max()
    unit = line / np.linalg.norm(line)
    across = root * current
    for _ in range(2):
        across = across - unit * (unit @ across)
    bend = line * np.expm1(np.outer(np.atleast_1d(m) - 1, np.log(x / x.max())))
    for _ in range(2):
        bend = bend - np.outer(bend @ unit, unit)
    b = (bend @ across) / np.sum(bend**2, axis=1)
    return np.sum((across - b[:, None] * bend) ** 2, axis=1)


def lowest_by_scan(x, current, weights):
    """The lowest minimum, and how many there are."""
    sums = best_for(x, current, weights, SCANNED)
    padded = np.concatenate([[np.inf], sums, [np.inf]])
    minima = np.flatnonzero((sums <= padded[:-2]) & (sums < padded[2:]))
    best = sums.min()
    for i in minima:
        if sums[i] > 1.1 * best:
            continue
        around = SCANNED[max(0, i - 1)], SCANNED[min(len(SCANNED) - 1, i + 1)]
        found = optimize.minimize_scalar(
            lambda m: best_for(x, current, weights, m)[0], bounds=around, method="bounded", options={"xatol": 1e-11}
        )
        best = min(best, found.fun)
    return best, len(minima)


def curves(kind, count, rng):
    readings = np.array([5, 8, 12])[rng.integers(0, 3, count)]
    for n in readings:
        x = {
            "run_up": lambda: rng.uniform(0.3, 1.15, n),
            "scattered": lambda: rng.uniform(0.2, 1.3, n),
            "wide": lambda: np.exp(rng.uniform(-4.0, 4.0, n)),
            "narrow": lambda: rng.uniform(0.95, 1.05, n),
        }[kind]()
        truth = rng.uniform(0.1, 1.0) * x + rng.uniform(0.01, 0.5) * x ** rng.uniform(1.5, 10.0)
        current = {
            "run_up": truth * np.exp(rng.normal(0.0, rng.choice([1e-4, 0.003, 0.02]), n)),
            "scattered": rng.uniform(0.05, 1.5, n),
            "wide": np.exp(rng.normal(0.0, 1.0, n)),
            "narrow": 0.5 * x * np.exp(rng.normal(0.0, 0.01, n)),
        }[kind]
        yield x, current, rng.uniform(0.1, 40.0, n)


@pytest.mark.parametrize("kind, count", [("run_up", 1000), ("scattered", 700), ("wide", 400), ("narrow", 400)])
def test_no_power_of_a_dense_scan_fits_better(kind, count):
    several = at_ends = 0
    for x, current, weights in curves(kind, count, np.random.default_rng(21)):
        fit = rewound.fit_draw(x, current, rated_voltage_V=1.0, model="magnetising", weights=weights)
        lowest, minima = lowest_by_scan(x, current, weights)
        assert fit.status == ["converged"]
        assert fit.chi2[0] == pytest.approx(lowest, rel=1e-8, abs=0)
        # The parameters are those of the sum: judged where rounding of a x + b x^m cannot show.
        left = np.sum(weights * (current - current_of("magnetising", fit.params[0], x)) ** 2)
        assert left == pytest.approx(lowest, rel=1e-8, abs=1e-20 * np.sum(weights * current**2))
        several += minima > 1
        at_ends += fit.params[0, 2] in (1.2, 12.0)
    # The check would be empty if no problem had a second minimum or one at an end.
    assert at_ends > 0 and (several > count / 20 or kind in ("run_up", "narrow"))


def lowest_parabola(x, current, weights):
    """The lowest sum of squares of A e^(n z + c z^2) over a dense grid of n and c, refined by SciPy; A is linear."""
    z = np.log(x)
    root = np.sqrt(weights)

    def sums(n, c):
        shape = root * np.exp(np.multiply.outer(n, z) + np.multiply.outer(c, z**2))
        unit = shape / np.linalg.norm(shape, axis=-1, keepdims=True)
        left = root * current - unit * np.sum(unit * root * current, axis=-1, keepdims=True)
        return np.sum(left**2, axis=-1)

    n, c = np.meshgrid(np.linspace(-6.0, 12.0, 181), np.linspace(-8.0, 10.0, 181), indexing="ij")
    scanned = sums(n, c)
    padded = np.pad(scanned, 1, constant_values=np.inf)
    beside = [padded[1 + i : 182 + i, 1 + j : 182 + j] for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]
    best = np.inf
    for i, j in np.argwhere(np.all([scanned <= other for other in beside], axis=0)):
        found = optimize.least_squares(
            lambda p: root * (current - np.exp(p[0] + p[1] * z + p[2] * z**2)),
            [np.log(np.average(current / np.exp(n[i, j] * z + c[i, j] * z**2))), n[i, j], c[i, j]],
            x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15,
        )  # fmt: skip
        best = min(best, 2 * found.cost)
    return best, scanned.min()


@pytest.mark.parametrize("noise", [1e-3, 0.02, 0.2])
def test_no_parabola_of_a_dense_scan_fits_better(noise):
    # Source: a dense scan of both exponents in NumPy, refined by SciPy.
    rng = np.random.default_rng(33)
    for n in np.repeat([5, 8, 12], 12):
        x = rng.uniform(0.3, 1.15, n)
        z = np.log(x)
        truth = 0.4 * np.exp(rng.uniform(0.8, 2.2) * z + rng.uniform(-0.5, 1.0) * z**2)
        current = truth * np.exp(rng.normal(0.0, noise, n))
        weights = rng.uniform(0.1, 40.0, n)
        fit = rewound.fit_draw(x, current, rated_voltage_V=1.0, model="log_quadratic", weights=weights)
        refined, scanned = lowest_parabola(x, current, weights)
        assert fit.status == ["converged"]
        assert fit.chi2[0] <= min(refined * (1 + 1e-8), scanned)


def test_lower_of_two_minima_is_taken_on_either_side():
    # Source: the scan. A weight on the last reading moves the lowest minimum from one end to the other.
    x = np.array([0.3, 0.5, 0.7, 0.9, 1.1])
    current = np.array([0.16, 0.2, 0.33, 0.33, 0.5])
    powers = []
    for weight in np.geomspace(0.01, 100.0, 41):
        weights = np.array([1.0, 1.0, 1.0, 1.0, weight])
        fit = rewound.fit_draw(x, current, rated_voltage_V=1.0, model="magnetising", weights=weights)
        lowest, _ = lowest_by_scan(x, current, weights)
        assert fit.chi2[0] == pytest.approx(lowest, rel=1e-8)
        powers.append(fit.params[0, 2])
    assert np.ptp(powers) > 5


def test_m_that_the_readings_do_not_tell_is_singular():
    x = np.array([0.4, 0.6, 0.8, 1.0, 1.1])
    for a in (0.4, 1e-6, 3e5):
        fit = rewound.fit_draw(x, a * x, rated_voltage_V=1.0, model="magnetising", weights=np.ones(5))
        assert fit.status == ["singular"] and np.isnan(fit.params).all()


def test_negative_levels_are_found_and_predicted():
    # Source: the curve that made the readings.
    x = np.array([0.3, 0.5, 0.7, 0.9, 1.0, 1.1])
    truth = [0.8, -0.25, 3.0]
    fit = rewound.fit_draw(
        230 * x, current_of("magnetising", truth, x), rated_voltage_V=230.0, model="magnetising", weights=np.ones(6)
    )
    assert_allclose(fit.params[0], truth, rtol=1e-8)
    assert_allclose(fit.predict(2 * 230.0)[0], [1.6 - 2.0], rtol=1e-6)  # below 0: an extrapolation shows it


@pytest.mark.parametrize("seed", range(12))
def test_robust_fit_is_hubers_minimum(seed):
    # Source: scipy.optimize.least_squares on Huber's sum at the plain fit's scale, from the fit's own end.
    rng = np.random.default_rng(seed)
    x = np.linspace(0.35, 1.1, 12)
    current = (0.3 * x + 0.12 * x**5) * np.exp(rng.normal(0.0, 0.005, 12))
    current[[3, 8]] *= [1.2, 0.85]
    weights = rng.uniform(0.5, 2.0, 12)
    common = dict(rated_voltage_V=1.0, model="magnetising", weights=weights)
    plain = rewound.fit_draw(x, current, **common)
    robust = rewound.fit_draw(x, current, robust=True, **common)
    assert robust.status == ["converged"]

    def z(p):
        return np.sqrt(weights) * (current - current_of("magnetising", p, x))

    scale = 1.4826 * np.median(np.abs(z(plain.params[0])))
    huber = dict(loss="huber", f_scale=1.345 * scale)
    found = optimize.least_squares(
        z, robust.params[0], jac="3-point", x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15,
        bounds=([-np.inf, -np.inf, 1.2 - 1e-9], [np.inf, np.inf, 12 + 1e-9]), **huber,
    )  # fmt: skip
    at_start = optimize.least_squares(z, robust.params[0], max_nfev=1, **huber)
    assert at_start.cost <= found.cost * (1 + 1e-8)
    share = np.minimum(1.0, 1.345 * scale / np.abs(z(robust.params[0])))
    assert_allclose(robust.chi2[0], np.sum(share * z(robust.params[0]) ** 2), rtol=1e-8)
