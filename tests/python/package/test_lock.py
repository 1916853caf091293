# SPDX-License-Identifier: MIT
"""The interpreter lock is free while the compiled part works.

With an endless switch interval a thread gives the lock up only by itself. A second thread that counts therefore gets on
during a call if, and only if, the call lets go of the lock.
"""

import sys
import threading
import time

import pytest

import rewound


class Counter:
    """Counts in a thread of its own, as often as it is given the lock."""

    def __init__(self):
        self.count = 0
        self._stop = False
        self._thread = threading.Thread(target=self._run, daemon=True)

    def _run(self):
        while not self._stop:
            self.count += 1
            time.sleep(0)  # lets go of the lock

    def __enter__(self):
        self._before = sys.getswitchinterval()
        sys.setswitchinterval(1e6)
        self._thread.start()
        return self

    def __exit__(self, *error):
        self._stop = True
        self._thread.join()
        sys.setswitchinterval(self._before)

    def gets_on_during(self, call, tries):
        """Whether it counted during one of so many calls."""
        for _ in range(tries):
            before = self.count
            call()
            if self.count != before:
                return True
        return False


@pytest.fixture(scope="module")
def records():
    return [rewound.simulate("circulator-40", seed=n) for n in range(1, 4)]


def test_work_in_python_itself_keeps_the_lock():
    # the control: without it the tests below could not fail
    with Counter() as counter:
        assert not counter.gets_on_during(lambda: sum(range(200_000)), tries=20)


@pytest.mark.parametrize("work", ["judge", "learn", "simulate", "whatif", "trend", "fit_draw"])
def test_another_thread_runs_meanwhile(work, records, repository):
    folder = repository / "reference" / "records" / "good"
    visits = [rewound.load_record(folder / f"gh12_{year}.toml") for year in range(2021, 2026)]
    rows = [[115.0, 150.0, 184.0, 230.0]] * 50
    calls = {
        "judge": lambda: rewound.judge(records[0]),
        "learn": lambda: rewound.learn(records),
        "simulate": lambda: rewound.simulate("circulator-40", seed=5),
        "whatif": lambda: rewound.whatif(records[0], turns_factor=1.05),
        "trend": lambda: rewound.trend(visits),
        "fit_draw": lambda: rewound.fit_draw(rows, [[0.21, 0.28, 0.336, 0.42]] * 50, rated_voltage_V=230.0),
    }
    with Counter() as counter:
        assert counter.gets_on_during(calls[work], tries=2000)
