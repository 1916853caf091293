# SPDX-License-Identifier: MIT
"""How often stated intervals hold the truth, and how often good and faulty machines are told apart: simulated here from
stated seeds, through the package as anybody would call it.

usage: coverage.py OUT.csv   prints the table as well; fails where a share is further off than chance allows
"""

import csv
import sys

import numpy as np
import rewound

RATED = 230.0


def power_reading(random):
    """A new reading on a power curve whose errors nobody stated."""
    volts, amps, x = _curves(random, 2000, 8, lambda x, a, n: a * x**n, (0.2, 2.0), (0.8, 2.5), 0.015)
    fit = rewound.fit_draw(volts, amps, rated_voltage_V=RATED, model="power", voltage_u_V=None)
    return _new_readings(fit, x, random, lambda x, a, n: a * x**n, 0.015)


def magnetising_reading(random):
    """A new reading on a magnetising curve."""
    bent = _bent
    volts, amps, x = _curves(random, 600, 8, bent, (0.2, 0.6), (0.05, 0.4), 0.01, (3.0, 9.0))
    fit = rewound.fit_draw(volts, amps, rated_voltage_V=RATED, model="magnetising")
    return _new_readings(fit, x, random, bent, 0.01)


def stated_exponent(random):
    """The exponent, where the errors are stated rightly."""
    volts, amps, x = _curves(random, 2000, 4, lambda x, a, n: a * x**n, (0.2, 2.0), (0.8, 2.5), 0.01)
    fit = rewound.fit_draw(volts, amps, rated_voltage_V=RATED, model="power", voltage_u_V=1e-6, current_u_A=0.01 * amps)
    return np.abs(fit.values["exponent"] - x["parameters"][1]) <= 1.96 * fit.errors["exponent"]


def profiled_power(random):
    """The power of a magnetising curve, by its profile."""
    volts, amps, x = _curves(random, 250, 8, _bent, (0.2, 0.6), (0.05, 0.4), 0.01, (3.0, 9.0))
    low, high = rewound.fit_draw(volts, amps, rated_voltage_V=RATED, model="magnetising").profile()["m"]
    return (low <= x["parameters"][2]) & (x["parameters"][2] <= high)


def ten_minutes(random):
    """Insulation resistance at ten minutes, read up to three."""
    times = np.array([15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0])
    leakage, absorbed, n = (random.uniform(*ends, (1000, 1)) for ends in ((0.05, 1.0), (0.2, 2.0), (0.4, 1.1)))
    ohms = 500.0 / (leakage + absorbed * (times / 60.0) ** -n)
    read = ohms * np.exp(random.normal(0.0, 0.01, ohms.shape))
    _, low, high = rewound.fit_absorption(times, read, test_voltage_V=500.0).predict(600.0)
    truth = 500.0 / (leakage + absorbed * 10.0**-n)[:, 0]
    return (low <= truth) & (truth <= high)


def heat_run(random):
    """Final rise of a winding on a slow frame, read for one of its slow time constants."""
    held = []
    for _ in range(150):
        slow, fast, share = random.uniform(1800, 4500), random.uniform(90, 450), random.uniform(0.05, 0.4)
        final, times = random.uniform(40, 80), np.linspace(0.0, slow, 13)
        rise = final * (1 - (1 - share) * np.exp(-times / slow) - share * np.exp(-times / fast))
        run = rewound.project_heat_run(times, rise + random.normal(0, 0.4, 13), rise_u_K=0.4)
        held.append(run.low_K <= final <= run.high_K)
    return np.array(held)


