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
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model="power", weights=weights)
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
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model="proportional", weights=weights)
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
        "numbers": {"voltage_u_V": 1.7, "current_u_A": 0.004},
        "arrays": {"voltage_u_V": rng.uniform(0.3, 3.0, 8), "current_u_A": rng.uniform(0.01, 0.05, 8) * current},
    }[given]
    u_x = u.get("voltage_u_V", 0.005 * voltage) / voltage
    u_current = u.get("current_u_A", 0.01 * current) / current
    found = optimize.least_squares(
        log_residuals, [np.log(current.max()), 1.5], args=(voltage / RATED, current, u_x, u_current), jac="cs",
        ftol=1e-15, xtol=1e-15, gtol=1e-15,
    )  # fmt: skip
    a = np.exp(found.x[0])
    to_a = np.diag([a, 1.0])
    covariance = to_a @ np.linalg.inv(found.jac.T @ found.jac) @ to_a
    # Nobody stated the size of the errors: the scatter tells it. Stated, it counts as four degrees of freedom.
    scale = 2 * found.cost / 6 if given == "assumed" else max(1, (4 + 2 * found.cost) / 10)
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model="power", **u)
    assert_allclose(fit.params[0], [a, found.x[1]], rtol=1e-8, atol=0)
    assert_allclose(fit.chi2[0], 2 * found.cost, rtol=1e-8, atol=0)
    assert_allclose(fit.covariance[0], covariance * scale, rtol=1e-8, atol=0)
    absolute = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model="power", absolute_sigma=True, **u)
    assert_allclose(absolute.covariance[0], covariance, rtol=1e-8, atol=0)


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
        voltage, current, rated_voltage_V=RATED, model="proportional", voltage_u_V=u_voltage, current_u_A=u_current
    )
    assert_allclose(fit.params[0, 0], np.exp(mean), rtol=1e-10, atol=0)
    assert_allclose(fit.covariance[0, 0, 0], np.exp(2 * mean) * max(1, (4 + chi2) / 11) / np.sum(w), rtol=1e-8, atol=0)


def test_auto_is_proportional_at_one_voltage_and_power_elsewhere():
    # Source: the contract. An exponent cannot be read off one voltage.
    at_one = rewound.fit_draw([230.0, 230.0, 230.0], [0.41, 0.42, 0.44], rated_voltage_V=RATED)
    assert at_one.model == "proportional" and at_one.params.shape == (1, 1)
    assert_allclose(at_one.params[0, 0], (0.41 * 0.42 * 0.44) ** (1 / 3), rtol=1e-12, atol=0)
    voltage, current = power_curve(1)
    elsewhere = rewound.fit_draw(voltage, current, rated_voltage_V=RATED)
    assert elsewhere.model == "power" and elsewhere.params.shape == (1, 2)
    named = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model="power")
    assert elsewhere.params.tolist() == named.params.tolist()


@pytest.mark.parametrize("weights", [None, np.full(5, 3.0)])
def test_readings_on_a_curve_give_it_back(weights):
    # Source: the curve that made them.
    voltage = np.array([90.0, 120.0, 160.0, 200.0, 240.0])
    fit = rewound.fit_draw(voltage, 0.37 * (voltage / RATED) ** 1.83, rated_voltage_V=RATED, weights=weights)
    assert_allclose(fit.params[0], [0.37, 1.83], rtol=1e-12, atol=0)
    assert fit.chi2[0] < 1e-20 and fit.status[0].startswith("converged")


def test_currents_in_other_units_change_only_the_level():
    # Law: a factor on all currents is a factor on a.
    voltage, current = power_curve(4)
    one = rewound.fit_draw(voltage, current, rated_voltage_V=RATED)
    thousand = rewound.fit_draw(voltage, 1000 * current, rated_voltage_V=RATED)
    assert_allclose(thousand.params[0], one.params[0] * [1000, 1], rtol=1e-9, atol=0)


