# SPDX-License-Identifier: MIT
"""Tables of 2 to 12 readings with gaps, as benches write them, against the same curves fitted one by one.

Source: the search one by one, which other files hold against SciPy. A table of more columns than lanes of registers
take, 17, is fitted that way.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

import rewound
from families import FAMILIES, lowest_by_scipy, residuals
from rewound import _core

RATED = 230.0


def bench_table(count, scatter, seed=11, most=12):
    """Voltages and currents, NaN where absent: power, magnetising and loaded curves, some of them bent downwards."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0.6, 1.14, (count, most)), axis=1)
    level, m = rng.uniform(0.2, 1.0, (count, 1)), rng.uniform(2.5, 9.0, (count, 1))
    bent = level * (x + rng.uniform(0.05, 0.8, (count, 1)) * x**m)
    active = level * (rng.uniform(0.1, 0.8, (count, 1)) / x + rng.uniform(0.05, 0.4, (count, 1)) * x)
    truths = level * x ** rng.uniform(0.5, 2.2, (count, 1)), bent, np.hypot(bent, active)
    current = np.choose(rng.integers(0, 3, (count, 1)), truths) * np.exp(rng.normal(0.0, scatter, x.shape))
    absent = rng.random(x.shape).argsort(axis=1) >= rng.integers(2, most + 1, (count, 1))
    return RATED * x, np.where(absent, np.nan, current)


def widened(table):
    return np.pad(table, ((0, 0), (0, 17 - table.shape[1])), constant_values=np.nan)


def both_ways(model, voltage, current, **given):
    lanes = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model=model, **given)
    wide = {name: widened(table) if isinstance(table, np.ndarray) else table for name, table in given.items()}
    return lanes, rewound.fit_draw(widened(voltage), widened(current), rated_voltage_V=RATED, model=model, **wide)


def meters(voltage, current, kind):
    rng = np.random.default_rng(5)
    if kind == "none":
        return {}
    if kind == "both":
        return {
            "voltage_u_V": voltage * rng.uniform(0.001, 0.01, voltage.shape),
            "current_u_A": current * rng.uniform(0.004, 0.02, voltage.shape),
        }
    return {"weights": rng.uniform(0.5, 2.0, voltage.shape) / (0.01 * np.nan_to_num(current, nan=1.0)) ** 2}


def usable(fit):
    return np.array([status.startswith("converged") for status in fit.status])


# Share of the curves that may end in another minimum: none of those with one, few where both only search.
MAY_MISS = {"magnetising": 0.01, "magnetising_load": 0.05}
COUNT = {"magnetising_load": 120, "auto": 250}


@pytest.mark.parametrize("scatter", [0.003, 0.01, 0.05])
@pytest.mark.parametrize("kind", ["none", "both", "weights"])
@pytest.mark.parametrize("model", (*FAMILIES, "auto"))
def test_a_table_is_fitted_as_its_curves_one_by_one(model, kind, scatter):
    voltage, current = bench_table(COUNT.get(model, 800), scatter)
    lanes, alone = both_ways(model, voltage, current, **meters(voltage, current, kind))
    assert lanes.models == alone.models
    fine, fine_alone = usable(lanes), usable(alone)
    assert np.mean(fine != fine_alone) <= (0.02 if model == "magnetising_load" else 0.0)
    both = fine & fine_alone
    sums, sums_alone = lanes.chi2[both], alone.chi2[both]
    rounding = 1e-18 if kind != "weights" else 1e-14
    higher = sums > sums_alone * (1 + 1e-8) + rounding
    assert higher.mean() <= MAY_MISS.get(model, 0.0)
    same = np.abs(sums - sums_alone) <= 1e-8 * sums_alone + rounding
    at = np.array([0.7, 1.0, 1.1]) * RATED
    here, there = (np.array(fit.predict(at))[:, both][:, same] for fit in (lanes, alone))
    with np.errstate(invalid="ignore"):
        width, apart = there[2] - there[1], np.max(np.abs(here - there), axis=0)
    # Where readings tell little the sum is flat, and both ends stand a small share of the interval apart.
    told = np.isfinite(width) & (width < 3 * there[0])
    assert np.all(apart[told] <= 1e-3 * width[told] + 1e-9 * there[0][told])


