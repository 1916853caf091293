# SPDX-License-Identifier: MIT
"""Intervals of DrawFit.predict. Source: scipy.stats.t, gradients in NumPy, and a count over simulated curves."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

import rewound
from curves import RATED, power_curve, random_weights

AT = np.array([80.0, 150.0, 230.0, 276.0])


@pytest.mark.parametrize("level", [0.5, 0.95, 0.999])
@pytest.mark.parametrize("seed", range(5))
def test_interval_of_a_weighted_curve_is_students(seed, level):
    voltage, current = power_curve(seed)
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, weights=random_weights(seed))
    (a, n), x = fit.params[0], AT / RATED
    gradient = np.column_stack([x**n, a * x**n * np.log(x)])
    of_curve = np.einsum("ij,jk,ik->i", gradient, fit.covariance[0], gradient)
    t = stats.t.ppf(0.5 + level / 2, 6)
    of_mean_weight = fit.chi2[0] / 6 / np.mean(random_weights(seed))
    for new_reading, variance in ((False, of_curve), (True, of_curve + of_mean_weight)):
        value, low, high = fit.predict(AT, level=level, new_reading=new_reading)
        assert value.shape == (1, 4)
        assert_allclose(value[0], a * x**n, rtol=1e-13, atol=0)
        assert_allclose(high[0] - value[0], t * np.sqrt(variance), rtol=1e-9, atol=0)
        assert_allclose(value[0] - low[0], t * np.sqrt(variance), rtol=1e-9, atol=0)


@pytest.mark.parametrize("level", [0.5, 0.95, 0.999])
@pytest.mark.parametrize("seed", range(5))
def test_interval_of_a_curve_in_logarithms_is_students(seed, level):
    voltage, current = power_curve(seed)
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED)
    (a, n), x = fit.params[0], AT / RATED
    gradient = np.column_stack([np.full(4, 1 / a), np.log(x)])
    of_curve = np.einsum("ij,jk,ik->i", gradient, fit.covariance[0], gradient)
    t = stats.t.ppf(0.5 + level / 2, 6)
    # All readings share the assumed 1 % and 0.5 %, so the residual variance is the plain one of ln I.
    deviations = np.log(current) - np.log(a) - n * np.log(voltage / RATED)
    residual = np.sum(deviations**2) / 6
    for new_reading, variance in ((False, of_curve), (True, of_curve + residual)):
        value, low, high = fit.predict(AT, level=level, new_reading=new_reading)
        assert_allclose(value[0], a * x**n, rtol=1e-13, atol=0)
        assert_allclose(np.log(high[0] / value[0]), t * np.sqrt(variance), rtol=1e-9, atol=0)
        assert_allclose(np.log(value[0] / low[0]), t * np.sqrt(variance), rtol=1e-9, atol=0)


def test_new_reading_takes_the_mean_variance_of_unequal_uncertainties():
    voltage, current = power_curve(3)
    u_voltage, u_current = np.linspace(0.5, 2.0, 8), np.linspace(0.03, 0.01, 8) * current
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, voltage_u_V=u_voltage, current_u_A=u_current)
    n = fit.params[0, 1]
    mean = np.mean((u_current / current) ** 2 + (n * u_voltage / voltage) ** 2)
    value, _, high = fit.predict(230.0)
    _, _, of_curve = fit.predict(230.0, new_reading=False)
    added = (np.log(high / value) ** 2 - np.log(of_curve / value) ** 2) / stats.norm.ppf(0.975) ** 2
    assert_allclose(added, np.maximum(1, (4 + fit.chi2) / 10) * mean, rtol=1e-8, atol=0)


@pytest.mark.parametrize("weighted", [False, True])
def test_interval_holds_as_many_new_readings_as_it_promises(weighted):
    # Source: simulation, 4000 curves of five readings from seed 11; the count is binomial.
    rng = np.random.default_rng(11)
    voltage = np.tile([100.0, 140.0, 180.0, 210.0, 240.0], (4000, 1))
    truth = 0.4 * (np.column_stack([voltage, np.full(4000, 160.0)]) / RATED) ** 1.3
    noise = rng.normal(size=truth.shape)
    readings = truth + 0.003 * noise if weighted else truth * np.exp(0.01 * noise)
    fit = rewound.fit_draw(
        voltage, readings[:, :5], rated_voltage_V=RATED, weights=np.ones_like(voltage) if weighted else None
    )
    _, low, high = fit.predict(160.0, level=0.9)
    inside = np.sum((low <= readings[:, 5]) & (readings[:, 5] <= high))
    assert stats.binomtest(int(inside), 4000, 0.9).pvalue > 0.001


@pytest.mark.parametrize("level", [0.0, 1.0, -0.5, 1.5, float("nan")])
def test_impossible_level_is_refused(level):
    fit = rewound.fit_draw(*power_curve(0), rated_voltage_V=RATED)
    with pytest.raises(rewound.PreconditionError) as caught:
        fit.predict(230.0, level=level)
    assert (caught.value.code, caught.value.field) == ("precondition", "level")


@pytest.mark.parametrize(
    "voltage", [0.0, -1.0, float("nan"), float("inf"), [100.0, 0.0], np.ones((2, 3)), np.ones((1, 1, 1))]
)
def test_impossible_voltage_is_refused(voltage):
    fit = rewound.fit_draw(*power_curve(0), rated_voltage_V=RATED)
    with pytest.raises(rewound.PreconditionError) as caught:
        fit.predict(voltage)
    assert caught.value.field == "voltage"
