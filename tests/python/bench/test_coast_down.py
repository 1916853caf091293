# SPDX-License-Identifier: MIT
"""fit_coast_down against SciPy: speeds integrated by solve_ivp, terms and covariance by curve_fit."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, optimize, stats
from tables import rows

import rewound

RPM = 30.0 / np.pi
TIMES = np.arange(0.0, 30.0, 2.0)


def coasting(times, w0, c0, c1, c2):
    """Speeds [rad/s] by SciPy's integrator, 0 from standstill on."""

    def stands(_, w):
        return w[0]

    stands.terminal = True
    done = integrate.solve_ivp(
        lambda _, w: -(c0 + c1 * w + c2 * w * w), (0.0, times[-1] + 1e-9), [w0], t_eval=times, events=stands,
        rtol=1e-10, atol=1e-10,
    )  # fmt: skip
    out = np.zeros(times.size)
    out[: done.y.shape[1]] = done.y[0]
    return out


def read(seed, terms, w0=145.0, u_rpm=0.5, times=TIMES):
    rng = np.random.default_rng(seed)
    speeds = RPM * coasting(times, w0, *terms)
    return np.where(speeds > 0.0, speeds + u_rpm * rng.normal(size=times.size), 0.0)


@pytest.mark.parametrize("seed", range(8))
def test_terms_and_covariance_are_those_of_scipy(seed):
    # Source: scipy.optimize.curve_fit through the integrated equation, absolute uncertainties.
    rpm = read(seed, (1.0, 0.02, 0.0004), u_rpm=0.2)
    moving = rpm > 0.0
    params, covariance = optimize.curve_fit(
        coasting, TIMES[moving], rpm[moving] / RPM, p0=[145.0, 1.0, 0.02, 0.0004],
        sigma=np.full(moving.sum(), 0.2 / RPM), absolute_sigma=True,
    )  # fmt: skip
    assert (params > 0.0).all()
    fit = rewound.fit_coast_down(TIMES, rpm, speed_u_rpm=0.2)
    assert fit.status == "fitted" and fit.fitted == [True, True, True]
    assert_allclose(fit.terms, params[1:], rtol=1e-4, atol=0)
    assert_allclose(fit.initial_rpm, RPM * params[0], rtol=1e-7, atol=0)
    assert_allclose(fit.covariance / fit.scale**2, covariance[1:, 1:], rtol=0.01, atol=0)
    at = fit.compare_at_rpm / RPM
    by = np.array([1.0, at, at * at])
    assert_allclose(fit.deceleration_rad_s2, by @ params[1:], rtol=1e-5, atol=0)
    assert_allclose(fit.deceleration_u_rad_s2 / fit.scale, np.sqrt(by @ covariance[1:, 1:] @ by), rtol=0.01, atol=0)
    assert_allclose(fit.parts_u_rad_s2 / fit.scale, by * np.sqrt(np.diag(covariance)[1:]), rtol=0.01, atol=0)


@pytest.mark.parametrize("seed", range(8))
def test_a_term_that_would_fall_below_0_is_0_and_the_others_are_those_of_the_bounded_fit(seed):
    # Source: scipy.optimize.curve_fit with bounds, started from several points.
    rpm = read(seed, (2.0, 0.0, 0.0003), u_rpm=2.0)
    moving = rpm > 0.0
    best = None
    for start in ([145.0, 2.0, 1e-3, 3e-4], [145.0, 0.5, 0.05, 1e-4]):
        params, _ = optimize.curve_fit(
            coasting,
            TIMES[moving],
            rpm[moving] / RPM,
            p0=start,
            bounds=(0.0, np.inf),
            x_scale=[100.0, 1.0, 0.01, 1e-4],
            xtol=1e-12, ftol=1e-12, gtol=1e-12,
        )  # fmt: skip
        chi2 = np.sum((rpm[moving] - RPM * coasting(TIMES[moving], *params)) ** 2) / 4.0
        best = (chi2, params) if best is None or chi2 < best[0] else best
    fit = rewound.fit_coast_down(TIMES, rpm, speed_u_rpm=2.0)
    assert (fit.terms >= 0.0).all()
    assert_allclose(fit.chi2, best[0], rtol=1e-4, atol=1e-4)
    assert fit.chi2 <= best[0] * (1 + 1e-6)
    for term, free in zip(fit.terms, fit.fitted):
        assert free or term == 0.0


