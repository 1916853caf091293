# SPDX-License-Identifier: MIT
"""Robust fits against an independent iteration in NumPy, and against what Huber's function promises."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize

import rewound
from curves import RATED, power_curve, random_weights
from families import residuals

K = 1.345


def with_outliers(seed):
    voltage, current = power_curve(seed, readings=12, scatter=0.01)
    current[[2, 9]] *= [1.4, 0.7]
    return voltage, current, random_weights(seed, 12)


def weighted_fit(x, current, weights, start):
    """Gauss-Newton in NumPy on sum w (I - a x^n)^2, to rounding."""
    a, n = start
    for _ in range(200):
        f = a * x**n
        design = np.sqrt(weights)[:, None] * np.column_stack([f / a, f * np.log(x)])
        step = np.linalg.lstsq(design, np.sqrt(weights) * (current - f), rcond=None)[0]
        a, n = a + step[0], n + step[1]
        if np.all(np.abs(step) <= 1e-15 * np.abs([a, n])):
            break
    return np.array([a, n]), np.linalg.inv(design.T @ design)


def huber_reference(x, current, weights):
    """Iterated weights in NumPy: parameters, their covariance and the weighted sum of squares."""
    params, _ = weighted_fit(x, current, weights, [current.max(), 1.5])
    z = np.sqrt(weights) * (current - params[0] * x ** params[1])
    scale = 1.4826 * np.median(np.abs(z))
    for _ in range(3000):
        z = np.sqrt(weights) * (current - params[0] * x ** params[1])
        share = np.minimum(1.0, K * scale / np.maximum(np.abs(z), 1e-300))
        before = params
        params, inverse = weighted_fit(x, current, weights * share, params)
        if np.all(np.abs(params - before) <= 1e-14 * np.abs(params)):
            break
    z = np.sqrt(weights) * (current - params[0] * x ** params[1])
    chi2 = np.sum(share * z**2)
    return params, inverse * chi2 / (len(x) - 2), chi2


@pytest.mark.parametrize("seed", range(25))
def test_robust_weighted_fit_is_the_independent_iteration(seed):
    voltage, current, weights = with_outliers(seed)
    params, covariance, chi2 = huber_reference(voltage / RATED, current, weights)
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model="power", weights=weights, robust=True)
    assert fit.status[0].startswith("converged")
    assert_allclose(fit.params[0], params, rtol=1e-8, atol=0)
    assert_allclose(fit.chi2[0], chi2, rtol=1e-8, atol=0)
    assert_allclose(fit.covariance[0], covariance, rtol=1e-8, atol=0)


@pytest.mark.parametrize("seed", range(10))
def test_robust_fit_minimises_hubers_sum(seed):
    # Source: scipy.optimize.minimize_scalar on Huber's sum itself, a model of one parameter.
    voltage, current, weights = with_outliers(seed)
    x = voltage / RATED
    plain = np.sum(weights * x * current) / np.sum(weights * x**2)
    scale = 1.4826 * np.median(np.abs(np.sqrt(weights) * (current - plain * x)))

    def slope(a):
        z = np.sqrt(weights) * (current - a * x) / scale
        return np.sum(np.clip(z, -K, K) * np.sqrt(weights) * x)

    root = optimize.brentq(slope, 0.1 * plain, 10 * plain, xtol=1e-15, rtol=1e-14)
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model="proportional", weights=weights, robust=True)
    assert_allclose(fit.params[0, 0], root, rtol=1e-9, atol=0)


@pytest.mark.parametrize("seed", range(10))
def test_robust_fit_in_logarithms_is_that_of_scipy(seed):
    # Source: scipy.optimize.least_squares with Huber's loss at k times the scale, derivatives by the complex step.
    voltage, current, _ = with_outliers(seed)
    x = voltage / RATED

    def deviations(params):
        return (np.log(current) - params[0] - params[1] * np.log(x)) / np.sqrt(0.01**2 + (params[1] * 0.005) ** 2)

    tight = dict(jac="cs", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=5000)
    plain = optimize.least_squares(deviations, [np.log(current.max()), 1.5], **tight)
    scale = 1.4826 * np.median(np.abs(plain.fun))
    robust = optimize.least_squares(deviations, plain.x, loss="huber", f_scale=K * scale, **tight)
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model="power", robust=True)
    assert_allclose(fit.params[0], [np.exp(robust.x[0]), robust.x[1]], rtol=1e-7, atol=0)  # SciPy stops there


@pytest.mark.parametrize("model", ["log_quadratic", "magnetising"])
@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_robust_fit_of_a_bent_curve_is_hubers_minimum(seed, weighted, model):
    # Source: scipy.optimize.least_squares on Huber's sum at the plain fit's scale finds nothing lower nearby.
    rng = np.random.default_rng(seed)
    x = np.linspace(0.35, 1.1, 12)
    current = (0.3 * x + 0.12 * x**5) * np.exp(rng.normal(0.0, 0.005, 12))
    current[[3, 8]] *= [1.2, 0.85]
    weights = rng.uniform(0.5, 2.0, 12) if weighted else None
    common = dict(rated_voltage_V=1.0, model=model, weights=weights)
    plain = rewound.fit_draw(x, current, **common)
    robust = rewound.fit_draw(x, current, robust=True, **common)
    assert robust.status[0].startswith("converged")
    scale = 1.4826 * np.median(np.abs(residuals(plain.params[0], model, x, current, weights)))
    huber = dict(args=(model, x, current, weights), loss="huber", f_scale=K * scale, x_scale="jac")
    tight = dict(ftol=1e-15, xtol=1e-15, gtol=1e-15, jac="3-point")
    here = optimize.least_squares(residuals, robust.params[0], max_nfev=1, **huber)
    below = optimize.least_squares(residuals, robust.params[0] * 1.001, **huber, **tight)
    assert here.cost == pytest.approx(below.cost, rel=1e-8)


def test_robust_fit_without_outliers_is_the_plain_one():
    # Law: where no deviation exceeds k scales, Huber's weights are all 1.
    voltage = np.array([100.0, 130.0, 160.0, 190.0, 220.0, 250.0])
    signs = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])
    current = 0.4 * (voltage / RATED) ** 1.2 * (1 + 0.002 * signs)
    plain = rewound.fit_draw(voltage, current, rated_voltage_V=RATED)
    robust = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, robust=True)
    assert_allclose(robust.params, plain.params, rtol=1e-9, atol=0)
    assert_allclose(robust.chi2, plain.chi2, rtol=1e-9, atol=0)


@pytest.mark.parametrize("weights", [None, np.ones(12)])
def test_robust_fit_lies_nearer_to_the_truth_than_the_plain_one(weights):
    # Source: the curve that made the readings.
    voltage = np.linspace(100.0, 250.0, 12)
    rng = np.random.default_rng(7)
    current = 0.4 * (voltage / RATED) ** 1.3 * np.exp(rng.normal(0, 0.003, 12))
    current[10] *= 1.5
    plain = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, weights=weights)
    robust = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, weights=weights, robust=True)
    assert abs(robust.params[0, 1] - 1.3) < 0.5 * abs(plain.params[0, 1] - 1.3)


def test_robust_fit_of_readings_without_scatter_is_the_curve():
    # Source: the curve that made them; the scale is rounding noise and must not spoil the fit.
    voltage = np.array([100.0, 150.0, 200.0, 250.0])
    for weights in (None, np.ones(4)):
        fit = rewound.fit_draw(voltage, 0.002 * voltage, rated_voltage_V=RATED, weights=weights, robust=True)
        assert fit.status[0].startswith("converged")
        assert_allclose(fit.params[0], [0.46, 1.0], rtol=1e-10, atol=0)
