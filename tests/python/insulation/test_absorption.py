# SPDX-License-Identifier: MIT
"""fit_absorption against SciPy on random curves: parameters, standard errors and predictions."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize

import rewound

TIMES = np.array([15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 300.0, 600.0])
VOLTS = 500.0


def model(t, leakage, absorption, n):
    return leakage + absorption * (t / 60.0) ** -n


def curve(seed, noise=0.01, times=TIMES):
    rng = np.random.default_rng(seed)
    truth = rng.uniform(0.3, 2.0), rng.uniform(0.5, 2.0), rng.uniform(0.5, 1.1)
    return truth, VOLTS / model(times, *truth) * np.exp(noise * rng.normal(size=times.size))


def scipy_fit(times, resistance, u):
    current = VOLTS / resistance
    return optimize.curve_fit(
        model, times, current, p0=[0.5, 1.0, 0.8], sigma=current * u / resistance, absolute_sigma=True, method="lm",
        ftol=1e-15, xtol=1e-15, gtol=1e-15, maxfev=20000,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(25))
def test_parameters_and_standard_errors_are_those_of_scipy(seed):
    # Source: scipy.optimize.curve_fit with absolute uncertainties; its covariance is unscaled.
    _, resistance = curve(seed)
    u = 0.01 * resistance
    params, covariance = scipy_fit(TIMES, resistance, u)
    fit = rewound.fit_absorption(TIMES, resistance, test_voltage_V=VOLTS, resistance_u_Mohm=u)
    assert fit.status == ["fitted"] and params[0] > 0
    assert_allclose(fit.params[0], params, rtol=1e-6, atol=0)
    assert_allclose(fit.covariance[0] / fit.scale[0] ** 2, covariance, rtol=1e-4, atol=0)
    residuals = (VOLTS / resistance - model(TIMES, *params)) / (0.01 * VOLTS / resistance)
    assert_allclose(fit.chi2[0], np.sum(residuals**2), rtol=1e-8, atol=0)
    assert fit.degrees_of_freedom.tolist() == [6]
    assert_allclose(fit.scale[0], np.sqrt(max(1.0, (4 + fit.chi2[0]) / (4 + 6))), rtol=1e-12, atol=0)


@pytest.mark.parametrize("seed", range(5))
def test_prediction_is_the_profile_that_scipy_finds(seed):
    # Source: the least chi2 with the ten-minute current held, minimised by SciPy; the interval's ends stand 1.96^2 up.
    times = TIMES[:6]
    _, resistance = curve(seed, times=times)
    fit = rewound.fit_absorption(times, resistance, test_voltage_V=VOLTS)
    value, low, high = fit.predict(600.0)
    current, u = VOLTS / resistance, 0.01 * VOLTS / resistance

    def held(end):
        def residuals(p):
            absorption = p[0]
            leakage = VOLTS / end - absorption * 10.0 ** -p[1]
            return (current - model(times, leakage, absorption, p[1])) / u

        best = np.inf
        for start in (0.3, 0.7, 1.1, 1.6):
            # absorption at most what leaves a leakage of 0
            found = optimize.minimize(
                lambda p: np.sum(residuals([p[0] * VOLTS / end * 10.0 ** p[1], p[1]]) ** 2), [0.5, start],
                bounds=[(0, 1), (0.1, 2)], method="L-BFGS-B", options={"ftol": 1e-14, "gtol": 1e-10, "maxiter": 5000},
            )  # fmt: skip
            best = min(best, found.fun)
        return best

    assert low[0] < value[0] < high[0]
    for end in (low[0], high[0]):
        assert held(end) - fit.chi2[0] == pytest.approx((1.959964 * fit.scale[0]) ** 2, rel=0.02)


@pytest.mark.parametrize("seed", range(4))
def test_profiles_of_the_parameters_are_those_that_scipy_finds(seed):
    # Source: the least chi2 with one parameter held, minimised by SciPy; the interval's ends stand q^2 scale^2 up.
    times = TIMES[:7]
    _, resistance = curve(seed, times=times)
    fit = rewound.fit_absorption(times, resistance, test_voltage_V=VOLTS)
    current, u = VOLTS / resistance, 0.01 * VOLTS / resistance
    low, high = np.array([0.0, 0.0, 0.1]), np.array([np.inf, np.inf, 2.0])

    def held(place, value):
        others = [j for j in range(3) if j != place]
        best = np.inf
        for start in ([0.3, 0.5, 0.5], [0.1, 1.0, 0.9], [0.6, 0.3, 1.4]):

            def residuals(some):
                p = np.empty(3)
                p[others], p[place] = some, value
                return (current - model(times, *p)) / u

            found = optimize.least_squares(residuals, np.array(start)[others], bounds=(low[others], high[others]),
                                           x_scale="jac", ftol=1e-14, xtol=1e-14, gtol=1e-14)  # fmt: skip
            best = min(best, 2 * found.cost)
        return best

    rise = (1.6448536 * fit.scale[0]) ** 2
    for place, (name, ends) in enumerate(fit.profile(0.9).items()):
        for end, bound in zip(ends, (low[place], high[place])):
            there = held(place, end[0]) - fit.chi2[0]
            if end[0] == pytest.approx(bound, abs=1e-12):
                assert there <= rise * (1 + 1e-3), name
            else:
                assert there == pytest.approx(rise, rel=1e-3), name
    assert list(fit.profile()) == list(fit.values)


def test_where_there_is_no_curve_there_is_no_profile():
    fit = rewound.fit_absorption([30, 60], [100.0, 120.0], test_voltage_V=VOLTS)
    assert all(np.isnan(ends).all() for ends in fit.profile().values())
    with pytest.raises(rewound.PreconditionError, match="level"):
        fit.profile(1.0)


def test_ratio_and_prediction_agree_on_the_best_curve():
    _, resistance = curve(3)
    fit = rewound.fit_absorption(TIMES, resistance, test_voltage_V=VOLTS)
    ten, one = fit.predict(600.0)[0], fit.predict(60.0)[0]
    assert_allclose(fit.ratio()[0], ten / one, rtol=1e-5, atol=0)
    value, low, high = fit.ratio(60.0, 30.0)
    assert 1 <= low[0] < value[0] < high[0]
    assert fit.ratio(level=0.5)[2][0] < fit.ratio(level=0.99)[2][0]


def test_batch_is_its_curves_one_by_one_whatever_the_threads():
    rows = [curve(seed)[1] for seed in range(6)]
    times = np.broadcast_to(TIMES, (6, TIMES.size)).copy()
    table = np.array(rows)
    table[2, 7:] = np.nan
    times[4, 0] = np.nan
    volts = np.full(6, VOLTS)
    one, four = (rewound.fit_absorption(times, table, test_voltage_V=volts, threads=threads) for threads in (1, 4))
    assert one.params.tolist() == four.params.tolist()
    single = rewound.fit_absorption(TIMES[:7], rows[2][:7], test_voltage_V=VOLTS)
    assert single.params[0].tolist() == one.params[2].tolist()
    assert one.degrees_of_freedom.tolist() == [6, 6, 4, 6, 5, 6]
    value, low, high = one.predict([60.0, 600.0])
    assert value.shape == low.shape == high.shape == (6, 2)
    assert (low < value).all() and (value < high).all()


def test_bounds_and_too_few_readings_are_named():
    flat = rewound.fit_absorption([15, 30, 60, 120], [500.0, 500.0, 500.0, 500.0], test_voltage_V=VOLTS)
    assert flat.status == ["no_absorption"]
    assert_allclose(flat.params[0, :2], [1.0, 0.0], rtol=1e-12, atol=0)
    few = rewound.fit_absorption([15, 60], [180.0, 310.0], test_voltage_V=VOLTS)
    assert few.status == ["too_few_readings"]
    assert np.isnan(few.params).all() and np.isnan(few.predict(600.0)).all() and np.isnan(few.ratio()).all()


@pytest.mark.parametrize(
    "arguments, field",
    [
        (([15, 30, -60], [1.0, 2.0, 3.0], VOLTS), "time_s[2]"),
        (([15, 30, 60], [1.0, 0.0, 3.0], VOLTS), "resistance_Mohm[1]"),
        (([15, 30, 60], [1.0, np.nan, 3.0], VOLTS), "resistance_Mohm[1]"),
        (([15, 30, 60], [1.0, 2.0], VOLTS), "resistance_Mohm"),
        (([15, 30, 60], [1.0, 2.0, 3.0], 0.0), "test_voltage_V"),
        (([15, 30, 60], [1.0, 2.0, 3.0], [500.0, 500.0]), "test_voltage_V"),
        ((["a", "b", "c"], [1.0, 2.0, 3.0], VOLTS), "time_s"),
    ],
)
def test_impossible_arguments_name_their_field(arguments, field):
    with pytest.raises(rewound.PreconditionError) as caught:
        rewound.fit_absorption(*arguments[:2], test_voltage_V=arguments[2])
    assert caught.value.field == field


def test_impossible_predictions_are_refused():
    fit = rewound.fit_absorption(TIMES, curve(1)[1], test_voltage_V=VOLTS)
    for call in (
        lambda: fit.predict(-1.0),
        lambda: fit.predict(600.0, level=1.0),
        lambda: fit.ratio(30.0, 60.0),
        lambda: fit.predict(np.ones((3, 2))),
    ):
        with pytest.raises(rewound.PreconditionError):
            call()


def test_example_of_the_documentation_runs():
    import doctest

    runner = doctest.DocTestRunner()
    for example in doctest.DocTestFinder().find(rewound.fit_absorption, "fit_absorption", globs={"rewound": rewound}):
        runner.run(example)
    assert runner.tries == 2 and runner.failures == 0


def test_parameters_have_names_and_a_frame():
    pandas = pytest.importorskip("pandas")
    times, ohms = [15, 30, 60, 120, 600], [[110, 150, 203, 250, 380.0], [210, 260, 303, "OL", np.nan]]
    fit = rewound.fit_absorption(times, ohms, test_voltage_V=500)
    assert list(fit.values) == list(fit.errors) == ["leakage_uA", "absorption_uA", "exponent"]
    assert_allclose(np.column_stack(list(fit.values.values())), fit.params)
    assert_allclose(fit.errors["exponent"][0], np.sqrt(fit.covariance[0, 2, 2]))
    assert fit.nobs.tolist() == [5, 3]
    assert_allclose(fit.reduced_chi2, [fit.chi2[0] / 2, np.nan])
    frame = fit.to_frame()
    assert isinstance(frame, pandas.DataFrame) and frame["nobs"].tolist() == [5, 3]
    assert_allclose(frame["exponent"], fit.params[:, 2])
    assert_allclose(frame["leakage_u_uA"], fit.errors["leakage_uA"])