@pytest.mark.parametrize("terms", [(2.0, 0.0, 0.0), (0.0, 0.1, 0.0), (0.0, 0.0, 0.002), (1.0, 0.02, 0.0004)])
def test_speeds_of_the_fitted_curve_are_those_of_the_integrator(terms):
    times = np.linspace(0.0, 12.0, 13)
    fit = rewound.fit_coast_down(times, RPM * coasting(times, 140.0, *terms), speed_u_rpm=1e-3)
    later = np.linspace(0.0, 40.0, 17)
    assert_allclose(fit.speed_rpm(later), RPM * coasting(later, 140.0, *terms), rtol=0, atol=0.02)


@pytest.mark.parametrize("given,expected,tolerance", rows("running/coast_down.csv", "stop_time"))
def test_time_to_standstill_is_that_of_the_oracle_table(given, expected, tolerance):
    # COAST-01 to 05; the fit of exact speeds leaves some digits.
    times = np.linspace(0.0, 0.95 * expected, 20)
    speeds = RPM * coasting(times, given["w0"], given["c0"], given["c1"], given["c2"])
    fit = rewound.fit_coast_down(times, speeds, speed_u_rpm=1e-4)
    assert_allclose(fit.stop_s, expected, rtol=1e-5)
    assert tolerance < 1e-5 * expected


def test_shares_need_no_inertia_and_torques_go_with_it():
    rpm = read(3, (1.0, 0.02, 0.0004))
    alone = rewound.fit_coast_down(TIMES, rpm, speed_u_rpm=0.5)
    assert alone.torque_Nm is None and alone.torques_Nm is None
    assert_allclose(alone.shares.sum(), 1.0, rtol=1e-12)
    fit = rewound.fit_coast_down(TIMES, rpm, speed_u_rpm=0.5, inertia_kgm2=0.002)
    assert_allclose(fit.torques_Nm, 0.002 * alone.parts_rad_s2, rtol=1e-12)
    assert_allclose(
        [fit.torque_Nm, fit.torque_u_Nm], [0.002 * alone.deceleration_rad_s2, 0.002 * alone.deceleration_u_rad_s2]
    )
    assert_allclose(fit.shares, alone.shares, rtol=1e-12)


def test_time_zero_does_not_matter_and_standstill_is_left_out():
    rpm = read(4, (6.0, 0.02, 0.0004))
    assert (rpm == 0.0).any()
    fit = rewound.fit_coast_down(TIMES, rpm)
    shifted = rewound.fit_coast_down(TIMES[rpm > 0.0] + 7.5, rpm[rpm > 0.0])
    assert_allclose(shifted.terms, fit.terms, rtol=1e-6, atol=1e-9)


def test_an_uncertain_stopwatch_widens():
    rpm = read(5, (1.0, 0.02, 0.0004))
    assert (
        rewound.fit_coast_down(TIMES, rpm, time_u_s=0.1).deceleration_u_rad_s2
        > 2.0 * rewound.fit_coast_down(TIMES, rpm).deceleration_u_rad_s2
    )


def test_what_cannot_be_fitted_says_so_and_has_no_numbers():
    few = rewound.fit_coast_down([0, 1], [1000, 900])
    rising = rewound.fit_coast_down([0, 1, 2, 3], [1000, 1100, 1200, 1300])
    assert (few.status, rising.status) == ("too_few_readings", "not_slowing")
    for fit in (few, rising):
        assert np.isnan(fit.terms).all() and np.isnan(fit.deceleration_rad_s2) and np.isnan(fit.speed_rpm(1.0))
        assert fit.status in repr(fit)


@pytest.mark.parametrize(
    "change,place",
    [
        ({"time_s": [0, 2, 1, 3]}, "time_s[2]"),
        ({"time_s": [0, 1, 2]}, "speed_rpm"),
        ({"time_s": [[0, 1, 2, 3]]}, "time_s"),
        ({"speed_rpm": [1000, -1, 800, 700]}, "speed_rpm[1]"),
        ({"speed_rpm": [1000, np.nan, 800, 700]}, "speed_rpm[1]"),
        ({"speed_rpm": ["a", "b", "c", "d"]}, "speed_rpm"),
        ({"speed_u_rpm": 0.0}, "speed_u_rpm"),
        ({"time_u_s": -1.0}, "time_u_s"),
        ({"compare_at_rpm": 0.0}, "compare_at_rpm"),
        ({"inertia_kgm2": -1.0}, "inertia_kgm2"),
    ],
)
def test_bad_arguments_are_refused_by_name(change, place):
    arguments = {"time_s": [0, 1, 2, 3], "speed_rpm": [1000, 900, 800, 700], **change}
    with pytest.raises(rewound.PreconditionError) as caught:
        rewound.fit_coast_down(arguments.pop("time_s"), arguments.pop("speed_rpm"), **arguments)
    assert caught.value.field == place