def coasting(random):
    """Deceleration at 1000 rpm of a coast-down from 1380 rpm."""
    held = []
    for _ in range(600):
        c0, c2 = random.uniform(1.0, 8.0), random.uniform(1e-4, 8e-4)
        w0, times = 145.0, np.arange(0.0, 9.0)
        at = np.arctan(w0 * np.sqrt(c2 / c0)) - times * np.sqrt(c0 * c2)
        rpm = np.sqrt(c0 / c2) * np.tan(np.maximum(at, 0.0)) * 30.0 / np.pi
        moving = at > 0.05
        read = rpm[moving] + random.normal(0.0, 2.0, moving.sum())
        fit = rewound.fit_coast_down(times[moving], read, speed_u_rpm=2.0, compare_at_rpm=1000.0)
        w = 1000.0 * np.pi / 30.0
        held.append(abs(fit.deceleration_rad_s2 - c0 - c2 * w * w) <= 1.96 * fit.deceleration_u_rad_s2)
    return np.array(held)


def profiled_coasting(random):
    """The windage term of a coast-down, by its profile."""
    held = []
    for _ in range(300):
        c0, c2 = random.uniform(1.0, 8.0), random.uniform(1e-4, 8e-4)
        times = np.arange(0.0, 9.0)
        at = np.arctan(145.0 * np.sqrt(c2 / c0)) - times * np.sqrt(c0 * c2)
        rpm = np.sqrt(c0 / c2) * np.tan(np.maximum(at, 0.0)) * 30.0 / np.pi
        moving = at > 0.05
        read = rpm[moving] + random.normal(0.0, 2.0, moving.sum())
        low, high = rewound.fit_coast_down(times[moving], read, speed_u_rpm=2.0).profile()["quadratic"]
        held.append(low <= c2 <= high)
    return np.array(held)


def starts(random):
    """The share of starts that succeed lies above the bound that 20 attempts prove."""
    share = random.uniform(0.5, 0.99, 4000)
    return rewound.proven_starts(np.full(4000, 20), random.binomial(20, share), level=0.95).at_least <= share


def one_more_machine_of_one(random):
    """Current of one more fan at its rated voltage, beside a reference of one"""
    return _beside(1, RATED)


def one_more_machine(random):
    """The same beside a reference of three"""
    return _beside(3, RATED)


def one_more_machine_of_ten(random):
    """The same beside a reference of ten"""
    return _beside(10, RATED)


def one_more_machine_lower(random):
    """The same beside three at 160 V, where its iron is not saturated"""
    return _beside(3, 160.0)


def _beside(count, where_V):
    held = []
    for model in ("circulator-40", "wall-30", "desk-25", "blower-60"):
        for group in range(75):
            first = 5000 + (count + 4) * group
            good = rewound.learn(rewound.simulate(model, seed=first + n) for n in range(count))
            for n in range(4):
                values = rewound.simulate(model, seed=first + count + n).to_dict()
                run, meters = values["run_up"][0], values["instruments"]
                place = int(np.argmin(np.abs(np.array(run["voltage_V"]) - where_V)))
                volts, amps = run["voltage_V"][place], run["current_A"][place]
                _, low, high = good.expected(
                    run["speed"], [volts], current_u_relative=_relative_u(meters["ammeter"], amps),
                    voltage_u_relative=_relative_u(meters["voltmeter"], volts),
                )  # fmt: skip
                held.append(low[0] <= amps <= high[0])
    return np.array(held)


def _relative_u(meter, reading):
    """Of a reading and of the good machines' meter, which is another one."""
    digits = meter["digits"] * meter["resolution"] / reading
    return np.hypot(np.sqrt(2.0) * meter["reading_percent"] / 100.0, digits) / np.sqrt(3.0)


def judged(random, fault=None):
    """Whether machines beside a reference of six good ones are held."""
    reference = rewound.learn(rewound.simulate("circulator-40", seed=n) for n in range(1, 7))
    policy = {"format": "rewound-policy/1", "needed": ["draw", "steps"]}
    season = [rewound.simulate("circulator-40", fault=fault, seed=2000 + n) for n in range(200)]
    return (rewound.judge_frame(rewound.frame_from_records(season), reference, policy=policy)["decision"]).to_numpy()


def good_held(random):
    """Good machines that are not held."""
    return judged(random) != "hold"


