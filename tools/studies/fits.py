# SPDX-License-Identifier: MIT
"""Table of fits: ours beside general solvers, in one run on the same curves. tools/study fits builds and runs it.

Whether a solver's sum of squares is the lowest to 1e-8 is checked before its time is printed.
"""

import argparse
import ctypes
import os
import pathlib
import sys
import time
import timeit

import numpy as np
from scipy import stats

sys.path.insert(0, str(pathlib.Path(__file__).parent / "fits"))
import rivals_in_python as python_rivals  # noqa: E402

import rewound  # noqa: E402

RATED = 230.0
AT = np.array([120.0, 240.0])
KINDS = ("power", "magnetising", "robust")
TITLES = {"power": "power law", "magnetising": "magnetising", "robust": "Huber power law"}
GOALS = {"power": (15, 35, 6500), "magnetising": (30, 115, 40000), "robust": (35, 44, 12000)}
ASKED_OF_GAPS = {"power": 18, "magnetising": 5, "robust": 11}  # times batched NumPy
NEAR = 1e-8


class Arrays(ctypes.Structure):
    _fields_ = [("curves", ctypes.c_size_t), ("readings", ctypes.c_size_t)] + [
        (name, ctypes.c_void_p) for name in ("voltage", "current", "weight", "rated", "at")
    ] + [("factor", ctypes.c_double)] + [
        (name, ctypes.c_void_p) for name in ("parameters", "covariance", "chi2", "predicted")
    ]  # fmt: skip


def machines(kind, count, same_voltages, seed=5, readings=8):
    """Three speeds each of invented machines: voltages [V], currents [A] and weights [1/A^2]. The speeds of a machine
    are read at its own voltages, or all machines at the same."""
    rng = np.random.default_rng(seed)
    marks = np.linspace(0.35, 1.1, readings)
    x = np.tile(marks, (count, 1)) * (1.0 if same_voltages else np.exp(rng.normal(0.0, 0.01, (count, readings))))
    x = np.repeat(x, 3, axis=0)
    curves = len(x)
    level = np.tile([1.0, 0.7, 0.45], count)[:, None] * rng.uniform(0.3, 0.6, (curves, 1))
    if kind == "magnetising":
        truth = level * (x + rng.uniform(0.1, 0.6, (curves, 1)) * x ** rng.uniform(3.0, 8.0, (curves, 1)))
    else:
        truth = level * x ** rng.uniform(0.8, 2.2, (curves, 1))
    current = truth * np.exp(rng.normal(0.0, 0.005, x.shape))
    if kind == "robust":
        misread = np.arange(0, curves, 3)
        current[misread, rng.integers(0, readings, len(misread))] *= rng.choice([0.88, 1.15], len(misread))
    return RATED * x, current, 1.0 / (0.01 * current) ** 2


class Library:
    """The compiled solvers on arrays of NumPy."""

    def __init__(self, path):
        self._call = ctypes.CDLL(path).rewound_fit_loop
        self._call.restype = ctypes.c_double

    def run(self, solver, kind, voltage, current, weights, repeats):
        """Seconds of the quickest pass, and the parameters; None where the solver is not built in."""
        curves, readings = voltage.shape
        p = 3 if kind == "magnetising" else 2
        held = [np.ascontiguousarray(a) for a in (voltage, current, weights, np.full(curves, RATED), AT)]
        out = [np.full(shape, np.nan) for shape in ((curves, p), (curves, p, p), curves, (3, curves, 2))]
        factor = stats.t.ppf(0.975, readings - p)
        arrays = Arrays(curves, readings, *(a.ctypes.data for a in held), factor, *(a.ctypes.data for a in out))
        seconds = self._call(solver.encode(), KINDS.index(kind), ctypes.byref(arrays), repeats)
        return None if seconds < 0 else (seconds, out)


