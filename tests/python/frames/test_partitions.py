# SPDX-License-Identifier: MIT
"""Frames of Dask: the rows of the whole, and a machine cut in two is refused. No cluster here; see python_slow."""

import pandas as pd
import pytest

import rewound

dask = pytest.importorskip("dask")
dd = pytest.importorskip("dask.dataframe")

POLICY = {"format": "rewound-policy/1", "needed": ["draw", "steps"]}
SPEEDS = ["high", "medium", "low"]


@pytest.fixture(autouse=True)
def here():
    with dask.config.set(scheduler="synchronous"):
        yield


@pytest.fixture(scope="module")
def reference():
    return rewound.learn(rewound.simulate("circulator-40", seed=n) for n in range(1, 4))


@pytest.fixture(scope="module")
def readings():
    return rewound.frame_from_records(rewound.simulate("circulator-40", seed=n) for n in range(11, 15))


def halves(readings, rows):
    """Two partitions, the first of so many rows."""
    parts = [dd.from_pandas(part, npartitions=1, sort=False) for part in (readings.iloc[:rows], readings.iloc[rows:])]
    return dd.concat(parts)


def rows_of(readings, machines):
    return int(readings["machine"].isin(readings["machine"].unique()[:machines]).sum())


@pytest.mark.parametrize("by", ["column", "index"])
def test_partitions_give_the_rows_of_the_whole(readings, reference, by):
    single = rewound.judge_frame(readings, reference, policy=POLICY)
    if by == "column":
        frame = halves(readings, rows_of(readings, 2))
    else:
        frame = dd.from_pandas(readings.set_index("machine").sort_index(kind="stable"), npartitions=3, sort=True)
        assert frame.known_divisions
    work = rewound.judge_frame(frame, reference, policy=POLICY)
    assert frame.npartitions > 1 and list(work.columns) == list(single.columns)
    pd.testing.assert_frame_equal(work.compute(), single)
    named = rewound.judge_frame(frame, policy=POLICY, speeds=iter(SPEEDS)).compute()
    pd.testing.assert_frame_equal(named, rewound.judge_frame(readings, policy=POLICY, speeds=SPEEDS))


@pytest.mark.parametrize("by", ["column", "index"])
def test_a_machine_cut_in_two_is_refused(readings, reference, by):
    cut = readings if by == "column" else readings.set_index("machine")
    frame = halves(cut, rows_of(readings, 2) + 3)
    with pytest.raises(
        rewound.InputError, match="machine circulator-40-13: read rows in the partitions 0 and 1"
    ) as caught:
        rewound.judge_frame(frame, reference, policy=POLICY)
    assert "set_index" in caught.value.allowed and caught.value.code == "repeated"


def test_a_cut_between_numbers_and_texts_of_one_name_is_found(readings, reference):
    frame = halves(readings.assign(machine=7.0), 9)
    with pytest.raises(rewound.InputError, match="machine 7:"):
        rewound.judge_frame(frame, reference, policy=POLICY)


@pytest.mark.parametrize("beside, field", [({"peers": True}, "peers"), ({"starts": pd.DataFrame()}, "starts")])
def test_what_a_partition_cannot_know_is_refused(readings, reference, beside, field):
    with pytest.raises(rewound.PreconditionError, match=field):
        rewound.judge_frame(halves(readings, rows_of(readings, 1)), reference, **beside)


def test_without_a_reference_the_speeds_have_to_be_named(readings):
    with pytest.raises(rewound.PreconditionError, match="speeds"):
        rewound.judge_frame(halves(readings, rows_of(readings, 1)), policy=POLICY)