@pytest.mark.parametrize("model", ["power", "log_quadratic", "magnetising"])
@pytest.mark.parametrize("seed", range(5))
def test_absolute_weights_are_scipys_absolute_sigma(seed, model):
    # Source: scipy.optimize.curve_fit with sigma = 1 / sqrt(weight), both ways; the batch holds the same in lanes.
    rng = np.random.default_rng(seed + 5000)
    x = np.linspace(0.4, 1.1, 9)
    sigma = rng.uniform(0.002, 0.006, 9)
    shapes = {
        "power": (lambda x, a, n: a * x**n, (0.4, 1.3)),
        "log_quadratic": (lambda x, A, n, c: np.exp(A + n * np.log(x) + c * np.log(x) ** 2), (-0.9, 1.3, 0.4)),
        "magnetising": (lambda x, a, b, m: a * x + b * x**m, (0.3, 0.15, 5.0)),
    }
    shape, truth = shapes[model]
    current = shape(x, *truth) + sigma * rng.normal(size=9)
    for absolute in (False, True):
        params, covariance = optimize.curve_fit(
            shape, x, current, p0=truth, sigma=sigma, absolute_sigma=absolute, method="lm", ftol=1e-15, xtol=1e-15,
            gtol=1e-15,
        )  # fmt: skip
        fit = rewound.fit_draw(
            [x, x], [current, current], rated_voltage_V=1.0, model=model, weights=[1 / sigma**2] * 2,
            absolute_sigma=absolute,
        )  # fmt: skip
        assert_allclose(fit.params[1], params, rtol=1e-6, atol=0)
        assert_allclose(fit.covariance[1], covariance, rtol=1e-4, atol=1e-12)
        assert_allclose(fit.errors["exponent" if model != "log_quadratic" else "c"][1],
                        np.sqrt(covariance[-1, -1]), rtol=1e-4)  # fmt: skip
    # An absolute interval is a normal one, and a new reading has the variance of its own weight.
    value, _, high = fit.predict(0.9, weight=2e4)
    _, _, of_curve = fit.predict(0.9, new_reading=False)
    z = 1.959963984540054
    assert_allclose(((high - value) / z) ** 2 - ((of_curve - value) / z) ** 2, 1 / 2e4, rtol=1e-9)


def test_three_lucky_readings_stay_as_uncertain_as_their_meters():
    # Source: readings of 8 % that lie on a line by chance; the statement of the meters stands, whatever the scatter.
    volts, amps = np.array([115.0, 180.0, 230.0]), 0.42 * np.array([115.0, 180.0, 230.0]) / 230.0 * [1.0, 1.0005, 1.0]
    fit = rewound.fit_draw(volts, amps, rated_voltage_V=230.0, model="power", current_u_A=0.08 * amps)
    exact = rewound.fit_draw(
        volts, amps, rated_voltage_V=230.0, model="power", current_u_A=0.08 * amps, absolute_sigma=True
    )
    assert fit.chi2[0] < 1e-3 and fit.covariance.tolist() == exact.covariance.tolist()
    assert 0.05 < fit.errors["a"][0] / fit.values["a"][0] < 0.08


def test_two_readings_give_what_the_judgement_gives():
    # Source: two equations in two unknowns, and the accuracy of the meters carried through them.
    fit = rewound.fit_draw([115.0, 230.0], [0.2, 0.8], rated_voltage_V=RATED)
    assert_allclose(fit.params[0], [0.8, 2.0], rtol=1e-12, atol=0)
    assert fit.degrees_of_freedom.tolist() == [0]
    # u^2 = (1 %)^2 + (2 0.5 %)^2 of each reading, the assumed accuracies; n = ln(4) / ln(2).
    u = np.hypot(0.01, 2 * 0.005)
    assert_allclose(fit.errors["exponent"], np.sqrt(2) * u / np.log(2), rtol=1e-6)
    value, low, high = fit.predict(115.0, new_reading=False)
    assert_allclose(value, [0.2], rtol=1e-12, atol=0)
    assert_allclose(np.log(high / low) / 2, 1.959963984540054 * u, rtol=1e-6)
    weighted = rewound.fit_draw([115.0, 230.0], [0.2, 0.8], rated_voltage_V=RATED, weights=[1.0, 1.0])
    assert np.isnan(weighted.covariance).all() and np.isnan(weighted.predict(115.0)[1]).all()


@pytest.mark.parametrize("model, voltage", [("power", [230.0]), ("power", []), ("auto", [])])
def test_too_few_readings_leave_no_numbers(model, voltage):
    fit = rewound.fit_draw(voltage, [0.4] * len(voltage), rated_voltage_V=RATED, model=model)
    assert fit.status == ["too_few_points"]
    assert np.isnan(fit.params).all() and np.isnan(fit.chi2).all()
    assert np.isnan(fit.predict([100.0, 200.0])).all()


@pytest.mark.parametrize("weights", [None, np.ones(3)])
def test_power_at_one_voltage_is_singular(weights):
    fit = rewound.fit_draw([230.0] * 3, [0.41, 0.42, 0.43], rated_voltage_V=RATED, model="power", weights=weights)
    assert fit.status == ["singular"] and np.isnan(fit.params).all()