def in_python(solver, kind, voltage, current, weights, repeats):
    x, at = voltage / RATED, AT / RATED
    factor = stats.t.ppf(0.975, x.shape[1] - (3 if kind == "magnetising" else 2))
    best = np.inf
    for _ in range(repeats):
        began = time.thread_time()
        if solver == "numpy":
            out = python_rivals.numpy_batch(kind, x, current, weights, at, factor)
        else:
            one = python_rivals.scipy_one if solver == "scipy" else python_rivals.lmfit_one
            out = [np.array(part) for part in zip(*(one(kind, *row, at, factor) for row in zip(x, current, weights)))]
        best = min(best, time.thread_time() - began)
    return best, out


def objective(kind, voltage, current, weights, p, bend):
    z = np.sqrt(weights) * np.abs(current - python_rivals.value_of(kind, voltage / RATED, p))
    if kind == "robust":
        return np.sum(np.where(z <= bend, z**2, 2 * bend * z - bend**2), axis=1)
    return np.sum(z**2, axis=1)


ROWS = (
    ("ours, many at once", "batch", 1.0),
    ("ours, one a call (C++)", "single", 0.2),
    ("batched NumPy", "numpy", 1.0),
    ("cminpack", "cminpack", 0.1),
    ("GSL", "gsl", 0.1),
    ("Ceres", "ceres", 0.1),
    ("Eigen", "eigen", 0.1),
    ("SciPy loop", "scipy", 0.003),
    ("lmfit loop", "lmfit", 0.001),
)


def timed(library, kind, solver, data, repeats):
    if solver in ("numpy", "scipy", "lmfit"):
        try:
            return in_python(solver, kind, *data, 1 if solver != "numpy" else min(3, repeats))
        except ImportError:
            return None
    return library.run(solver, kind, *data, repeats)


def table(library, kind, count, same_voltages, repeats):
    """Prints one table; False where ours are not the lowest everywhere."""
    data = machines(kind, count, same_voltages)
    plain = library.run("batch", "magnetising" if kind == "magnetising" else "power", *data, 1)[1][0]
    left = data[1] - python_rivals.value_of("magnetising" if kind == "magnetising" else "power", data[0] / RATED, plain)
    bend = 1.345 * 1.4826 * np.median(np.sqrt(data[2]) * np.abs(left), axis=1)[:, None]
    found = {}
    lowest = np.full(len(data[0]), np.inf)
    for _, solver, share in ROWS:
        rows = slice(0, max(30, int(share * len(data[0]))))
        part = tuple(a[rows] for a in data)
        answer = timed(library, kind, solver, part, repeats)
        if answer is None:
            continue
        sums = objective(kind, *part, answer[1][0], bend[rows])
        sums = np.where(answer[1][2] >= 0, sums, np.inf)  # not certified
        found[solver] = (answer[0] / len(sums) * 1e9, sums)
        lowest[rows] = np.fmin(lowest[rows], sums)
    agreeing = {solver: np.mean(sums <= lowest[: len(sums)] * (1 + NEAR)) for solver, (_, sums) in found.items()}
    voltages = "all machines at the same voltages" if same_voltages else "each machine at its own voltages"
    print(f"\n{TITLES[kind]}, {len(data[0])} curves of {data[0].shape[1]} readings, {voltages}")
    print(f"  {'':24}{'ns a fit':>12}{'times ours':>12}{'lowest to 1e-8':>16}{'curves':>9}")
    own = found["batch"][0]
    for title, solver, _ in ROWS:
        if solver not in found:
            print(f"  {title:24}{'not installed':>12}")
            continue
        ns, sums = found[solver]
        print(f"  {title:24}{ns:12.1f}{ns / own:12.1f}{100 * agreeing[solver]:15.2f}%{len(sums):9d}")
    general = [found[s][0] for s in ("cminpack", "gsl", "ceres", "eigen") if s in found]
    reached = (found["numpy"][0] / own, min(general, default=np.nan) / own, found["scipy"][0] / own)
    print("  goal (NumPy, fastest C or C++, SciPy): " + ", ".join(
        f"{ratio:.0f} of {goal} times {'reached' if ratio >= goal else 'missed'}" for ratio, goal in zip(reached, GOALS[kind])
    ))  # fmt: skip
    return agreeing["batch"] == 1.0 and agreeing["single"] == 1.0


