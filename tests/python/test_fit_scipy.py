# SPDX-License-Identifier: MIT
"""fit_draw against SciPy and closed forms in NumPy on random curves, to 1e-8 of each number."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize

import rewound
from curves import RATED, power_curve, random_weights

SEEDS = range(25)


def power(x, a, n):
    return a * x**n


def power_jacobian(x, a, n):
    return np.column_stack([x**n, a * x**n * np.log(x)])


@pytest.mark.parametrize("seed", SEEDS)
def test_weighted_power_fit_is_that_of_scipy(seed):
    # Source: scipy.optimize.curve_fit, whose covariance is scaled by chi2 / (n - p) too.
    voltage, current = power_curve(seed)
    weights = random_weights(seed)
    params, covariance = optimize.curve_fit(
        power, voltage / RATED, current, p0=[current.max(), 1.5], sigma=weights**-0.5, jac=power_jacobian,
        method="lm", ftol=1e-15, xtol=1e-15, gtol=1e-15, maxfev=10000,
    )  # fmt: skip
    fit = rewound.fit_draw(voltage, current, rated_voltage=RATED, model="power", weights=weights)
    assert_allclose(fit.params[0], params, rtol=1e-8, atol=0)
    # Both stop where chi2 no longer falls in double precision: parameters agree to 1e-8, derivatives there a little
    # less.
    assert_allclose(fit.covariance[0], covariance, rtol=1e-7, atol=0)
    assert_allclose(fit.chi2[0], np.sum(weights * (current - power(voltage / RATED, *params)) ** 2), rtol=1e-8, atol=0)


@pytest.mark.parametrize("seed", SEEDS)
def test_weighted_proportional_fit_is_the_closed_form(seed):
    # Source: the normal equation of one parameter, a = sum w x I / sum w x^2.
    voltage, current = power_curve(seed)
    weights, x = random_weights(seed), voltage / RATED
    a = np.sum(weights * x * current) / np.sum(weights * x**2)
    chi2 = np.sum(weights * (current - a * x) ** 2)
    fit = rewound.fit_draw(voltage, current, rated_voltage=RATED, model="proportional", weights=weights)
    assert fit.params.shape == (1, 1) and fit.covariance.shape == (1, 1, 1)
    assert_allclose(fit.params[0, 0], a, rtol=1e-10, atol=0)
    assert_allclose(fit.chi2[0], chi2, rtol=1e-10, atol=0)
    assert_allclose(fit.covariance[0, 0, 0], chi2 / 7 / np.sum(weights * x**2), rtol=1e-10, atol=0)


def log_residuals(params, x, current, u_x, u_current):
    log_a, n = params
    return (np.log(current) - log_a - n * np.log(x)) / np.sqrt(u_current**2 + (n * u_x) ** 2)


@pytest.mark.parametrize("given", ["assumed", "numbers", "arrays"])
@pytest.mark.parametrize("seed", SEEDS)
def test_power_fit_in_logarithms_is_that_of_scipy(seed, given):
    # Source: scipy.optimize.least_squares on the same sum, with derivatives by the complex step.
    voltage, current = power_curve(seed)
    rng = np.random.default_rng(seed + 2000)
    u = {
        "assumed": {},
        "numbers": {"voltage_u": 1.7, "current_u": 0.004},
        "arrays": {"voltage_u": rng.uniform(0.3, 3.0, 8), "current_u": rng.uniform(0.01, 0.05, 8) * current},
    }[given]
    u_x = u.get("voltage_u", 0.005 * voltage) / voltage
    u_current = u.get("current_u", 0.01 * current) / current
    found = optimize.least_squares(
        log_residuals, [np.log(current.max()), 1.5], args=(voltage / RATED, current, u_x, u_current), jac="cs",
        ftol=1e-15, xtol=1e-15, gtol=1e-15,
    )  # fmt: skip
    a = np.exp(found.x[0])
    to_a = np.diag([a, 1.0])
    covariance = to_a @ np.linalg.inv(found.jac.T @ found.jac) @ to_a * (2 * found.cost / 6)
    fit = rewound.fit_draw(voltage, current, rated_voltage=RATED, model="power", **u)
    assert_allclose(fit.params[0], [a, found.x[1]], rtol=1e-8, atol=0)
    assert_allclose(fit.chi2[0], 2 * found.cost, rtol=1e-8, atol=0)
    assert_allclose(fit.covariance[0], covariance, rtol=1e-8, atol=0)


@pytest.mark.parametrize("seed", SEEDS)
def test_proportional_fit_in_logarithms_is_the_weighted_mean(seed):
    # Source: closed form; at exponent 1 the variances do not depend on the parameter.
    voltage, current = power_curve(seed)
    rng = np.random.default_rng(seed + 3000)
    u_voltage, u_current = rng.uniform(0.3, 3.0, 8), rng.uniform(0.01, 0.05, 8) * current
    w = 1 / ((u_voltage / voltage) ** 2 + (u_current / current) ** 2)
    ratio = np.log(current * RATED / voltage)
    mean = np.sum(w * ratio) / np.sum(w)
    chi2 = np.sum(w * (ratio - mean) ** 2)
    fit = rewound.fit_draw(
        voltage, current, rated_voltage=RATED, model="proportional", voltage_u=u_voltage, current_u=u_current
    )
    assert_allclose(fit.params[0, 0], np.exp(mean), rtol=1e-10, atol=0)
    assert_allclose(fit.covariance[0, 0, 0], np.exp(2 * mean) * chi2 / 7 / np.sum(w), rtol=1e-8, atol=0)


def test_auto_is_proportional_at_one_voltage_and_power_elsewhere():
    # Source: the contract. An exponent cannot be read off one voltage.
    at_one = rewound.fit_draw([230.0, 230.0, 230.0], [0.41, 0.42, 0.44], rated_voltage=RATED)
    assert at_one.model == "proportional" and at_one.params.shape == (1, 1)
    assert_allclose(at_one.params[0, 0], (0.41 * 0.42 * 0.44) ** (1 / 3), rtol=1e-12, atol=0)
    voltage, current = power_curve(1)
    elsewhere = rewound.fit_draw(voltage, current, rated_voltage=RATED)
    assert elsewhere.model == "power" and elsewhere.params.shape == (1, 2)
    named = rewound.fit_draw(voltage, current, rated_voltage=RATED, model="power")
    assert elsewhere.params.tolist() == named.params.tolist()


@pytest.mark.parametrize("weights", [None, np.full(5, 3.0)])
def test_readings_on_a_curve_give_it_back(weights):
    # Source: the curve that made them.
    voltage = np.array([90.0, 120.0, 160.0, 200.0, 240.0])
    fit = rewound.fit_draw(voltage, 0.37 * (voltage / RATED) ** 1.83, rated_voltage=RATED, weights=weights)
    assert_allclose(fit.params[0], [0.37, 1.83], rtol=1e-12, atol=0)
    assert fit.chi2[0] < 1e-20 and fit.status[0].startswith("converged")


def test_currents_in_other_units_change_only_the_level():
    # Law: a factor on all currents is a factor on a.
    voltage, current = power_curve(4)
    one = rewound.fit_draw(voltage, current, rated_voltage=RATED)
    thousand = rewound.fit_draw(voltage, 1000 * current, rated_voltage=RATED)
    assert_allclose(thousand.params[0], one.params[0] * [1000, 1], rtol=1e-9, atol=0)


def test_two_readings_give_a_curve_without_uncertainty():
    # Source: two equations in two unknowns.
    fit = rewound.fit_draw([115.0, 230.0], [0.2, 0.8], rated_voltage=RATED)
    assert_allclose(fit.params[0], [0.8, 2.0], rtol=1e-12, atol=0)
    assert np.isnan(fit.covariance).all() and fit.degrees_of_freedom.tolist() == [0]
    value, low, high = fit.predict(115.0)
    assert_allclose(value, [0.2], rtol=1e-12, atol=0)
    assert np.isnan(low).all() and np.isnan(high).all()


@pytest.mark.parametrize("model, voltage", [("power", [230.0]), ("power", []), ("auto", [])])
def test_too_few_readings_leave_no_numbers(model, voltage):
    fit = rewound.fit_draw(voltage, [0.4] * len(voltage), rated_voltage=RATED, model=model)
    assert fit.status == ["too_few_points"]
    assert np.isnan(fit.params).all() and np.isnan(fit.chi2).all()
    assert np.isnan(fit.predict([100.0, 200.0])).all()


@pytest.mark.parametrize("weights", [None, np.ones(3)])
def test_power_at_one_voltage_is_singular(weights):
    fit = rewound.fit_draw([230.0] * 3, [0.41, 0.42, 0.43], rated_voltage=RATED, model="power", weights=weights)
    assert fit.status == ["singular"] and np.isnan(fit.params).all()
