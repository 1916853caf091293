# SPDX-License-Identifier: MIT
"""Starts, no-load losses and unbalance against SciPy and the oracle tables."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats
from tables import rows

import rewound


def separate(volts, amperes, watts, **named):
    return rewound.separate_no_load(volts, amperes, power_W=watts, **named)


COUNTS = [(1, 0), (1, 1), (5, 5), (10, 7), (20, 20), (59, 59), (59, 58), (1000, 990), (1000000, 999999)]


@pytest.mark.parametrize("level", [0.5, 0.9, 0.95, 0.999])
@pytest.mark.parametrize("attempts,successes", COUNTS)
def test_bounds_are_beta_quantiles(attempts, successes, level):
    # Source: scipy.stats.beta; Clopper and Pearson's bounds are its quantiles.
    proved = rewound.proven_starts(attempts, successes, level=level)
    tail = (1 - level) / 2
    low = stats.beta.ppf(tail, successes, attempts - successes + 1) if successes else 0.0
    high = stats.beta.isf(tail, successes + 1, attempts - successes) if successes < attempts else 1.0
    least = stats.beta.ppf(1 - level, successes, attempts - successes + 1) if successes else 0.0
    assert_allclose([proved.low, proved.high, proved.at_least], [low, high, least], rtol=1e-8, atol=0)
    assert_allclose(proved.share, successes / attempts)


@pytest.mark.parametrize("level,claimed", [(0.95, 0.95), (0.9, 0.99), (0.8, 0.8)])
def test_further_starts_are_the_fewest_that_prove_the_claim(level, claimed):
    attempts, successes = np.array([1, 5, 10, 20, 30]), np.array([0, 5, 9, 20, 27])
    proved = rewound.proven_starts(attempts, successes, level=level, claimed=claimed)
    for n, k, more in zip(attempts, successes, proved.further.astype(int)):
        bound = [stats.beta.ppf(1 - level, k + m, n - k + 1) for m in (more, max(0, more - 1))]
        assert bound[0] >= claimed and (more == 0 or bound[1] < claimed)


@pytest.mark.parametrize("given,expected,tolerance", rows("physics/starting.csv", "starts_in_all"))
def test_starts_in_all_are_those_of_the_table(given, expected, tolerance):
    failures = int(given["failures"])
    proved = rewound.proven_starts(
        max(1, failures), 0 if failures else 1, level=given["confidence"], claimed=given["claim"]
    )
    in_all = failures + int(proved.further) if failures else proved.clean_starts_needed
    assert in_all == expected


def test_counts_are_broadcast():
    proved = rewound.proven_starts([[10], [20]], [5, 10, 10])
    assert proved.low.shape == proved.further.shape == (2, 3)
    assert proved.low[1, 0] == rewound.proven_starts(20, 5).low


@pytest.mark.parametrize("seed", range(10))
def test_two_positions_differ_as_fisher_and_wilson_say(seed):
    # Source: scipy.stats.fisher_exact and binomtest(...).proportion_ci("wilson"); Newcombe's method 10 joins the
    # latter.
    rng = np.random.default_rng(seed)
    n = rng.integers(3, 40, size=2)
    k = np.array([rng.binomial(n[0], 0.95), rng.binomial(n[1], 0.6)])
    k[1] = min(k[1], n[1] - 1)
    found = rewound.compare_positions(n, k, level=0.9)
    worst = int(np.argmin(k / n))
    other = 1 - worst
    assert found.position == worst and found.comparisons == 1
    assert_allclose(found.probability, stats.fisher_exact([[k[0], n[0] - k[0]], [k[1], n[1] - k[1]]])[1], rtol=1e-9)
    a, b = k[worst] / n[worst], k[other] / n[other]
    here, there = (stats.binomtest(int(k[i]), int(n[i])).proportion_ci(0.9, "wilson") for i in (worst, other))
    assert_allclose(found.difference, a - b, rtol=1e-12)
    assert_allclose(found.low, a - b - np.hypot(a - here.low, there.high - b), rtol=1e-9)
    assert_allclose(found.high, a - b + np.hypot(here.high - a, b - there.low), rtol=1e-9)


def test_several_positions_are_each_held_against_the_others():
    found = rewound.compare_positions([20, 10, 20], [20, 5, 19])
    expected = 3 * stats.fisher_exact([[5, 5], [39, 1]])[1]
    assert (found.position, found.comparisons) == (1, 3)
    assert_allclose(found.probability, expected, rtol=1e-9)
    assert rewound.compare_positions([5, 5], [5, 5]) is None
    assert rewound.compare_positions([5], [3]) is None


def losses(exponent=2.0, noise=0.0, seed=0):
    volts = np.linspace(60.0, 240.0, 13)
    amperes = 0.05 + 0.001 * volts
    watts = 5.0 + 22.0 * (volts / 230.0) ** exponent + 15.0 * amperes**2
    return volts, amperes, watts + noise * np.random.default_rng(seed).normal(size=volts.size)


@pytest.mark.parametrize("seed", range(6))
def test_friction_is_the_intercept_of_the_straight_line(seed):
    # Source: scipy.stats.linregress of P - I^2 R over V^2 on readings up to 80 % of the rated voltage.
    volts, amperes, watts = losses(noise=0.1, seed=seed)
    part = volts <= 0.8 * 230.0
    line = stats.linregress((volts[part] / 230.0) ** 2, (watts - 15.0 * amperes**2)[part])
    found = separate(
        volts, amperes, watts, rated_voltage_V=230, loss_resistance_ohm=15, power_u_W=0.1, core_exponent=(2, 2)
    )
    assert found.status == "separated" and found.used <= part.sum()
    if found.used < part.sum():  # readings are taken off the top while the line seems to bend
        part &= volts <= found.to_V
        line = stats.linregress((volts[part] / 230.0) ** 2, (watts - 15.0 * amperes**2)[part])
    assert_allclose(found.friction_W, line.intercept, rtol=1e-9)
    dof = part.sum() - 2
    x = (volts[part] / 230.0) ** 2
    chi2 = np.sum(((watts - 15.0 * amperes**2)[part] - line.intercept - line.slope * x) ** 2) / 0.1**2
    unscaled = line.intercept_stderr * 0.1 / np.sqrt(0.1**2 * chi2 / dof)
    assert_allclose(found.friction_u_W, unscaled * np.sqrt(max(1.0, (4 + chi2) / (4 + dof))), rtol=1e-6)
    at = np.argmin(abs(volts - 230.0))
    assert_allclose(found.core_W, watts[at] - 15.0 * amperes[at] ** 2 - found.friction_W, rtol=1e-9)
    assert found.core_at_V == volts[at]


def test_readings_in_any_order_give_the_same_losses():
    volts, amperes, watts = losses(noise=0.1)
    order = np.random.default_rng(1).permutation(volts.size)
    arguments = {"rated_voltage_V": 230, "loss_resistance_ohm": 15, "power_u_W": 0.1}
    assert_allclose(
        separate(volts, amperes, watts, **arguments)[1:],
        separate(volts[order], amperes[order], watts[order], **arguments)[1:],
    )


def test_an_open_exponent_and_common_errors_widen():
    arguments = {"rated_voltage_V": 230, "loss_resistance_ohm": 15, "power_u_W": 0.1}
    narrow = separate(*losses(), **arguments, core_exponent=(2, 2))
    assert_allclose([narrow.friction_W, narrow.core_W], [5.0, 22.0 * (narrow.core_at_V / 230.0) ** 2], rtol=1e-9)
    for change in (
        {},
        {"core_exponent": (2, 2), "power_gain_u_relative": 0.01},
        {"core_exponent": (2, 2), "loss_u_relative": 0.1},
    ):
        assert separate(*losses(), **arguments, **change).friction_u_W > narrow.friction_u_W


def test_too_few_readings_and_a_friction_below_nothing_are_said():
    arguments = {"rated_voltage_V": 230, "loss_resistance_ohm": 0, "power_u_W": 0.01}
    few = separate([60, 90], [0.1, 0.1], [5, 7], **arguments)
    assert few.status == "too_few" and np.isnan(few.friction_W)
    volts = np.array([60.0, 90.0, 120.0, 150.0])
    below = separate(volts, [0.1] * 4, volts**2 / 1000.0 - 3.0, **arguments, core_exponent=(2, 2))
    assert below.status == "below_nothing" and below.friction_W < 0


@pytest.mark.parametrize("given,expected,tolerance", rows("standards/unbalance.csv", "voltage_percent"))
def test_unbalance_is_that_of_the_standard(given, expected, tolerance):
    # S129 to S133.
    assert_allclose(rewound.unbalance_percent([given["a"], given["b"], given["c"]]), expected, atol=tolerance)


def test_unbalance_of_many_readings_at_once():
    lines = np.array([[33.0, 29.0, 34.0], [10.0, 10.0, 10.0]])
    assert_allclose(rewound.unbalance_percent(lines), [9.375, 0.0])
    assert rewound.unbalance_percent(lines.reshape(1, 2, 3)).shape == (1, 2)


@pytest.mark.parametrize("given,expected,tolerance", rows("standards/unbalance.csv", "derating"))
def test_derating_is_read_off_the_curve(given, expected, tolerance):
    # S135 to S139.
    assert_allclose(rewound.unbalance_derating(given["percent"]), expected, atol=tolerance)


@pytest.mark.parametrize("part", ["winding", "line"])
def test_rolled_leads_part_winding_from_line(part):
    for given, expected, tolerance in rows("standards/unbalance.csv", f"{part}_part"):
        found = rewound.compare_rolled_leads(
            [given["a"], given["b"], given["c"]], [given["d"], given["e"], given["f"]], rolled=int(given["shift"])
        )
        assert_allclose(getattr(found, f"largest_{part}_percent"), expected, atol=tolerance)
        assert_allclose([found.winding_percent.sum(), found.line_percent.sum()], 0.0, atol=1e-9)


def test_the_parts_of_rolled_leads_scatter_as_said():
    rng = np.random.default_rng(5)
    parts = []
    for _ in range(2000):
        before, after = 100.0 + rng.normal(size=(2, 3))
        found = rewound.compare_rolled_leads(before, after, current_u_A=1.0)
        parts.append([found.winding_percent[0], found.line_percent[0]])
    assert_allclose(np.std(parts, axis=0), found.u_percent, rtol=0.06)


@pytest.mark.parametrize(
    "call,place",
    [
        (lambda: rewound.proven_starts(10.5, 10), "attempts[0]"),
        (lambda: rewound.proven_starts(0, 0), "attempts[0]"),
        (lambda: rewound.proven_starts([], []), "attempts"),
        (lambda: rewound.proven_starts(10, 11), "successes[0]"),
        (lambda: rewound.proven_starts(10, np.nan), "successes[0]"),
        (lambda: rewound.proven_starts(10, 10, claimed=1.0), "claimed"),
        (lambda: rewound.proven_starts(10, 10, level=1.0), "confidence"),
        (lambda: rewound.compare_positions([10, 5], [9]), "successes"),
        (lambda: rewound.compare_positions([10, 5], [9, 5], level=1.0), "level"),
        (lambda: separate([1, 2], [1, 2], [1], rated_voltage_V=1, loss_resistance_ohm=1, power_u_W=1), "power_W"),
        (lambda: separate([1], [1], [1], rated_voltage_V=0, loss_resistance_ohm=1, power_u_W=1), "rated_voltage_V"),
        (lambda: separate([1], [1], [1], rated_voltage_V=1, loss_resistance_ohm=1, power_u_W=0), "power_u_W[0]"),
        (lambda: separate([1], [1], [-1], rated_voltage_V=1, loss_resistance_ohm=1, power_u_W=1), "power_W[0]"),
        (lambda: separate(*[[1]] * 3, rated_voltage_V=1, loss_resistance_ohm=1, power_u_W=1,
                                          core_exponent=(2, 1)), "core_exponent"),
        (lambda: rewound.unbalance_percent([1, 2]), "lines"),
        (lambda: rewound.unbalance_percent([0, 0, 0]), "lines"),
        (lambda: rewound.unbalance_percent([1, -2, 3]), "lines"),
        (lambda: rewound.unbalance_derating(-1.0), "unbalance_percent"),
        (lambda: rewound.compare_rolled_leads([1, 2], [2, 1]), "before_A"),
        (lambda: rewound.compare_rolled_leads([1, 2, 3], [2, 3, 1], rolled=3), "rolled"),
        (lambda: rewound.compare_rolled_leads([0, 0, 0], [2, 3, 1]), "currents"),
    ],
)  # fmt: skip
def test_bad_arguments_are_refused_by_name(call, place):
    with pytest.raises(rewound.PreconditionError) as caught:
        call()
    assert caught.value.field == place