def faulty_released(random):
    """Machines with a tenth of their turns shorted that are not released."""
    return judged(random, {"shorted_turns": 0.1}) != "release"


def _bent(x, a, b, m):
    return a * x + b * x**m


def _curves(random, count, readings, curve, *ranges):
    """Voltages, currents with relative scatter, and what they were made of; the scatter is the last single number."""
    spread = [each for each in ranges if isinstance(each, float)][0]
    parameters = [random.uniform(*each, count) for each in ranges if isinstance(each, tuple)]
    x = np.sort(random.uniform(0.4, 1.1, (count, readings)), axis=1)
    amps = curve(x, *(each[:, None] for each in parameters)) * np.exp(random.normal(0.0, spread, x.shape))
    return x * RATED, amps, {"parameters": parameters}


def _new_readings(fit, made, random, curve, spread):
    count = len(fit.status)
    at = random.uniform(0.5, 1.05, count)
    new = curve(at, *made["parameters"]) * np.exp(random.normal(0.0, spread, count))
    _, low, high = fit.predict((at * RATED)[:, None])
    known = ~np.isnan(low[:, 0])
    return ((low[:, 0] <= new) & (new <= high[:, 0]))[known]


# What is measured, how, what is stated, and the least and the most share that is as it should be.
ROWS = (
    (power_reading, "8 readings, 1.5 % scatter, interval of Student's t", 0.95, 0.94, 0.96),
    (magnetising_reading, "8 readings, 1 % scatter, interval of Student's t", 0.95, 0.94, 0.97),
    (stated_exponent, "4 readings, 1 % stated, normal interval", 0.95, 0.94, 0.98),
    (profiled_power, "8 readings, 1 % scatter, profile", 0.95, 0.93, 0.97),
    (ten_minutes, "7 readings to 180 s, 1 % stated, profile", 0.95, 0.94, 0.98),
    (heat_run, "13 readings, 0.4 K stated, two-body machines", 0.95, 0.93, 0.99),
    (coasting, "up to 9 readings, 2 rpm stated, normal interval", 0.95, 0.92, 0.97),
    (profiled_coasting, "up to 9 readings, 2 rpm stated, profile", 0.95, 0.93, 1.0),
    (starts, "20 attempts, one-sided exact bound", 0.95, 0.95, 1.0),
    (one_more_machine_of_one, "simulated fans of four models, predictive band", 0.95, 0.95, 0.98),
    (one_more_machine, "simulated fans of four models, predictive band", 0.95, 0.95, 0.98),
    (one_more_machine_of_ten, "simulated fans of four models, predictive band", 0.95, 0.95, 0.98),
    (one_more_machine_lower, "simulated fans of four models, predictive band", 0.95, 0.95, 1.0),
    (good_held, "simulated fans beside six good ones, false alarms of the joint test set to 1 %", 0.98, 0.97, 1.0),
    (faulty_released, "simulated fans beside six good ones", None, 0.98, 1.0),
)
FARTHEST = 4.0  # standard deviations of the binomial distribution beyond that


def _chance(share, count):
    return FARTHEST * np.sqrt(share * (1.0 - share) / count)


def main(path):
    wrong = []
    with open(path, "w", encoding="utf-8", newline="") as out:
        table = csv.writer(out)
        table.writerow(["what", "how", "stated", "held", "of"])
        for seed, (measure, how, stated, least, most) in enumerate(ROWS):
            held = measure(np.random.default_rng(seed))
            share, count = float(np.mean(held)), len(held)
            told = "-" if stated is None else f"{100 * stated:g} %"
            row = [measure.__doc__.rstrip("."), how, told, f"{100 * share:.1f} %", count]
            table.writerow(row)
            print(" | ".join(map(str, row)), flush=True)
            if not least - _chance(least, count) <= share <= most + _chance(most, count):
                wrong.append(row[0])
    for what in wrong:
        print(f"not as stated: {what}", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]) if len(sys.argv) == 2 else __doc__)
