# SPDX-License-Identifier: MIT
"""What a long frame of readings says of its machines besides the readings."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any, Dict, List, Mapping, Optional, Tuple, Union

from . import _frame_columns as columns
from ._core import Reference
from ._errors import InputError
from ._frame_units import in_own_units, only_known

if TYPE_CHECKING:
    import pandas as pd

_KNOWN = columns.FACTS + columns.BESIDE_FACTS
Facts = Union[None, "pd.DataFrame", Dict[str, Any]]


class MachineFacts:
    """Facts of the machines: of all alike, or one row a machine; and what stands in where a frame says nothing.

    Parameters
    ----------
    facts : pandas.DataFrame or dict, optional
        As the user gives them.
    beside_readings : list of str
        Facts that have columns beside the readings.
    reference : Reference, optional
        Stands in for facts without a column: model, ratings, condition of the shaft.
    extra : {"refuse", "ignore"}
        What becomes of columns of a frame of machines that are not known.
    """

    def __init__(
        self, facts: Facts, beside_readings: List[str], reference: Optional[Reference], extra: str = "refuse"
    ) -> None:
        self._all: Dict[str, Any] = {}
        self._rows: Optional[Dict[str, Dict[str, Any]]] = None
        self._columns: Tuple[str, ...] = ()
        self._extra = extra
        if isinstance(facts, dict):
            columns.expect_known(facts, _KNOWN, "machines")
            self._all = _stated(facts)
            self._columns = tuple(facts)
        elif facts is not None:
            self._read(facts)
        for column in self._columns:
            if column in beside_readings:
                raise columns.given_twice(column)
        self._stand_in(set(beside_readings) | set(self._columns), reference)

    def _read(self, facts: "pd.DataFrame") -> None:
        known = (columns.MACHINE,) + _KNOWN
        frame = columns.from_index(facts, known, "machines")
        frame = only_known(in_own_units(frame, known, "machines"), known, self._extra)
        columns.expect_known(frame.columns, known, "machines")
        columns.expect_there(frame.columns, (columns.MACHINE,), "machines")
        self._columns = tuple(name for name in frame.columns if name != columns.MACHINE)
        self._rows = {}
        for row in frame.astype(object).to_dict("records"):
            label = row.pop(columns.MACHINE)
            if columns.absent(label):
                raise trouble_with("missing_key", "machines.machine", "nothing", "the name of a machine on every row")
            name = columns.text(label)
            if name in self._rows:
                raise trouble_with("repeated", "machines.machine", f"{name} twice", "one row a machine")
            self._rows[name] = _stated(row)

    def _stand_in(self, there: "set[str]", reference: Optional[Reference]) -> None:
        """What holds for a fact without a column; refuses a frame without one that every record needs."""
        known: Dict[str, Any] = {"date": datetime.date.today()}
        if reference is not None:
            known.update(rated_voltage_V=reference.rated_voltage_V, rated_frequency_Hz=reference.rated_frequency_Hz)
            known.update(shaft=reference.shaft)
            if reference.model:
                known.update(model=reference.model)
        self._otherwise = {name: value for name, value in known.items() if name not in there}
        self._order = [] if reference is None or "speeds" in there else reference.speeds
        needed = tuple(name for name, otherwise in columns.NEEDED.items() if otherwise is None)
        columns.expect_there(there | set(self._otherwise), needed, "machines")

    def of(self, label: Any, beside_readings: Mapping[str, Any]) -> Dict[str, Any]:
        """All facts of a machine; those beside its readings are given."""
        stated = self._all if self._rows is None else self._rows.get(columns.text(label), {})
        assumed = {name: value for name, value in columns.NEEDED.items() if value is not None}
        return {**assumed, **self._otherwise, **stated, **beside_readings}

    def order(self, speeds: List[str]) -> List[str]:
        """A machine's speeds where nothing says their order: as in the reference, others behind in that of their
        rows."""
        there = list(dict.fromkeys(speeds))
        known = [speed for speed in self._order if speed in there]
        return known + [speed for speed in there if speed not in known]


def _stated(facts: Mapping[str, Any]) -> Dict[str, Any]:
    return {name: columns.plain(name, value) for name, value in facts.items() if not columns.absent(value)}


def trouble_with(code: str, field: str, read: str, allowed: str) -> InputError:
    """An error of a cell or a column of a frame."""
    return InputError(f"{field}: read {read}, allowed: {allowed}", code=code, field=field, read=read, allowed=allowed)
