# SPDX-License-Identifier: MIT
"""A batch is the same as its curves one by one. Source: the single fits, which other files check."""

import threading
import time

import numpy as np
import pytest

import rewound
from curves import RATED, power_curve, random_weights

MODES = {
    "logs": {},
    "robust_logs": {"robust": True},
    "weights": {"weights": True},
    "robust_weights": {"weights": True, "robust": True},
    "parabola": {"model": "log_quadratic", "weights": True},
    "magnetising": {"model": "magnetising"},
    "weighted_magnetising": {"model": "magnetising", "weights": True, "robust": True},
    "loaded": {"model": "magnetising_load"},
    "weighted_loaded": {"model": "magnetising_load", "weights": True},
}


def batch(count=12, readings=8):
    pairs = [power_curve(seed, readings) for seed in range(count)]
    weights = np.array([random_weights(seed, readings) for seed in range(count)])
    return np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs]), weights


def arguments(mode, weights):
    chosen = dict(MODES[mode])
    if chosen.pop("weights", False):
        chosen["weights"] = weights
    return chosen


@pytest.mark.parametrize("threads", [1, 3])
@pytest.mark.parametrize("mode", MODES)
def test_batch_equals_a_loop_bit_for_bit(mode, threads):
    voltage, current, weights = batch()
    rated = np.linspace(200.0, 250.0, len(voltage))
    whole = rewound.fit_draw(voltage, current, rated_voltage_V=rated, threads=threads, **arguments(mode, weights))
    p = whole.params.shape[1]
    assert whole.params.shape == (12, p) and whole.covariance.shape == (12, p, p) and whole.chi2.shape == (12,)
    for i in range(len(voltage)):
        one = rewound.fit_draw(voltage[i], current[i], rated_voltage_V=rated[i], **arguments(mode, weights[i]))
        own = one.params.shape[1]
        assert np.isnan(whole.params[i, own:]).all() and np.isnan(whole.covariance[i, own:]).all()
        np.testing.assert_array_equal(one.params[0], whole.params[i, :own])
        np.testing.assert_array_equal(one.covariance[0], whole.covariance[i, :own, :own])
        assert one.status[0] == whole.status[i] and one.models[0] == whole.models[i]
        np.testing.assert_array_equal(one.chi2[0], whole.chi2[i])


@pytest.mark.parametrize("mode", MODES)
def test_absent_readings_are_as_if_never_written(mode):
    voltage, current, weights = batch()
    rng = np.random.default_rng(3)
    absent = rng.random(voltage.shape) < 0.3
    padded_voltage = np.where(absent & (rng.random(voltage.shape) < 0.5), np.nan, voltage)
    padded_current = np.where(absent, np.nan, current)
    padded_weights = np.where(absent, np.nan, weights)
    common = {"rated_voltage_V": RATED, "model": "power"}
    whole = rewound.fit_draw(padded_voltage, padded_current, **{**common, **arguments(mode, padded_weights)})
    for i in range(len(voltage)):
        here = ~absent[i]
        one = rewound.fit_draw(voltage[i][here], current[i][here], **{**common, **arguments(mode, weights[i][here])})
        np.testing.assert_array_equal(one.params[0], whole.params[i])
        assert whole.degrees_of_freedom[i] == max(0, here.sum() - whole.params.shape[1])


def test_masked_readings_are_absent():
    voltage, current, _ = batch(2)
    masked = np.ma.masked_array(current, mask=np.zeros(current.shape, bool))
    masked[1, 3] = np.ma.masked
    padded = current.copy()
    padded[1, 3] = np.nan
    of_mask = rewound.fit_draw(voltage, masked, rated_voltage_V=RATED)
    assert of_mask.params.tolist() == rewound.fit_draw(voltage, padded, rated_voltage_V=RATED).params.tolist()
    assert of_mask.degrees_of_freedom.tolist() == [6, 5]


def test_reading_of_weight_zero_is_left_out_and_not_counted():
    voltage, current, weights = batch(1)
    weights[0, 5] = 0.0
    with_zero = rewound.fit_draw(voltage[0], current[0], rated_voltage_V=RATED, weights=weights[0])
    without = rewound.fit_draw(
        np.delete(voltage[0], 5), np.delete(current[0], 5), rated_voltage_V=RATED, weights=np.delete(weights[0], 5)
    )
    assert with_zero.params.tolist() == without.params.tolist()
    assert with_zero.covariance.tolist() == without.covariance.tolist()
    assert with_zero.degrees_of_freedom.tolist() == [5]


def test_mixed_batch_fills_up_with_nan():
    voltage = np.array([[230.0, 230.0, 230.0], [115.0, 180.0, 230.0], [np.nan, np.nan, np.nan]])
    current = np.array([[0.41, 0.42, 0.43], [0.2, 0.33, 0.42], [np.nan, np.nan, np.nan]])
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=RATED)
    assert fit.models == ["proportional", "power", "proportional"] and fit.model == "mixed"
    assert fit.status == ["converged", "converged", "too_few_points"]
    assert np.isnan(fit.params).tolist() == [[False, True], [False, False], [True, True]]
    assert np.isnan(fit.covariance[0]).tolist() == [[False, True], [True, True]]
    assert repr(fit) == "<rewound.DrawFit mixed, 3 curves, 2 converged>"