def test_terms_have_names_and_old_names_work_for_a_release():
    fit = rewound.fit_coast_down(TIMES, read(5, (1.0, 0.02, 0.0004)))
    assert_allclose(list(fit.values.values()), fit.terms)
    assert list(fit.values) == list(fit.errors) == ["constant", "linear", "quadratic"]
    assert_allclose(list(fit.errors.values()), np.sqrt(np.diag(fit.covariance)))
    for old in ("deceleration", "deceleration_u", "parts", "parts_u"):
        with pytest.warns(DeprecationWarning, match=f"{old} is now {old}_rad_s2"):
            assert_allclose(getattr(fit, old), getattr(fit, f"{old}_rad_s2"))


def least_sum(times, w, u, held, value):
    """The least sum of squares with one term held, the others not below 0, by SciPy from several starts."""
    free = [k for k in range(3) if k != held]

    def off(p):
        terms = np.zeros(3)
        terms[held], terms[free] = value, p[1:]
        return (coasting(times, p[0], *terms) - w) / u

    bounds = ([50.0, 0.0, 0.0], [300.0, np.inf, np.inf])
    typical = np.array([3.0, 0.03, 4e-4])[free]
    found = [
        optimize.least_squares(off, [w[0], *(share * typical)], bounds=bounds, x_scale=[w[0], *typical], xtol=1e-12,
                               ftol=1e-12)
        for share in (0.1, 1.0)
    ]  # fmt: skip
    return min(2 * each.cost for each in found)


@pytest.mark.parametrize("terms", [(1.0, 0.02, 0.0004), (3.0, 0.0, 0.0003), (2.0, 0.04, 0.0)])
def test_at_an_end_of_a_profile_the_least_sum_has_risen_as_far_as_the_level_allows(terms):
    # Source: SciPy's bounded least squares with the term held there.
    times = np.arange(0.0, 22.0, 2.0)
    rpm = read(3, terms, times=times)
    moving = rpm > 0.0
    fit = rewound.fit_coast_down(times, rpm, speed_u_rpm=0.5)
    limit = fit.chi2 + (stats.norm.ppf(0.95) * fit.scale) ** 2
    met = 0
    for held, (name, (low, high)) in enumerate(fit.profile(0.9).items()):
        assert 0.0 <= low <= fit.values[name] <= high
        for end in (low, high):
            if end == 0.0:
                continue
            found = least_sum(times[moving], rpm[moving] / RPM, 0.5 / RPM, held, end)
            assert_allclose(found, limit, rtol=1e-3)
            met += 1
    assert met >= 3


def test_well_told_terms_have_the_intervals_of_their_covariance():
    times = np.arange(0.0, 18.0, 0.25)
    rpm = read(5, (2.0, 0.03, 0.0004), u_rpm=0.02, times=times)
    fit = rewound.fit_coast_down(times, rpm, speed_u_rpm=0.02)
    for name, (low, high) in fit.profile().items():
        assert_allclose([low, high], fit.values[name] + np.array([-1.96, 1.96]) * fit.errors[name], rtol=0.02)


def test_profiles_of_95_percent_hold_the_true_terms_93_to_99_of_100_times():
    # Source: the terms that made the readings. Near 0 an interval that ends there holds more.
    rng = np.random.default_rng(21)
    held = np.zeros(3)
    for seed in range(150):
        terms = rng.uniform([1.0, 0.0, 1e-4], [8.0, 0.03, 8e-4])
        rpm = read(1000 + seed, terms, times=np.arange(0.0, 9.0))
        ends = rewound.fit_coast_down(np.arange(0.0, 9.0), rpm, speed_u_rpm=0.5).profile()
        held += [low <= true <= high for true, (low, high) in zip(terms, ends.values())]
    assert np.all(held / 150 > 0.92) and np.all(held.sum() / 450 > 0.93)


def test_a_profile_of_nothing_is_no_number_and_a_level_that_cannot_be_is_refused():
    still = rewound.fit_coast_down([0.0, 1.0], [1400.0, 1300.0])
    assert all(np.isnan(ends).all() for ends in still.profile().values())
    with pytest.raises(rewound.PreconditionError):
        still.profile(1.0)
