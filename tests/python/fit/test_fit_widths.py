# SPDX-License-Identifier: MIT
"""The solver of many curves at once against references of NumPy and SciPy, on every width of register there is."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

import rewound
from families import current_of
from rewound import _core

WIDTHS = _core.instruction_sets()
MODELS = {
    "power": ("power", False),
    "robust": ("power", True),
    "parabola": ("log_quadratic", False),
    "magnetising": ("magnetising", False),
}
POWERS = {"power": np.linspace(-2.0, 8.0, 2001), "magnetising": np.linspace(1.2, 12.0, 2161)}


def fitted(kind, x, current, weights, width=None, threads=1):
    model, robust = MODELS[kind]
    return _core.fit_draw(
        x, current, np.ones(len(x)), voltage_u=None, current_u=None, weights=weights,
        absolute_sigma=False, batch=True, model=model,
        robust=robust, threads=threads, instruction_set=width,
    )  # fmt: skip


def curves(kind, count, readings, scatter, seed):
    """x, currents and weights of curves of one length; of the robust kind every second has a misread reading."""
    rng = np.random.default_rng([seed, readings])
    x = rng.uniform(0.3, 1.15, (count, readings))
    a, n = rng.uniform(0.1, 2.0, (count, 1)), rng.uniform(0.6, 3.0, (count, 1))
    if kind == "magnetising":
        truth = 0.5 * a * x + rng.uniform(0.02, 0.6, (count, 1)) * x ** rng.uniform(1.5, 10.0, (count, 1))
    elif kind == "parabola":
        truth = a * x**n * np.exp(rng.uniform(-0.3, 0.8, (count, 1)) * np.log(x) ** 2)
    else:
        truth = a * x**n
    current = truth * np.exp(rng.normal(0.0, scatter, x.shape))
    if kind == "robust":
        current[np.arange(0, count, 2), rng.integers(0, readings, (count + 1) // 2)] *= 1.2
    return x, current, rng.uniform(0.3, 3.0, x.shape) / truth**2


def mixed(kind, count=400, scatter=0.01):
    """Curves of 5 to 12 readings in one table, NaN where absent, in no order; some weights are 0."""
    rng = np.random.default_rng(17)
    x, current, weights = curves(kind, count, 12, scatter, 18)
    for i in range(count):
        away = rng.permutation(12)[: rng.integers(0, 8)]
        x[i, away[::2]] = np.nan
        current[i, away[1::2]] = np.nan
        here = np.flatnonzero(~np.isnan(x[i] + current[i]))
        if len(here) > 5:
            weights[i, here[0]] = 0.0
    return x, current, weights


def projected(x, current, weights, powers):
    """Sums of squares with the best levels of every curve at its powers, shape of `powers`: (curves, m)."""
    root = np.sqrt(weights)[:, None, :]
    bend = root * x[:, None, :] ** powers[:, :, None]
    target = root * current[:, None, :]
    return bend, target


def lowest_power(x, current, weights, powers):
    bend, target = projected(x, current, weights, powers)
    level = np.sum(bend * target, axis=2) / np.sum(bend**2, axis=2)
    return np.sum((target - level[:, :, None] * bend) ** 2, axis=2)


def lowest_magnetising(x, current, weights, powers):
    bend, target = projected(x, current, weights, powers)
    line = np.sqrt(weights)[:, None, :] * x[:, None, :]
    line = line / np.linalg.norm(line, axis=2, keepdims=True)
    for _ in range(2):
        bend = bend - line * np.sum(bend * line, axis=2, keepdims=True)
        target = target - line * np.sum(target * line, axis=2, keepdims=True)
    level = np.sum(bend * target, axis=2) / np.sum(bend**2, axis=2)
    return np.sum((target - level[:, :, None] * bend) ** 2, axis=2)


def lowest_by_scan(kind, x, current, weights):
    """The lowest sum of a dense scan of the exponent, closed in on by ever finer scans about every low minimum."""
    of = lowest_power if kind == "power" else lowest_magnetising
    grid = POWERS[kind]
    best = np.full(len(x), np.inf)
    for part in np.array_split(np.arange(len(x)), max(1, len(x) // 50)):
        rows = x[part], current[part], weights[part]
        sums = of(*rows, np.broadcast_to(grid, (len(part), len(grid))))
        padded = np.pad(sums, ((0, 0), (1, 1)), constant_values=np.inf)
        minima = (sums <= padded[:, :-2]) & (sums < padded[:, 2:]) & (sums < 1.5 * sums.min(axis=1, keepdims=True))
        curve, place = np.nonzero(minima)
        low, high = grid[np.maximum(place - 1, 0)], grid[np.minimum(place + 1, len(grid) - 1)]
        mine = tuple(row[curve] for row in rows)
        for _ in range(6):
            finer = np.linspace(low, high, 21, axis=1)
            sums = of(*mine, finer)
            at = np.argmin(sums, axis=1)
            row = np.arange(len(curve))
            low, high = finer[row, np.maximum(at - 1, 0)], finer[row, np.minimum(at + 1, 20)]
        np.minimum.at(best, part[curve], sums.min(axis=1))
    return best


@pytest.mark.parametrize("kind", ["power", "magnetising"])
@pytest.mark.parametrize("readings", [5, 8, 12])
def test_no_exponent_of_a_dense_scan_fits_better(kind, readings):
    # Source: the scan. 1000 curves of each length and family, a third of them scattered by 10 % and more.
    parts = ((350, 0.003), (350, 0.02), (200, 0.1), (100, 0.4))
    together = [curves(kind, count, readings, scatter, 3) for count, scatter in parts]
    x, current, weights = (np.concatenate(parts) for parts in zip(*together))
    lowest = lowest_by_scan(kind, x, current, weights)
    for width in WIDTHS:
        found = fitted(kind, x, current, weights, width)
        assert set(found.status) <= {"converged", "converged_at_rounding"}
        model = MODELS[kind][0]
        rows = zip(found.params, x, current, weights)
        left = np.array([np.sum(w * (i - current_of(model, p, v)) ** 2) for p, v, i, w in rows])
        assert_allclose(found.chi2, left, rtol=1e-8, atol=0)
        assert np.max(left / lowest) < 1 + 1e-8


def huber_sum(x, current, weights, p, bend):
    z = np.sqrt(weights) * np.abs(current - current_of("power", p[:, :, None].transpose(1, 0, 2), x))
    return np.sum(np.where(z <= bend, z**2, 2 * bend * z - bend**2), axis=1), z


@pytest.mark.parametrize("readings", [5, 8, 12])
def test_robust_fit_ends_where_hubers_sum_is_least(readings):
    # Source: Huber's sum itself on ever finer nets of (a, n) about the fit; a lower place nearby would show.
    together = [curves("robust", 150, readings, scatter, 4) for scatter in (0.003, 0.02, 0.1)]
    x, current, weights = (np.concatenate(parts) for parts in zip(*together))
    plain = fitted("power", x, current, weights).params
    left = np.sqrt(weights) * np.abs(current - current_of("power", plain[:, :, None].transpose(1, 0, 2), x))
    bend = 1.345 * 1.4826 * np.median(left, axis=1)[:, None]
    for width in WIDTHS:
        found = fitted("robust", x, current, weights, width)
        assert set(found.status) <= {"converged", "converged_at_rounding"}
        here, z = huber_sum(x, current, weights, found.params, bend)
        assert_allclose(found.chi2, np.sum(np.minimum(1, bend / z) * z**2, axis=1), rtol=1e-8, atol=0)
        for reach in (0.1, 0.01, 1e-3, 1e-4):
            for turn in np.linspace(0, 2 * np.pi, 16, endpoint=False):
                beside = found.params * [1 + reach * np.cos(turn), 1] + [0, reach * np.sin(turn)]
                assert np.all(huber_sum(x, current, weights, beside, bend)[0] > here * (1 - 1e-8))


@pytest.mark.parametrize("kind", MODELS)
def test_all_widths_give_the_same_answers(kind):
    x, current, weights = mixed(kind)
    wide = fitted(kind, x, current, weights, WIDTHS[-1])
    for width in WIDTHS[:-1]:
        narrow = fitted(kind, x, current, weights, width)
        assert narrow.status == wide.status
        assert_allclose(narrow.chi2, wide.chi2, rtol=1e-8, atol=0)
        assert_allclose(narrow.params, wide.params, rtol=1e-6, atol=1e-9)
        at = np.ones((len(x), 1))
        assert_allclose(narrow.predict(at, 0.95, True), wide.predict(at, 0.95, True), rtol=1e-8)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("kind", MODELS)
def test_answer_hangs_on_nothing_beside_its_own_readings(kind, width):
    # Law: bit for bit the same alone, in another order, with other gaps and on two threads. A narrower table may take
    # other code, which rounds otherwise.
    x, current, weights = mixed(kind, 137)
    whole = fitted(kind, x, current, weights, width)
    threaded = fitted(kind, np.tile(x, (9, 1)), np.tile(current, (9, 1)), np.tile(weights, (9, 1)), width, threads=2)
    turned = fitted(kind, x[::-1], current[::-1], weights[::-1], width)
    for name in ("params", "covariance", "chi2", "degrees_of_freedom"):
        assert_array_equal(getattr(threaded, name), np.concatenate([getattr(whole, name)] * 9))
        assert_array_equal(getattr(turned, name), getattr(whole, name)[::-1])
    for i in range(0, len(x), 5):
        here = np.flatnonzero(~np.isnan(x[i] + current[i]) & (weights[i] > 0))
        moved = [np.full((1, 12), np.nan) for _ in range(3)]
        for to, row in zip(moved, (x[i], current[i], weights[i])):
            to[0, 12 - len(here) :] = row[here]
        alone = fitted(kind, *moved, width)
        assert_array_equal(alone.params[0], whole.params[i])
        assert_array_equal(alone.covariance[0], whole.covariance[i])
        assert alone.status[0] == whole.status[i]
        narrow = fitted(kind, x[i : i + 1, here], current[i : i + 1, here], weights[i : i + 1, here], width)
        assert_allclose(narrow.chi2[0], whole.chi2[i], rtol=1e-8, atol=0)
        assert_allclose(narrow.params[0], whole.params[i], rtol=1e-6, atol=1e-9)


def test_width_that_the_machine_lacks_is_refused():
    x, current, weights = curves("power", 3, 8, 0.01, 5)
    with pytest.raises(rewound.InputError) as caught:
        fitted("power", x, current, weights, "sse9")
    assert caught.value.field == "instruction_set" and "plain" in caught.value.allowed


def test_covariance_is_that_of_the_formula():
    # Source: (J^T J)^-1 chi2 / (n - p) in NumPy, with derivatives by the complex step.
    for kind, p in (("power", 2), ("parabola", 3), ("magnetising", 3)):
        x, current, weights = curves(kind, 60, 8, 0.01, 6)
        found = fitted(kind, x, current, weights)
        for i in range(len(x)):
            steps = found.params[i] + 1e-30j * np.eye(p)
            gradient = np.array([current_of(MODELS[kind][0], step, x[i]).imag / 1e-30 for step in steps])
            _, r = np.linalg.qr((np.sqrt(weights[i]) * gradient).T)
            inverse = np.linalg.inv(r)
            assert_allclose(found.covariance[i], inverse @ inverse.T * found.chi2[i] / (8 - p), rtol=1e-6, atol=0)