def test_predictions_of_a_batch_are_those_of_its_curves():
    voltage, current, _ = batch(3)
    fit = rewound.fit_draw(voltage, current, rated_voltage_V=[220.0, 230.0, 240.0])
    at = np.array([[100.0, 200.0], [110.0, 210.0], [120.0, 220.0]])
    whole = fit.predict(at)
    shared = fit.predict(at[1])
    scalar = fit.predict(110.0)
    for i, rated in enumerate((220.0, 230.0, 240.0)):
        one = rewound.fit_draw(voltage[i], current[i], rated_voltage_V=rated)
        for part in range(3):
            assert whole[part][i].tolist() == one.predict(at[i])[part][0].tolist()
            assert shared[part][i].tolist() == one.predict(at[1])[part][0].tolist()
            assert scalar[part][i] == one.predict(110.0)[part][0]
    assert whole[0].shape == shared[0].shape == (3, 2) and scalar[0].shape == (3,)


def test_input_in_other_layouts_and_types_is_read_alike():
    voltage, current, _ = batch(4)
    expected = rewound.fit_draw(voltage, current, rated_voltage_V=RATED).params
    turned = rewound.fit_draw(np.asfortranarray(voltage), current[:, :].T.copy().T, rated_voltage_V=RATED)
    assert turned.params.tolist() == expected.tolist()
    assert (
        rewound.fit_draw(voltage.tolist(), current.tolist(), rated_voltage_V=230).params.tolist() == expected.tolist()
    )
    frozen = voltage.copy()
    frozen.flags.writeable = False
    assert rewound.fit_draw(frozen, current, rated_voltage_V=RATED).params.tolist() == expected.tolist()
    whole = np.array([120, 180, 240])
    one = rewound.fit_draw(whole, [1, 2, 3], rated_voltage_V=120)
    same = rewound.fit_draw(whole * 1.0, [1.0, 2.0, 3.0], rated_voltage_V=120.0)
    assert one.params.tolist() == same.params.tolist()


@pytest.mark.parametrize("kind, times", [("logs", 60000), ("weights", 20000)])
def test_other_threads_run_while_a_batch_is_fitted(kind, times):
    voltage, current, weights = (np.tile(part, (times, 1)) for part in batch())
    options = {"model": "power"} if kind == "logs" else {"model": "magnetising", "weights": weights}
    spans = []

    def fit():
        began = time.perf_counter()
        rewound.fit_draw(voltage, current, rated_voltage_V=RATED, **options)
        spans.append((began, time.perf_counter()))

    worker = threading.Thread(target=fit)
    ticks = []
    worker.start()
    while worker.is_alive():
        ticks.append(time.perf_counter())
        time.sleep(0.001)
    worker.join()
    ((began, ended),) = spans
    # Held, the lock would let no tick fall into the fit itself, which is most of the span.
    middle = [tick for tick in ticks if began + 0.3 * (ended - began) < tick < began + 0.7 * (ended - began)]
    assert len(middle) >= 3


def test_minima_at_an_end_of_the_exponent_are_the_lowest_and_stand_on_it():
    rng = np.random.default_rng(7)
    x = np.linspace(0.6, 1.14, 8) * np.exp(rng.normal(0.0, 0.003, (600, 8)))
    truth = rng.uniform(0.3, 0.6, (600, 1)) * (x + rng.uniform(-0.05, 0.1, (600, 1)) * x ** rng.uniform(2, 9, (600, 1)))
    current = np.round(truth * np.exp(rng.normal(0.0, 0.012, x.shape)), 3)
    weights = 1.0 / (0.01 * current) ** 2
    fitted = rewound.fit_draw(230.0 * x, current, rated_voltage_V=230.0, model="magnetising", weights=weights)
    m = fitted.params[:, 2]
    at_end = (m == 1.2) | (m == 12.0)
    assert 0.15 < at_end.mean() < 0.5
    for k in np.flatnonzero(at_end)[:60]:
        root = np.sqrt(weights[k])
        lowest = np.inf
        for power in np.linspace(1.2, 12.0, 200):
            columns = np.stack([x[k], x[k] ** power], axis=1) * root[:, None]
            left = np.linalg.lstsq(columns, current[k] * root, rcond=None)[1]
            lowest = min(lowest, left[0])
        assert fitted.chi2[k] <= lowest * (1.0 + 1e-9)
        # The covariance is that of all three parameters, as anywhere else.
        a, b, power = fitted.params[k]
        slopes = np.stack([x[k], x[k] ** power, b * x[k] ** power * np.log(x[k])], axis=1) * root[:, None]
        expected = np.linalg.inv(slopes.T @ slopes) * fitted.chi2[k] / (8 - 3)
        np.testing.assert_allclose(fitted.covariance[k], expected, rtol=1e-5)
