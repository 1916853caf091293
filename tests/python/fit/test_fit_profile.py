# SPDX-License-Identifier: MIT
"""Profile intervals against their definition, worked out by SciPy: the least sum with one parameter held."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize, stats

import rewound
from families import FAMILIES, bounds_of, random_start, residuals, run_up

RATED = 230.0
LETTERS = {
    "proportional": ["a"],
    "power": ["a", "n"],
    "log_quadratic": ["A", "n", "c"],
    "magnetising": ["a", "b", "m"],
    "magnetising_load": ["a", "b", "m", "p", "g"],
}


def boxes(model, weighted):
    low, high = np.broadcast_arrays(*(np.asarray(bound, dtype=float) for bound in bounds_of(model, weighted)))
    low, high = np.array(low).ravel(), np.array(high).ravel()
    count = len(LETTERS[model])
    low, high = np.resize(low, count), np.resize(high, count)
    if model == "magnetising" and weighted:
        low[:2] = -np.inf
    return low, high


def held_sum(model, x, current, weights, place, value, starts):
    """The lowest sum of squares with one parameter held that SciPy finds from any of the starts."""
    low, high = boxes(model, weights is not None)
    others = [j for j in range(len(low)) if j != place]

    def whole(some):
        out = np.empty(len(low))
        out[others], out[place] = some, value
        return out

    if not others:
        return float(np.sum(residuals(whole([]), model, x, current, weights) ** 2))
    best = np.inf
    for start in starts:
        inside = np.clip(np.asarray(start, dtype=float)[others], low[others] + 1e-9, high[others] - 1e-9)
        found = optimize.least_squares(
            lambda some: residuals(whole(some), model, x, current, weights), inside, bounds=(low[others], high[others]),
            jac="3-point", x_scale="jac", ftol=1e-14, xtol=1e-14, gtol=1e-14, max_nfev=400,
        )  # fmt: skip
        best = min(best, 2 * found.cost)
    return best


def allowed_rise(fit, weighted, level):
    """q^2 times the scale, as the docstrings define them where no uncertainty is stated."""
    dof = int(fit.degrees_of_freedom[0])
    return stats.t.ppf(0.5 + level / 2, dof) ** 2 * fit.chi2[0] / dof


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("model", FAMILIES)
def test_at_an_end_the_least_sum_has_risen_as_far_as_the_level_allows(model, weighted):
    x, current = run_up(17, 9, kind="magnetising_load" if model == "magnetising_load" else "magnetising", scatter=0.01)
    weights = 1 / (0.01 * current) ** 2 if weighted else None
    fit = rewound.fit_draw(x * RATED, current, rated_voltage_V=RATED, model=model, weights=weights)
    rise = allowed_rise(fit, weighted, 0.9)
    rng = np.random.default_rng(5)
    starts = [fit.params[0], *(random_start(model, x, current, rng) for _ in range(6))]
    low, high = boxes(model, weighted)
    for place, letter in enumerate(LETTERS[model]):
        for end, bound in zip(fit.profile(0.9)[letter], (low[place], high[place])):
            value = float(end[0])
            assert np.isfinite(value)
            there = held_sum(model, x, current, weights, place, value, starts) - fit.chi2[0]
            if value == bound:
                assert there <= rise * (1 + 1e-6)
            else:
                assert_allclose(there, rise, rtol=2e-5)
            for share in (0.3, 0.9):  # and everything between is within
                within = fit.params[0, place] + share * (value - fit.params[0, place])
                assert held_sum(model, x, current, weights, place, within, starts) - fit.chi2[0] < rise * (1 + 1e-6)


def test_of_a_proportional_curve_it_is_the_interval_of_a_mean_of_logarithms():
    x, current = run_up(3, 7)
    fit = rewound.fit_draw(x * RATED, current, rated_voltage_V=RATED, model="proportional")
    logs = np.log(current / x)
    half = stats.t.ppf(0.975, 6) * logs.std(ddof=1) / np.sqrt(7)
    assert_allclose(np.ravel(fit.profile()["a"]), np.exp([logs.mean() - half, logs.mean() + half]), rtol=1e-9)


def test_of_what_is_linear_it_is_the_interval_of_the_covariance():
    x, current = run_up(4, 7)
    fit = rewound.fit_draw(x * RATED, current, rated_voltage_V=RATED, model="proportional", weights=np.ones(7))
    half = stats.t.ppf(0.975, 6) * fit.errors["a"]
    assert_allclose(np.ravel(fit.profile()["a"]), np.ravel([fit.values["a"] - half, fit.values["a"] + half]), rtol=1e-9)


def test_stated_uncertainties_count_as_in_the_covariance():
    x, current = run_up(5, 6, scatter=0.002)
    asked = {"rated_voltage_V": RATED, "model": "power", "voltage_u_V": 1e-9}
    stated = rewound.fit_draw(x * RATED, current, current_u_A=0.03 * current, **asked)
    absolute = rewound.fit_draw(x * RATED, current, current_u_A=0.03 * current, absolute_sigma=True, **asked)
    for fit, scale in ((stated, max(1.0, (4 + stated.chi2[0]) / 8)), (absolute, 1.0)):
        line = np.polyfit(np.log(x), np.log(current), 1, w=np.full(6, 1 / 0.03), cov="unscaled")
        half = stats.norm.ppf(0.975) * np.sqrt(scale * line[1][0, 0])
        assert_allclose(np.ravel(fit.profile()["exponent"]), [line[0][0] - half, line[0][0] + half], rtol=1e-7)


def test_huber_weights_are_kept():
    x, current = run_up(6, 9, scatter=0.01)
    current[2] *= 1.3
    fit = rewound.fit_draw(x * RATED, current, rated_voltage_V=RATED, model="power", robust=True)
    plain = rewound.fit_draw(x * RATED, current, rated_voltage_V=RATED, model="power")
    z = residuals(plain.params[0], "power", x, current)
    scale = 1.4826 * np.median(np.abs(z))
    share = np.minimum(1, 1.345 * scale / np.abs(residuals(fit.params[0], "power", x, current)))
    rise = allowed_rise(fit, False, 0.95)
    for end in fit.profile()["n"]:
        held = optimize.minimize_scalar(
            lambda a: np.sum(share * residuals([a, end[0]], "power", x, current) ** 2), method="brent",
            bracket=(0.9 * fit.params[0, 0], 1.1 * fit.params[0, 0]), options={"xtol": 1e-12},
        )  # fmt: skip
        assert_allclose(held.fun - fit.chi2[0], rise, rtol=1e-6)


def test_a_batch_has_each_curve_s_own_and_threads_change_nothing():
    rows = [run_up(seed, 8) for seed in range(6)]
    volts = np.array([x * RATED for x, _ in rows])
    amps = np.array([current for _, current in rows])
    amps[1, 3] = np.nan
    fit = rewound.fit_draw(volts, amps, rated_voltage_V=RATED, model="auto")
    together = fit.profile()
    shared = fit.profile(threads=2)
    for name, (low, high) in together.items():
        np.testing.assert_array_equal(low, shared[name][0])
        np.testing.assert_array_equal(high, shared[name][1])
        assert low.shape == high.shape == (6,) and not low.flags.writeable
    for i in (0, 1):
        there = ~np.isnan(amps[i])
        alone = rewound.fit_draw(volts[i, there], amps[i, there], rated_voltage_V=RATED, model=fit.models[i]).profile()
        for name, ends in alone.items():
            assert_allclose([together[name][0][i], together[name][1][i]], np.ravel(ends), rtol=1e-9)


def test_where_nothing_is_known_there_is_no_interval():
    failed = rewound.fit_draw([100.0, 100.0], [1.0, 1.1], rated_voltage_V=100, model="power")
    assert failed.status[0] == "singular" and np.isnan(failed.profile()["n"]).all()
    spare = rewound.fit_draw([100.0, 110.0], [1.0, 1.1], rated_voltage_V=100, model="power", weights=[1.0, 1.0])
    assert np.isnan(spare.profile()["n"]).all()
    assert np.isnan(spare.errors["n"]).all()


def test_two_readings_without_weights_have_the_interval_of_the_meters():
    fit = rewound.fit_draw([100.0, 120.0], [1.0, 1.3], rated_voltage_V=100, model="power")
    low, high = np.ravel(fit.profile()["n"])
    assert low < fit.values["n"][0] - 1.5 * fit.errors["n"][0] and high > fit.values["n"][0] + 1.5 * fit.errors["n"][0]


@pytest.mark.parametrize("level", [0.0, 1.0, -1.0, float("nan")])
def test_a_level_that_cannot_be_is_refused(level):
    fit = rewound.fit_draw([100.0, 120.0, 130.0], [1.0, 1.3, 1.4], rated_voltage_V=100, model="power")
    with pytest.raises(rewound.PreconditionError, match="level"):
        fit.profile(level)
