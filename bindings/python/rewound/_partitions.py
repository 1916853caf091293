# SPDX-License-Identifier: MIT
"""Frames of Dask, judged partition by partition; nothing here imports Dask unless such a frame is given."""

from __future__ import annotations

import importlib
from typing import Any, Callable, Dict, List, Mapping

from . import _frame_columns as columns
from ._errors import refuse
from ._frame_facts import trouble_with


def in_partitions(frame: Any) -> bool:
    """Whether it is a frame of Dask."""
    return type(frame).__module__.startswith("dask.") and hasattr(frame, "map_partitions")


def judge_partitions(judge: Callable[..., Any], frame: Any, reference: Any, named: Mapping[str, Any]) -> Any:
    """A Dask frame of the judged machines, once it is known that each has all of its rows in one partition.

    Raises
    ------
    InputError
        A machine has rows in two partitions.
    PreconditionError
        Something that one partition cannot know: other tables, peers, the speeds of all.
    """
    for name in ("insulation", "resistance", "starts"):
        if named[name] is not None:
            raise refuse(name, "a table beside a frame of Dask", "None; or all of them as pandas.DataFrame")
    if named["peers"]:
        raise refuse("peers", "True of a frame of Dask", "False; or a pandas.DataFrame")
    if named["speeds"] is None and getattr(reference, "speeds", None) is None:
        raise refuse("speeds", "None of a frame of Dask", "the names of all speeds, or one reference")
    _expect_whole(frame)
    return frame.map_partitions(judge, reference, meta=judge(frame._meta, reference, **named), **named)


def _expect_whole(frame: Any) -> None:
    if frame.known_divisions and frame.index.name == columns.MACHINE:
        return  # divided between machines
    dask = importlib.import_module("dask")
    found = dask.compute(*(dask.delayed(_machines_in)(part) for part in frame.to_delayed()))
    first: Dict[str, int] = {}
    for number, machines in enumerate(found):
        for machine in machines:
            before = first.setdefault(machine, number)
            if before != number:
                raise trouble_with(
                    "repeated", f"machine {machine}", f"rows in the partitions {before} and {number}",
                    'all rows of a machine in one partition, as after set_index("machine")',
                )  # fmt: skip


def _machines_in(part: Any) -> List[str]:
    there = columns.from_index(part, (columns.MACHINE,), "readings")
    columns.expect_there(there.columns, (columns.MACHINE,), "readings")
    return sorted({columns.text(label) for label in there[columns.MACHINE].unique() if not columns.absent(label)})