@pytest.mark.parametrize("kind", ["none", "weights"])
@pytest.mark.parametrize("model", FAMILIES)
def test_all_widths_of_register_give_the_same_answers(model, kind):
    voltage, current = bench_table(40 if model == "magnetising_load" else 200, 0.01)
    given = meters(voltage, current, kind)
    found = [
        _core.fit_draw(
            voltage, current, np.full(len(voltage), RATED), voltage_u=None, current_u=None,
            weights=given.get("weights"), batch=True, model=model, robust=False, absolute_sigma=False, threads=1,
            instruction_set=width,
        )
        for width in _core.instruction_sets()
    ]  # fmt: skip
    for other in found[:-1]:
        fine = np.array([a.startswith("conv") and b.startswith("conv") for a, b in zip(other.status, found[-1].status)])
        assert_allclose(other.chi2[fine], found[-1].chi2[fine], rtol=1e-7, atol=1e-14)


@pytest.mark.parametrize("model", (*FAMILIES, "auto"))
def test_an_answer_hangs_on_nothing_beside_its_own_readings(model):
    # Law: bit for bit the same in another order and on two threads.
    voltage, current = bench_table(60, 0.01)
    whole = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model=model)
    turned = rewound.fit_draw(voltage[::-1], current[::-1], rated_voltage_V=RATED, model=model, threads=2)
    for name in ("params", "covariance", "chi2", "degrees_of_freedom"):
        assert_array_equal(getattr(turned, name)[::-1], getattr(whole, name))
    assert turned.status[::-1] == whole.status


@pytest.mark.parametrize("model", FAMILIES)
def test_no_start_of_scipy_finds_a_lower_sum_of_a_row_with_gaps(model):
    # Source: scipy.optimize.least_squares from random starts.
    voltage, current = bench_table(40, 0.01, seed=12)
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model=model)
    for row in np.flatnonzero(usable(fit))[:12]:
        here = np.isfinite(current[row])
        x, i = voltage[row][here] / RATED, current[row][here]
        lowest = lowest_by_scipy(model, x, i, None, np.random.default_rng(row))
        assert fit.chi2[row] <= lowest * (1 + 1e-8) + 1e-18
        assert_allclose(np.sum(residuals(fit.params[row], model, x, i) ** 2), fit.chi2[row], rtol=1e-8, atol=1e-18)


def test_what_cannot_be_is_named_in_a_table_as_alone():
    voltage, current = bench_table(9, 0.01)
    current[4, np.flatnonzero(np.isfinite(current[4]))[0]] = -1.0
    for model in (*FAMILIES, "auto"):
        with pytest.raises(rewound.PreconditionError) as caught:
            rewound.fit_draw(voltage, current, rated_voltage_V=RATED, model=model)
        assert caught.value.field.startswith("current[4, ")


def test_stated_uncertainties_that_hold_widen_or_narrow_a_table_as_alone():
    voltage, current = bench_table(200, 0.003)
    stated = meters(voltage, current, "both")
    for model in ("power", "magnetising"):
        fits = [
            rewound.fit_draw(v, i, rated_voltage_V=RATED, model=model, absolute_sigma=True, **u)
            for v, i, u in (
                (voltage, current, stated),
                (widened(voltage), widened(current), {name: widened(table) for name, table in stated.items()}),
            )
        ]
        both = usable(fits[0]) & usable(fits[1])
        assert_allclose(fits[0].covariance[both], fits[1].covariance[both], rtol=1e-3, atol=1e-12)


def with_gaps(count, seed):
    """The same readings in rows of 12 columns twice: anywhere in the row, and one behind the other from its start."""
    voltage, current = bench_table(count, 0.01, seed=seed)
    order = np.argsort(np.isnan(current), axis=1, kind="stable")
    return (voltage, current), tuple(np.take_along_axis(table, order, axis=1) for table in (voltage, current))


WAYS = [(model, False) for model in FAMILIES] + [("power", True)]


