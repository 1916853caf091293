# SPDX-License-Identifier: MIT
"""Every model against SciPy from many starts, its covariance and intervals against numerical derivatives."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

import rewound
from families import FAMILIES, current_of, lowest_by_scipy, residuals, run_up

X = np.array([0.35, 0.5, 0.65, 0.8, 0.9, 1.0, 1.05, 1.1])
TRUTHS = {
    "proportional": [0.4],
    "power": [0.4, 1.3],
    "log_quadratic": [-0.9, 1.1, 0.6],
    "magnetising": [0.3, 0.12, 5.0],
    "magnetising_load": [0.25, 0.12, 5.0, 0.1, 0.08],
}


def weights_for(weighted, seed, count):
    return np.random.default_rng(seed + 77).uniform(0.1, 40.0, count) if weighted else None


def fitted(model, x, current, weights, **options):
    return rewound.fit_draw(x, current, rated_voltage_V=1.0, model=model, weights=weights, **options)


@pytest.mark.parametrize("kind", ["magnetising", "loaded"])
@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("model", FAMILIES)
def test_no_start_of_scipy_finds_a_lower_sum(model, weighted, kind):
    for seed in range(6):
        count = (6, 8, 12)[seed % 3]
        x, current = run_up(seed, count, kind, (0.002, 0.02)[seed // 3])
        weights = weights_for(weighted, seed, count)
        fit = fitted(model, x, current, weights)
        assert fit.status[0].startswith("converged")
        if not (weighted and model == "magnetising"):  # which may have a, b < 0: see test_fit_scan.py
            lowest = lowest_by_scipy(model, x, current, weights, np.random.default_rng(seed))
            assert fit.chi2[0] <= lowest * (1 + 1e-8)
        assert_allclose(np.sum(residuals(fit.params[0], model, x, current, weights) ** 2), fit.chi2[0], rtol=1e-9)


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("model", FAMILIES)
def test_readings_on_a_curve_give_its_parameters_back(model, weighted):
    # Source: the curve that made them.
    fit = fitted(model, X, current_of(model, TRUTHS[model], X), weights_for(weighted, 1, len(X)))
    assert fit.status[0].startswith("converged") and fit.model == model
    assert_allclose(fit.params[0], TRUTHS[model], rtol=1e-7, atol=0)


def numeric_jacobian(function, p):
    steps = 1e-5 * np.abs(p)
    return np.column_stack(
        [(function(p + s * e) - function(p - s * e)) / (2 * s) for s, e in zip(steps, np.eye(len(p)))]
    )


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("model", FAMILIES)
def test_covariance_and_intervals_are_those_of_the_numerical_jacobian(model, weighted):
    rng = np.random.default_rng(4)
    current = current_of(model, TRUTHS[model], X) * np.exp(rng.normal(0.0, 1e-4, len(X)))
    weights = weights_for(weighted, 2, len(X))
    fit = fitted(model, X, current, weights)
    p, freedom = fit.params[0], len(X) - fit.params.shape[1]
    jacobian = numeric_jacobian(lambda q: residuals(q, model, X, current, weights), p)
    covariance = np.linalg.inv(jacobian.T @ jacobian) * fit.chi2[0] / freedom
    scale = np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)))
    assert_allclose(fit.covariance[0] / scale, covariance / scale, atol=2e-5)
    at = np.array([0.4, 1.0, 1.2])
    value, low, high = fit.predict(at, level=0.9, new_reading=False)
    assert_allclose(value[0], current_of(model, p, at), rtol=1e-12)
    gradient = numeric_jacobian(lambda q: current_of(model, q, at), p)
    u = np.sqrt(np.einsum("ij,jk,ik->i", gradient, fit.covariance[0], gradient))
    t = stats.t.ppf(0.95, freedom)
    if weighted:
        assert_allclose(high[0] - value[0], t * u, rtol=1e-4)
        assert_allclose(value[0] - low[0], t * u, rtol=1e-4)
    else:
        assert_allclose(np.log(high[0] / value[0]), t * u / value[0], rtol=1e-4)
        assert_allclose(np.log(value[0] / low[0]), t * u / value[0], rtol=1e-4)


@pytest.mark.parametrize("weighted", [False, True])
def test_richer_model_never_fits_worse_than_one_it_contains(weighted):
    # Law: nested models. Without weights log_quadratic contains power, and magnetising_load magnetising.
    for seed in range(20):
        x, current = run_up(seed, 9, "loaded", 0.02)
        weights = weights_for(weighted, seed, 9)
        chi2 = {model: fitted(model, x, current, weights).chi2[0] for model in FAMILIES}
        assert chi2["log_quadratic"] <= chi2["power"] * (1 + 1e-9) <= chi2["proportional"] * (1 + 2e-9)
        assert chi2["magnetising"] <= chi2["proportional"] * (1 + 1e-9)
        if not weighted:
            assert chi2["magnetising_load"] <= chi2["magnetising"] * (1 + 1e-9)


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("model", ["magnetising", "magnetising_load"])
def test_parameters_keep_within_their_bounds(model, weighted):
    # Source: the documentation. Currents without any curve in them drive parameters to every bound.
    rng = np.random.default_rng(8)
    x, current = np.sort(rng.uniform(0.2, 1.3, (60, 8))), rng.uniform(0.05, 1.5, (60, 8))
    fit = fitted(model, x, current, rng.uniform(0.1, 40.0, (60, 8)) if weighted else None)
    used = np.array([status.startswith("converged") for status in fit.status])
    assert used.mean() > 0.9
    m = fit.params[used, 2]
    lowest = 1.2 if weighted else 2.0
    assert np.all((lowest <= m) & (m <= 12)) and np.any(m == lowest) and np.any(m == 12)
    if not (weighted and model == "magnetising"):
        others = np.delete(fit.params[used], 2, axis=1)
        assert np.all(others >= 0) and np.any(others == 0)
    value, low, high = fit.predict([0.5, 1.0, 1.3])
    assert np.all((low < value) & (value < high), axis=1)[used].all()
    assert np.isnan(value[~used]).all()


def test_current_that_bends_down_is_a_proportional_curve_as_far_as_magnetising_goes():
    # Source: closed form. With b >= 0 the exponent cannot fall below 1; at b = 0 the curve is I = a x.
    current = 0.4 * X**0.7
    bent = fitted("magnetising", X, current, None)
    straight = fitted("proportional", X, current, None)
    assert bent.status[0].startswith("converged")
    assert bent.params[0, 1:].tolist() == [0.0, 2.0]
    assert_allclose(bent.params[0, 0], straight.params[0, 0], rtol=1e-9)
    assert_allclose(bent.chi2, straight.chi2, rtol=1e-9)
    assert_allclose(bent.covariance[0, 0, 0] * 5, straight.covariance[0, 0, 0] * 7, rtol=1e-8)
    assert not bent.covariance[0, 1:].any() and not bent.covariance[0, :, 1:].any()


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("model", FAMILIES[1:])
def test_too_few_voltages_or_readings_leave_no_numbers(model, weighted):
    count = {"power": 2, "log_quadratic": 3, "magnetising": 3, "magnetising_load": 5}[model]
    few = np.linspace(0.5, 1.0, count)[: count - 1]
    repeated = np.repeat(few, 3)
    for x, status in ((few, "too_few_points"), (repeated, "singular"), (np.ones(8), "singular")):
        current = 0.4 * x * np.exp(0.01 * np.sin(np.arange(len(x))))
        fit = fitted(model, x, current, np.ones(len(x)) if weighted else None)
        assert fit.status == [status]
        assert np.isnan(fit.params).all() and np.isnan(fit.chi2).all() and np.isnan(fit.covariance).all()
        assert np.isnan(fit.predict(1.0)).all()


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("model", FAMILIES[1:])
def test_other_units_and_a_longer_record_say_the_same(model, weighted):
    # Laws: a factor on the currents changes levels alone; the order of readings and a threefold record change nothing.
    x, current = run_up(3, 9, "loaded", 0.01)
    weights = weights_for(weighted, 3, 9)
    one = fitted(model, x, current, weights)
    milli = fitted(model, x, 1000 * current, weights)
    turned = fitted(model, x[::-1], current[::-1], None if weights is None else weights[::-1])
    tripled = fitted(model, np.tile(x, 3), np.tile(current, 3), None if weights is None else np.tile(weights, 3))
    at = [0.4, 0.8, 1.1]
    assert_allclose(milli.predict(at)[0], 1000 * one.predict(at)[0], rtol=1e-7)
    assert_allclose(turned.predict(at)[0], one.predict(at)[0], rtol=1e-7)
    assert_allclose(tripled.predict(at)[0], one.predict(at)[0], rtol=1e-7)
    assert_allclose(tripled.chi2, 3 * one.chi2, rtol=1e-9)


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("readings", [5, 8, 12])
def test_magnetising_interval_holds_as_many_new_readings_as_it_promises(readings, weighted):
    # Source: simulation, 2000 curves from a stated seed; the count is binomial, and 1 % is for the tangent.
    rng = np.random.default_rng(100 + readings)
    x, at = np.tile(np.linspace(0.4, 1.1, readings), (2000, 1)), 0.85
    truth = current_of("magnetising", TRUTHS["magnetising"], x)
    centre = current_of("magnetising", TRUTHS["magnetising"], at)
    noise, new = rng.normal(0.0, 0.004, x.shape), rng.normal(0.0, 0.004, 2000)
    current = truth + noise if weighted else truth * np.exp(noise)
    again = centre + new if weighted else centre * np.exp(new)
    fit = rewound.fit_draw(
        x, current, rated_voltage_V=1.0, model="magnetising", weights=np.ones_like(x) if weighted else None,
        voltage_u_V=None if weighted else 1e-6, current_u_A=None if weighted else 0.004 * truth,
    )  # fmt: skip
    _, low, high = fit.predict(at)
    assert np.mean((low <= again) & (again <= high)) == pytest.approx(0.95, abs=0.01 + 3 * 0.005)
