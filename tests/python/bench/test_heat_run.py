# SPDX-License-Identifier: MIT
"""Heat runs: projection against curve_fit and the weighed grid in NumPy, rises and cooling against the tables."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize, stats
from tables import rows

import rewound

MINUTE = 60.0


def heating(t, final, a, tau):
    return final - a * np.exp(-t / tau)


def run(seed, share_of_tau, final=60.0, tau=1800.0, u=0.3, count=12):
    times = np.linspace(0.0, share_of_tau * tau, count)
    noise = np.random.default_rng(seed).normal(size=count)
    return times, heating(times, final, final, tau) + u * noise


@pytest.mark.parametrize("seed", range(8))
def test_a_long_run_is_the_exponential_fit_of_scipy(seed):
    # Source: scipy.optimize.curve_fit; over five time constants the prior does not count.
    times, rise = run(seed, 5.0)
    params, covariance = optimize.curve_fit(
        heating, times, rise, p0=[60, 60, 1800], sigma=np.full(times.size, 0.3), absolute_sigma=True
    )
    fit = rewound.project_heat_run(times, rise, rise_u_K=0.3, fast_share=0.0)
    u = np.sqrt(covariance[0, 0])
    assert fit.status == "projected"
    assert_allclose(fit.final_rise_K, params[0], rtol=0, atol=0.15 * u)
    assert_allclose(fit.time_constants_s, [params[2]], rtol=0.02)
    half = 0.5 * (fit.high_K - fit.low_K) / stats.norm.ppf(0.975)
    assert_allclose(half, fit.scale * u, rtol=0.06)
    assert_allclose(fit.at_end_K, heating(times[-1], *params), rtol=0, atol=0.1)


def weighed(times, rises, u, slow, place, share):
    """Final rise, its variance, chi2 and ln prior for one pair of time constants: level and amplitude are fitted."""
    top = min(np.log(600.0), np.log(slow) - np.log(4.0))
    fast = np.exp(np.log(60.0) + place * (top - np.log(60.0))) if top > np.log(60.0) else slow
    share = share if top > np.log(60.0) else 0.0
    left = (1 - share) * np.exp(-times / slow) + share * np.exp(-times / fast)
    design = np.column_stack([np.ones_like(times), -left]) / u
    covariance = np.linalg.inv(design.T @ design)
    beta = covariance @ design.T @ (rises / u)
    residual = rises / u - design @ beta
    return beta[0], covariance[0, 0], residual @ residual


def check_against(fit, finals, variances, chi2s, log_prior, readings, outer=0.012, inner=0.012):
    finals, variances, chi2s, log_prior = map(np.ravel, map(np.array, (finals, variances, chi2s, log_prior)))
    scale2 = max(1.0, (4 + chi2s.min()) / (4 + readings - 3))
    weights = np.exp(log_prior - 0.5 * (chi2s - chi2s.min()) / scale2)
    weights /= weights.sum()

    def below(kelvins):
        return weights @ stats.norm.cdf((kelvins - finals) / np.sqrt(scale2 * variances))

    for probability in (0.025, 0.25, 0.5, 0.75, 0.975):
        low, high = fit.interval(abs(1 - 2 * probability)) if probability != 0.5 else (fit.final_rise_K,) * 2
        quantile = low if probability < 0.5 else high
        at_end = probability in (0.025, 0.975)
        assert_allclose(below(quantile), probability, rtol=0, atol=outer if at_end else inner)
    assert_allclose(fit.probability_below(60.0), below(60.0), rtol=0, atol=inner)


@pytest.mark.parametrize("share", [0.5, 1.0, 2.0])
def test_the_projection_of_one_body_is_the_weighed_sum_over_its_time_constant(share):
    # Source: the same posterior summed by NumPy on a fine grid: likelihood and log-normal prior.
    times, rise = run(11, share)
    median, spread = np.log(1800.0), np.log(3.0)
    fit = rewound.project_heat_run(
        times, rise, rise_u_K=0.3, time_constant_s=1800.0, time_constant_factor=3.0, fast_share=0.0
    )
    logs = np.linspace(median - 4 * spread, median + 4 * spread, 4001)
    found = [weighed(times, rise, 0.3, np.exp(each), 0.0, 0.0) for each in logs]
    check_against(fit, *zip(*found), -0.5 * ((logs - median) / spread) ** 2, times.size)


@pytest.mark.parametrize("when", [-600.0, 0.0, 700.0, 2500.0, 9000.0])
def test_the_rise_at_any_time_is_the_weighed_sum_there(when):
    # Source: the curves that SciPy's linear least squares fits for each time constant, weighed by NumPy.
    times, rise = run(11, 1.0)
    median, spread = np.log(1800.0), np.log(3.0)
    fit = rewound.project_heat_run(
        times, rise, rise_u_K=0.3, time_constant_s=1800.0, time_constant_factor=3.0, fast_share=0.0
    )
    logs = np.linspace(median - 4 * spread, median + 4 * spread, 4001)
    values, variances, chi2s = [], [], []
    for tau in np.exp(logs):
        design = np.column_stack([np.ones_like(times), -np.exp(-times / tau)]) / 0.3
        beta, residual = np.linalg.lstsq(design, rise / 0.3, rcond=None)[:2]
        at = np.array([1.0, -np.exp(-when / tau)])
        values.append(at @ beta)
        variances.append(at @ np.linalg.inv(design.T @ design) @ at)
        chi2s.append(residual[0])
    chi2s = np.array(chi2s)
    scale2 = max(1.0, (4 + chi2s.min()) / (4 + times.size - 3))
    weights = np.exp(-0.5 * ((logs - median) / spread) ** 2 - 0.5 * (chi2s - chi2s.min()) / scale2)
    weights /= weights.sum()

    def below(kelvins):
        return weights @ stats.norm.cdf((kelvins - values) / np.sqrt(scale2 * np.array(variances)))

    for quantile, probability in zip(fit.predict(when, level=0.9), (0.5, 0.05, 0.95)):
        assert_allclose(below(quantile), probability, rtol=0, atol=0.012)


def test_far_ahead_the_rise_is_the_final_one():
    fit = rewound.project_heat_run(*run(3, 1.0), rise_u_K=0.3)
    assert_allclose(fit.predict(1e7), [fit.final_rise_K, fit.low_K, fit.high_K], rtol=1e-9)
    value, low, high = fit.predict([0.0, 1e7])
    assert value.shape == low.shape == high.shape == (2,) and (low < value).all() and (value < high).all()


def test_uncertainties_count_for_four_readings_or_are_absolute():
    times, rise = run(3, 5.0, u=1.0)
    stated = rewound.project_heat_run(times, rise, rise_u_K=0.1, fast_share=0.0)
    absolute = rewound.project_heat_run(times, rise, rise_u_K=0.1, fast_share=0.0, absolute_sigma=True)
    assert_allclose(stated.scale, np.sqrt((4 + stated.chi2) / (4 + times.size - 3)), rtol=1e-9)
    assert absolute.scale == 1.0 and stated.scale > 3.0
    assert_allclose((stated.high_K - stated.low_K) / (absolute.high_K - absolute.low_K), stated.scale, rtol=0.1)


@pytest.mark.parametrize("share", [0.5, 1.5])
def test_the_projection_of_two_bodies_is_the_weighed_sum_over_both_and_the_share(share):
    # Source: the same posterior summed by NumPy with the trapezoidal rule in its three unknowns. The library's grid is
    # coarse in the fast part: its middle lies up to a tenth of the probability off, the ends of its 95 % interval
    # 1.3 points.
    times, rise = run(5, share, tau=2400.0, u=0.5)
    median, spread = np.log(3000.0), np.log(2.2)
    fit = rewound.project_heat_run(times, rise, rise_u_K=0.5)
    logs = np.linspace(median - 4 * spread, median + 4 * spread, 161)
    places, parts = np.linspace(0, 1, 9), np.linspace(0, 0.5, 31)
    grid = [(each, place, part) for each in logs for place in places for part in parts]
    found = [weighed(times, rise, 0.5, np.exp(each), place, part) for each, place, part in grid]
    halves = [np.log(0.5) * ((place in (0.0, 1.0)) + (part in (0.0, 0.5))) for _, place, part in grid]
    prior = [-0.5 * ((each - median) / spread) ** 2 + half for (each, _, _), half in zip(grid, halves)]
    check_against(fit, *zip(*found), prior, times.size, outer=0.016, inner=0.1)


def test_a_fast_part_is_found_where_the_readings_carry_it():
    times = np.linspace(0.0, 3 * 3600.0, 60)
    rise = heating(times, 40.0, 40.0, 3000.0) + heating(times, 20.0, 20.0, 300.0)
    fit = rewound.project_heat_run(times, rise + 0.1 * np.random.default_rng(1).normal(size=60), rise_u_K=0.1)
    assert_allclose(fit.time_constants_s, [3000.0, 300.0], rtol=0.1)
    assert fit.low_K < 60.0 < fit.high_K


@pytest.mark.parametrize("given,expected,tolerance", rows("running/heat.csv", "final_rise"))
def test_textbook_runs_of_three_readings_come_to_their_final_rise(given, expected, tolerance):
    # HEAT-01, 03, 07, 09: three exact points; with small uncertainties the prior does not count.
    times = [MINUTE * given[key] for key in ("t1", "t2", "t3")]
    fit = rewound.project_heat_run(times, [given["r1"], given["r2"], given["r3"]], rise_u_K=1e-3, fast_share=0.0)
    assert_allclose(fit.final_rise_K, expected, rtol=0, atol=max(tolerance, 0.01))


@pytest.mark.parametrize("given,expected,tolerance", rows("running/heat.csv", "time_constant"))
def test_textbook_runs_have_their_time_constant(given, expected, tolerance):
    times = [MINUTE * given[key] for key in ("t1", "t2", "t3")]
    fit = rewound.project_heat_run(times, [given["r1"], given["r2"], given["r3"]], rise_u_K=1e-3, fast_share=0.0)
    assert_allclose(fit.time_constants_s[0] / MINUTE, expected, rtol=0, atol=max(tolerance, 0.005 * expected))


def test_the_time_still_needed_makes_the_final_rise_known():
    # The forecast is linearised and of a lucky or unlucky run: on the mean the half-width then is the one asked for.
    halves = []
    for seed in range(20):
        times, rise = run(seed, 1.0, count=10)
        fit = rewound.project_heat_run(times, rise, rise_u_K=0.3)
        assert fit.known_after_s > 0.0
        assert fit.slow_time_constant_s > 0.0
        step = times[1]
        longer = np.arange(0.0, times[-1] + fit.known_after_s + 0.5 * step, step)
        more = heating(longer, 60.0, 60.0, 1800.0) + 0.3 * np.random.default_rng(seed + 100).normal(size=longer.size)
        more[: rise.size] = rise
        after = rewound.project_heat_run(longer, more, rise_u_K=0.3)
        halves.append(0.5 * (after.high_K - after.low_K))
    assert 1.2 < np.mean(halves) < 2.6
    times, rise = run(0, 5.0)
    assert rewound.project_heat_run(times, rise, rise_u_K=0.3).known_after_s == 0.0


def test_steady_is_a_change_of_1_K_in_30_minutes():
    # S197: both forms of the standards; 60 K exp(-t/1800 s) falls by 1 K in half an hour from
    # t = 1800 ln(60 (e - 1)) = 8347 s on, the time of the change's end.
    end = 1800.0 * np.log(60.0 * (np.e - 1.0))
    times = np.linspace(0.0, 7200.0, 25)
    fit = rewound.project_heat_run(times, heating(times, 60.0, 60.0, 1800.0), rise_u_K=0.01)
    assert_allclose(fit.steady_after_s, end - 7200.0, rtol=0, atol=61.0)
    assert_allclose(fit.change_in_30_min_K, 60.0 * (np.exp(-3.0) - np.exp(-4.0)), rtol=0.01)
    longer = np.linspace(0.0, 9000.0, 25)
    assert rewound.project_heat_run(longer, heating(longer, 60.0, 60.0, 1800.0), rise_u_K=0.01).steady_after_s == 0.0


def test_what_cannot_be_projected_says_so():
    few = rewound.project_heat_run([0, 60], [0, 1], rise_u_K=0.1)
    falling = rewound.project_heat_run([0, 600, 1200, 1800], [40, 30, 25, 20], rise_u_K=0.1)
    assert (few.status, falling.status) == ("too_few_readings", "not_heating")
    for fit in (few, falling):
        assert np.isnan([fit.final_rise_K, fit.low_K, fit.high_K]).all()
        assert fit.known_after_s is None
        with pytest.raises(rewound.PreconditionError):
            fit.probability_below(60.0)


@pytest.mark.parametrize("material,quantity", [("copper", "rise"), ("aluminium", "rise_aluminium")])
def test_rises_by_resistance_are_those_of_the_tables(material, quantity):
    # HEAT-15 to 17, S151 to S156.
    for given, expected, tolerance in rows("running/heat.csv", quantity):
        constant = {"copper_constant_K": given["k"]} if "k" in given else {}
        value = rewound.rise_by_resistance(
            given["cold"],
            given["cold_C"],
            hot_ohm=given["hot"],
            ambient_C=given["coolant_C"],
            material=material,
            **constant,
        )
        assert_allclose(value, expected, rtol=0, atol=0.004)


def test_rises_are_broadcast():
    value = rewound.rise_by_resistance([[12.5], [25.0]], 22, hot_ohm=[15.1, 16.1, 17.1], ambient_C=24)
    assert value.shape == (2, 3)
    assert_allclose(value[0, 0], 51.352, atol=1e-3)


@pytest.mark.parametrize("given,expected,tolerance", rows("running/heat.csv", "switch_off_ohm"))
def test_cooling_is_carried_back_to_switch_off(given, expected, tolerance):
    cold = given["cold"] * (234.5 + given["ambient_C"]) / (234.5 + given["cold_C"])
    off = rewound.resistance_at_switch_off(
        [given["t1"], given["t2"]], [given["R1"], given["R2"]], ambient_ohm=cold, resistance_u_ohm=1e-4
    )
    assert off.status == "extrapolated"
    assert_allclose(off.resistance_ohm, expected, rtol=0, atol=0.004)
    assert_allclose(off.time_constant_s, 600.0, rtol=1e-3)


def test_cooling_is_the_weighed_straight_line_of_numpy():
    # Source: numpy.polyfit on the logarithm, weights excess / u; 50 K to 10 K in 1.5 h is HEAT-08, 0.93 h.
    times = np.array([20.0, 40.0, 60.0, 90.0, 120.0])
    rng = np.random.default_rng(2)
    ohm = 20.0 + 4.0 * np.exp(-times / 500.0) + 0.01 * rng.normal(size=5)
    line, covariance = np.polyfit(times, np.log(ohm - 20.0), 1, w=(ohm - 20.0) / 0.01, cov="unscaled")
    off = rewound.resistance_at_switch_off(times, ohm, ambient_ohm=20.0, resistance_u_ohm=0.01)
    assert_allclose(off.resistance_ohm, 20.0 + np.exp(line[1]), rtol=1e-10)
    chi2 = np.sum(((np.log(ohm - 20.0) - np.polyval(line, times)) * (ohm - 20.0) / 0.01) ** 2)
    widened = np.sqrt(max(1.0, (4 + chi2) / (4 + 3)))
    assert_allclose(off.resistance_u_ohm, widened * np.exp(line[1]) * np.sqrt(covariance[1, 1]), rtol=1e-8)
    slow = rewound.resistance_at_switch_off([0.0, 5400.0], [15.0, 11.0], ambient_ohm=10.0, resistance_u_ohm=1e-3)
    assert_allclose(slow.time_constant_s / 3600.0, 0.93, atol=0.005)


def test_cooling_that_is_not_says_so():
    def off(ohms):
        return rewound.resistance_at_switch_off(np.arange(len(ohms)), ohms, ambient_ohm=10.0, resistance_u_ohm=0.01)

    assert off([12.0, 12.5, 12.3])[:2] == ("highest_taken", 12.5)
    assert off([12.0])[:2] == ("first_taken", 12.0)
    assert off([9.0, 8.9]).status == "not_cooling" and np.isnan(off([9.0, 8.9]).resistance_ohm)


@pytest.mark.parametrize(
    "call,place",
    [
        (lambda: rewound.project_heat_run([0, 2, 1], [0, 1, 2], rise_u_K=0.1), "time_s[2]"),
        (lambda: rewound.project_heat_run([0, 1, 2], [0, 1], rise_u_K=0.1), "rise_K"),
        (lambda: rewound.project_heat_run([0, 1, 2], [0, np.nan, 2], rise_u_K=0.1), "rise_K[1]"),
        (lambda: rewound.project_heat_run([0, 1, 2], [0, 1, 2], rise_u_K=0.0), "rise_u_K[0]"),
        (lambda: rewound.project_heat_run([0, 1, 2], [0, 1, 2], rise_u_K=[0.1, 0.1]), "rise_u_K"),
        (lambda: rewound.project_heat_run([0, 1, 2], [0, 1, 2], rise_u_K=0.1, time_constant_factor=1.0), "time_constant_factor"),
        (lambda: rewound.project_heat_run([0, 9, 99], [0, 1, 2], rise_u_K=0.1).interval(1.0), "level"),
        (lambda: rewound.rise_by_resistance(0.0, 20, hot_ohm=12, ambient_C=25), "cold_ohm"),
        (lambda: rewound.rise_by_resistance(10.0, 2000, hot_ohm=12, ambient_C=25), "temperature_C"),
        (lambda: rewound.rise_by_resistance(10.0, 20, hot_ohm=12, ambient_C=25, material="brass"), "material"),
        (lambda: rewound.resistance_at_switch_off([], [], ambient_ohm=10.0, resistance_u_ohm=0.1), "resistance_ohm"),
        (lambda: rewound.resistance_at_switch_off([1], [0.0], ambient_ohm=10.0, resistance_u_ohm=0.1), "resistance_ohm[0]"),
        (lambda: rewound.resistance_at_switch_off([1], [11.0], ambient_ohm=10.0, resistance_u_ohm=0.0), "resistance_u_ohm"),
    ],
)  # fmt: skip
def test_bad_arguments_are_refused_by_name(call, place):
    with pytest.raises(rewound.PreconditionError) as caught:
        call()
    assert caught.value.field == place


def test_the_range_of_the_fast_body_is_in_seconds_and_its_former_name_in_minutes():
    times, rise = run(3, 1.0)
    now = rewound.project_heat_run(times, rise, rise_u_K=0.3, fast_s=(120.0, 300.0))
    with pytest.warns(DeprecationWarning, match="fast_min is now fast_s"):
        formerly = rewound.project_heat_run(times, rise, rise_u_K=0.3, fast_min=(2.0, 5.0))
    assert formerly == now != rewound.project_heat_run(times, rise, rise_u_K=0.3)


@pytest.mark.parametrize("when", [[[0.0]], float("nan"), [0.0, float("inf")]])
def test_times_that_cannot_be_are_refused(when):
    fit = rewound.project_heat_run(*run(3, 1.0), rise_u_K=0.3)
    with pytest.raises(rewound.PreconditionError, match="time_s"):
        fit.predict(when)


def test_nothing_projected_predicts_nothing():
    with pytest.raises(rewound.PreconditionError, match="projected"):
        rewound.project_heat_run([0, 60], [0.0, 1.0], rise_u_K=0.3).predict(60.0)