def widths(library, count, repeats):
    print(
        f"\nours by width of register, ns a fit, each machine at its own voltages\n  {'':10}"
        + "".join(f"{TITLES[k]:>18}" for k in KINDS)
    )
    for name in rewound._core.instruction_sets():
        cells = []
        for kind in KINDS:
            data = machines(kind, count, False)
            cells.append(library.run(f"batch {name}", kind, *data, repeats)[0] / len(data[0]) * 1e9)
        print(f"  {name:10}" + "".join(f"{cell:18.1f}" for cell in cells))


def bench_table(count, seed=3, most=12):
    """Volts and amps of 2 to 12 readings from 60 to 114 % of the rated voltage, NaN where absent: power laws, magnetising
    curves and some with load, many of which end with the exponent at a bound."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0.6, 1.14, (count, most)), axis=1)
    level, m = rng.uniform(0.2, 1.0, (count, 1)), rng.uniform(2.5, 9.0, (count, 1))
    bent = level * (x + rng.uniform(-0.05, 0.6, (count, 1)) * x**m)
    active = level * (rng.uniform(0.1, 0.8, (count, 1)) / x + rng.uniform(0.05, 0.4, (count, 1)) * x)
    truths = level * x ** rng.uniform(0.5, 2.2, (count, 1)), bent, np.hypot(bent, active)
    current = np.choose(rng.integers(0, 3, (count, 1)), truths) * np.exp(rng.normal(0.0, 0.01, x.shape))
    absent = rng.random(x.shape).argsort(axis=1) >= rng.integers(2, most + 1, (count, 1))
    return RATED * x, np.where(absent, np.nan, current)


def quickest(work, repeats):
    """Microseconds of the quickest pass."""
    return 1e6 * min(timeit.repeat(work, number=1, repeat=repeats, timer=time.thread_time))


def batched_numpy(kind, voltage, current, weights, repeats):
    """Microseconds a curve, absent readings as such of no weight; only curves with readings to spare."""
    here = np.isfinite(current)
    rows = here.sum(axis=1) >= 5
    x = np.where(here, voltage / RATED, 1.0)[rows]
    amps, w = np.where(here, current, 1.0)[rows], np.where(here, weights, 0.0)[rows]
    with np.errstate(all="ignore"):
        took = quickest(lambda: python_rivals.numpy_batch(kind, x, amps, w, AT / RATED, 2.0), min(3, repeats))
    return took / len(x)


def bench_tables(count, repeats):
    """What a shop's table costs in one call, and which share of it leaves the lanes of registers. A table wider than
    they take is fitted one by one. Beside batched NumPy, which predicts two currents of each curve, so do ours."""
    voltage, current = bench_table(count)
    rng = np.random.default_rng(4)
    given = {
        "weights": {"weights": 1.0 / (0.01 * np.nan_to_num(current, nan=1.0)) ** 2},
        "no weights": {},
        "errors in both": {
            "voltage_u_V": voltage * rng.uniform(0.001, 0.01, voltage.shape),
            "current_u_A": current * rng.uniform(0.004, 0.02, voltage.shape),
        },
    }
    models = ("proportional", "power", "log_quadratic", "magnetising", "magnetising_load", "auto")
    print(
        f"\n{count} curves of 2 to 12 readings from 60 to 114 % of the rated voltage, rows with gaps; us a curve, one call"
    )
    print(f"  {'':34}{'us':>9}{'one by one':>12}{'left the lanes':>16}{'batched NumPy, predictions too':>32}")
    for kind, options in given.items():
        for model, robust in [(model, False) for model in models] + [("power", True)]:
            rows = count if model not in ("magnetising_load", "auto") else max(300, count // 8)

            def table(width, rows=rows, model=model, robust=robust, options=options):
                padded = [
                    np.pad(a[:rows], ((0, 0), (0, width - a.shape[1])), constant_values=np.nan)
                    for a in (voltage, current, *options.values())
                ]
                named = dict(zip(options, padded[2:]))
                return lambda few=rows: rewound.fit_draw(
                    padded[0][:few], padded[1][:few], rated_voltage_V=RATED, model=model, robust=robust,
                    **{name: numbers[:few] for name, numbers in named.items()},
                )  # fmt: skip

            ours = quickest(table(12), min(3, repeats)) / rows
            few = min(rows, 200)
            alone = quickest(lambda: table(17)(few), 1) / few
            left = table(12)()._fitted.left_lanes / rows
            rival = {("power", False): "power", ("magnetising", False): "magnetising", ("power", True): "robust"}
            beside = ""
            if kind == "weights" and (model, robust) in rival:
                name = rival[model, robust]
                theirs = batched_numpy(name, voltage, current, options["weights"], repeats)
                times = theirs / (quickest(lambda fit=table(12): fit().predict(AT), min(3, repeats)) / rows)
                beside = f"{theirs:11.2f}, {times:.0f} times ours ({ASKED_OF_GAPS[name]} asked)"
            title = f"{kind}, {model}{', Huber' if robust else ''}"
            print(f"  {title:34}{ours:9.2f}{alone:12.1f}{100 * left:15.2f}%{beside}", flush=True)


def resident_bytes():
    with open("/proc/self/statm", encoding="ascii") as pages:
        return int(pages.read().split()[1]) * os.sysconf("SC_PAGESIZE")


def growth(repeats):
    print("\nfrom Python, fit_draw and predict, power law: growth and memory")
    print(f"  {'curves':>10}{'ns a curve':>12}{'MB of the result':>18}")
    for curves in (1, 1000, 10000, 100000, 1000000):
        voltage, current, weights = (
            np.ascontiguousarray(a[:curves]) for a in machines("power", max(1, curves // 3 + 1), False)
        )
        options = dict(rated_voltage_V=RATED, model="power", weights=weights)
        if curves == 1:
            voltage, current, options["weights"] = voltage[0], current[0], weights[0]

        def full():
            fit = rewound.fit_draw(voltage, current, **options)
            return fit, fit.predict(AT)

        number = 1000 if curves == 1 else 1
        before = resident_bytes()
        kept = full()
        grown = (resident_bytes() - before) / 1e6
        seconds = min(timeit.repeat(full, number=number, repeat=repeats, timer=time.thread_time)) / number
        alone = (
            min(
                timeit.repeat(
                    lambda: rewound.fit_draw(voltage, current, **options),
                    number=number,
                    repeat=repeats,
                    timer=time.thread_time,
                )
            )
            / number
        )
        note = f"   fit_draw alone {alone * 1e6:.1f} us" if curves == 1 else ""
        print(f"  {curves:10d}{seconds / curves * 1e9:12.0f}{grown:18.1f}{note}")
        del kept


def main():
    words = argparse.ArgumentParser(prog="tools/study fits", description=__doc__.splitlines()[0])
    words.add_argument("--scale", type=float, default=1.0, help="multiplies 20 000 machines (1)")
    words.add_argument("--repeats", type=int, default=7, help="passes of which the quickest counts (7)")
    words.add_argument("--library", required=True, help=argparse.SUPPRESS)
    asked = words.parse_args()
    library = Library(asked.library)
    count = max(100, int(20000 * asked.scale))
    print(
        "one thread and its own computing time, arrays in memory to arrays in memory;"
        f" {rewound._core.instruction_sets()[-1]}"
    )
    good = True
    for same_voltages in (False, True):
        for kind in KINDS:
            good &= table(library, kind, count, same_voltages, asked.repeats)
    bench_tables(max(500, count // 4), asked.repeats)
    widths(library, count, asked.repeats)
    growth(asked.repeats)
    if not good:
        sys.exit("bench: ours are not the lowest everywhere")


main()
