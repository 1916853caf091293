# SPDX-License-Identifier: MIT
"""judge_frame under Dask's distributed scheduler: the answers of a single process, also when a worker dies."""

import os
import pathlib
import signal

import dask.dataframe as dd
import pandas as pd
import pytest
from distributed import Client, LocalCluster

import rewound

POLICY = {"format": "rewound-policy/1", "needed": ["draw", "steps"]}
SPEEDS = ["high", "medium", "low"]


@pytest.fixture(scope="module")
def reference():
    return rewound.learn(rewound.simulate("circulator-40", seed=n) for n in range(1, 5))


@pytest.fixture(scope="module")
def readings():
    records = [rewound.simulate("circulator-40", seed=n) for n in range(11, 19)]
    records.append(rewound.simulate("circulator-40", fault={"shorted_turns": 0.1}, seed=19))
    frame = rewound.frame_from_records(records)
    frame.loc[3, "current_A"] = -1.0  # one machine that cannot be read
    return frame.set_index("machine").sort_index(kind="stable")


@pytest.fixture(scope="module")
def single(readings, reference):
    return rewound.judge_frame(readings, reference, policy=POLICY, speeds=SPEEDS)


@pytest.fixture
def client(tmp_path):
    with LocalCluster(
        n_workers=2, processes=True, threads_per_worker=1, dashboard_address=None, local_directory=str(tmp_path)
    ) as cluster, Client(cluster) as connected:
        yield connected


def partitioned(readings):
    """The readings in partitions that hold all rows of their machines."""
    frame = dd.from_pandas(readings, npartitions=4, sort=True)
    assert frame.npartitions >= 3
    return frame


def test_partitions_on_two_processes_give_the_answers_of_one(readings, reference, single, client):
    work = partitioned(readings).map_partitions(rewound.judge_frame, reference, policy=POLICY)
    assert list(work.columns) == list(single.columns)
    pd.testing.assert_frame_equal(work.compute(), single)
    assert single["error"].notna().sum() == 1 and (single["decision"] == "hold").any()
    assert len({os.getpid(), *client.run(os.getpid).values()}) == 3


def test_a_frame_of_dask_is_judged_whole_and_a_machine_cut_in_two_is_refused(readings, reference, single, client):
    work = rewound.judge_frame(partitioned(readings), reference, policy=POLICY)
    pd.testing.assert_frame_equal(work.compute(), single)
    halves = [dd.from_pandas(part, npartitions=1, sort=False) for part in (readings.iloc[:30], readings.iloc[30:])]
    with pytest.raises(rewound.InputError, match="rows in the partitions 0 and 1"):
        rewound.judge_frame(dd.concat(halves), reference, policy=POLICY)


def test_without_a_reference_the_speeds_are_named(readings, client):
    single = rewound.judge_frame(readings, policy=POLICY)
    assert list(single.filter(like="level_percent").columns) == [f"level_percent.{speed}" for speed in SPEEDS]
    work = partitioned(readings).map_partitions(rewound.judge_frame, policy=POLICY, speeds=SPEEDS)
    pd.testing.assert_frame_equal(work.compute(), single)


def judge_or_die(frame, reference, folder):
    """Judges a partition; the process that comes to it first is killed in the middle of the work."""
    judged = rewound.judge_frame(frame, reference, policy=POLICY, speeds=SPEEDS)
    mark = pathlib.Path(folder) / "killed"
    try:
        mark.touch(exist_ok=False)
    except FileExistsError:
        return judged
    mark.write_text(str(os.getpid()), encoding="utf-8")
    os.kill(os.getpid(), signal.SIGKILL)
    return judged


def test_a_killed_worker_is_survived(readings, reference, single, client, tmp_path):
    workers = set(client.run(os.getpid).values())
    meta = single.iloc[:0]
    work = partitioned(readings).map_partitions(judge_or_die, reference, str(tmp_path), meta=meta)
    pd.testing.assert_frame_equal(work.compute(), single)
    killed = int((tmp_path / "killed").read_text(encoding="utf-8"))
    assert killed in workers and killed not in client.run(os.getpid).values()