@pytest.mark.parametrize("kind", ["none", "both", "weights"])
@pytest.mark.parametrize("model, robust", WAYS)
def test_where_in_a_row_its_gaps_are_does_not_matter(model, robust, kind):
    # Law: bit for bit the same, and a reading of weight 0 is a gap.
    (voltage, current), moved = with_gaps(53 if model == "magnetising_load" else 211, seed=31)
    given = meters(voltage, current, kind)
    order = np.argsort(np.isnan(current), axis=1, kind="stable")
    given_moved = {name: np.take_along_axis(table, order, axis=1) for name, table in given.items()}
    named = {"rated_voltage_V": RATED, "model": model, "robust": robust}
    here = rewound.fit_draw(voltage, current, **named, **given)
    there = rewound.fit_draw(*moved, **named, **given_moved)
    fits = [there]
    if kind == "weights":
        weightless = {"weights": np.where(np.isnan(current), 0.0, given["weights"])}
        fits.append(rewound.fit_draw(voltage, np.nan_to_num(current, nan=1.0), **named, **weightless))
    for other in fits:
        for name in ("params", "covariance", "chi2", "degrees_of_freedom", "mean_weight"):
            assert_array_equal(getattr(other, name), getattr(here, name))
        assert other.status == here.status


@pytest.mark.parametrize("scatter", [0.003, 0.05, 0.15])
@pytest.mark.parametrize("model, kind", [(model, kind) for model in FAMILIES for kind in ("none", "both")] + [
    ("power", "weights"),
])  # fmt: skip
def test_robust_curves_of_rows_with_gaps_are_those_one_by_one(model, kind, scatter):
    loaded = model == "magnetising_load"
    voltage, current = bench_table(60 if loaded else 400, scatter, seed=17)
    current[::3, 5] *= 1.3
    lanes, alone = both_ways(model, voltage, current, robust=True, **meters(voltage, current, kind))
    assert np.mean(usable(lanes) != usable(alone)) <= (0.05 if loaded else 0.0025)
    both = usable(lanes) & usable(alone)
    same = np.abs(lanes.chi2 - alone.chi2)[both] <= 1e-6 * alone.chi2[both] + 1e-14
    assert np.mean(~same) <= (0.1 if loaded else MAY_MISS.get(model, 0.0))
    both[both] = same
    assert_allclose(lanes.covariance[both], alone.covariance[both], rtol=1e-3, atol=1e-9)
    assert_allclose(lanes.mean_weight, alone.mean_weight, rtol=1e-13)
    if scatter < 0.1:  # beyond, a parabola that the voltmeter excuses is no certain minimum
        assert lanes._fitted.left_lanes <= 0.12 * len(voltage)


@pytest.mark.parametrize("model, robust, parameters", [
    ("power", False, 2), ("power", True, 2), ("log_quadratic", False, 3), ("magnetising", False, 3),
])  # fmt: skip
def test_weighted_curves_without_readings_to_spare_have_parameters_and_no_covariance(model, robust, parameters):
    voltage, current = bench_table(400, 0.01, seed=19)
    kept = np.cumsum(np.isfinite(current), axis=1) <= np.arange(len(current))[:, None] % 2 + parameters - 1
    current = np.where(kept, current, np.nan)
    lanes, alone = both_ways(model, voltage, current, robust=robust, **meters(voltage, current, "weights"))
    count = np.isfinite(current).sum(axis=1)
    few = count < parameters
    assert 100 < few.sum() < 300
    assert {status for status, here in zip(lanes.status, few) if here} == {"too_few_points"}
    assert np.isnan(lanes.params[few]).all() and np.isnan(lanes.chi2[few]).all()
    assert np.isnan(lanes.covariance).all() and (lanes.degrees_of_freedom == 0).all()
    assert (usable(lanes) == usable(alone)).all()
    total = np.nansum(meters(voltage, current, "weights")["weights"] * current**2, axis=1)
    assert_allclose(lanes.chi2[~few] / total[~few], alone.chi2[~few] / total[~few], rtol=1e-8, atol=1e-24)
    told = ~few & (alone.chi2 < 1e-20 * total)  # through every reading, where there is one curve
    assert_allclose(lanes.params[told], alone.params[told], rtol=1e-7, atol=1e-9)


@pytest.mark.parametrize("kind", ["none", "weights"])
@pytest.mark.parametrize("model, robust", [way for way in WAYS if way[0] != "magnetising_load"])
def test_few_rows_with_gaps_leave_the_lanes(model, robust, kind):
    voltage, current = bench_table(1000, 0.01, seed=23)
    fit = rewound.fit_draw(
        voltage, current, rated_voltage_V=RATED, model=model, robust=robust, **meters(voltage, current, kind)
    )
    assert fit._fitted.left_lanes <= 0.02 * len(voltage)
