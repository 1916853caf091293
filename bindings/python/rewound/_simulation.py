# SPDX-License-Identifier: MIT
"""Machines that there never were, and changes that have not been made."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Dict, Iterable, List, Mapping, Optional, Tuple, Union

from . import _core
from ._core import Record
from ._errors import refuse
from ._html import facts_and_lists, table
from ._optional import pandas
from ._shown import Shown
from ._words import still_called

if TYPE_CHECKING:
    import pandas as pd

_QUANTITIES = ("current", "power", "copper_heat", "flux", "rise")


@still_called("seed")
def simulate(
    machine: str,
    fault: Union[None, str, Iterable[str], Mapping[str, Optional[float]]] = None,
    *,
    seed: int = 1,
    unit: Optional[int] = None,
    bench: Optional[int] = None,
    id: Optional[str] = None,
    state: str = "after_repair",
    shaft: str = "loaded",
    read: Iterable[str] = (),
) -> Record:
    """Make the record of a visit to an invented machine, healthy or with faults: for teaching and tests.

    Parameters
    ----------
    machine : str
        A model that the library knows, such as ``"circulator-40"``; an unknown one is refused with those there are.
    fault : str, iterable of str, or dict, optional
        Names of faults, or names with severities [1], such as ``{"shorted_turns": 0.05}``: a twentieth of the main
        winding's turns. A severity of None is a middling one.
    seed : int
        Of everything that is drawn: the unit's own spread, meters, settings, digits. The same seed gives the same
        record; a fault changes nothing that is drawn.
    unit, bench : int, optional
        Seeds of the unit's own spread and of the meters, where they are to be common to several records.
    id : str, optional
        The machine's number in the record.
    state : {"after_repair", "as_found", "recheck"}
    shaft : {"loaded", "bare"}
    read : iterable of str
        What is read besides: ``"watts"``, ``"rpm"``, ``"coast_down"``, ``"heat_run"``, ``"polarization"``.

    Returns
    -------
    Record

    Raises
    ------
    PreconditionError
        A machine, fault or word that is unknown, a fault that the machine cannot have, an impossible severity.

    Examples
    --------
    >>> healthy = rewound.simulate("circulator-40", seed=7)
    >>> shorted = rewound.simulate("circulator-40", fault={"shorted_turns": 0.05}, seed=7)
    >>> shorted.machine
    'circulator-40-7'
    """
    faults: List[Tuple[str, Optional[float]]]
    if fault is None:
        faults = []
    elif isinstance(fault, str):
        faults = [(fault, None)]
    elif isinstance(fault, Mapping):
        faults = list(fault.items())
    else:
        faults = [(name, None) for name in fault]
    return _core.simulate(machine, faults, seed, unit, bench, id, state, shaft, list(read))


class WhatIf(Shown):
    """What a change of winding or mains would change. Made by :func:`whatif`; its JSON has the format
    ``rewound-whatif/1``."""

    @property
    def changes(self) -> Tuple[Dict[str, Any], ...]:
        """One dict per case and speed.

        Keys are ``case`` (``"new_winding"`` at the rated voltage, ``"mains"`` with the present winding,
        ``"new_winding_on_mains"``), ``speed``, ``read``, ``running`` (probability that it turns), and ``current``,
        ``power``, ``copper_heat``, ``flux``, ``rise``, each with ``percent``, ``low`` and ``high``: the change against
        the present winding at the rated voltage [%] and its 95 % interval; None where it cannot turn.
        """
        return self._rows_at("changes")

    @property
    def for_current(self) -> Optional[Dict[str, float]]:
        """For a wanted current: ``current_A`` [A] and ``turns_factor`` [1] with ``low`` and ``high``; else None."""
        found: Optional[Dict[str, float]] = self._values.get("for_current")
        return found

    @property
    def basis(self) -> Dict[str, Any]:
        """What the answer rests on: channels ``read``, nameplate, resistance, ``designs``, and their ``misfit``."""
        return self._table_at("basis")

    def to_frame(self) -> "pd.DataFrame":
        """The changes, one row a case and speed.

        Returns
        -------
        pandas.DataFrame
            ``case``, ``speed``, ``read``, ``running``, and ``current_percent``, ``current_low``, ``current_high`` [%],
            alike of ``power``, ``copper_heat``, ``flux`` and ``rise``; NaN where it cannot turn.

        Raises
        ------
        MissingPackageError
            pandas is not installed.
        """
        pd = pandas()
        return pd.DataFrame([_flat(change) for change in self.changes])

    def _repr_html_(self) -> str:
        rows = [_spoken(change) for change in self.changes]
        name = f"{self._text_at('machine')}: what a change would change"
        lists = {"Remarks": self._texts_at("remarks"), "Cautions": self._texts_at("cautions")}
        return table(name, rows, note="percent, with 95 % intervals") + facts_and_lists("", {}, lists)

    def __repr__(self) -> str:
        return f"<rewound.WhatIf {self._values['machine']}, {len(self.changes)} changes>"


def _flat(change: Mapping[str, Any]) -> Dict[str, Any]:
    """A change with the intervals of its quantities in columns of their own."""
    out: Dict[str, Any] = {}
    for key, value in change.items():
        if key in _QUANTITIES:
            parts: Mapping[str, Any] = value or {}
            out.update({f"{key}_{part}": parts.get(part, float("nan")) for part in ("percent", "low", "high")})
        else:
            out[key] = value
    return out


def _spoken(change: Mapping[str, Any]) -> Dict[str, str]:
    """A change as words for a table."""
    out = {"case": change["case"].replace("_", " "), "speed": change["speed"], "turns": f"{change['running']:.0%}"}
    for key in _QUANTITIES:
        found: Optional[Mapping[str, float]] = change.get(key)
        words = key.replace("_", " ")
        out[words] = f"{found['percent']:+.1f} ({found['low']:+.1f} to {found['high']:+.1f})" if found else "-"
    return out


@still_called(
    "wire_area_factor", "supply_voltage", "supply_frequency", supply_voltage="supply_voltage_V",
    supply_frequency="supply_frequency_Hz",
)  # fmt: skip
def whatif(
    record: Record,
    turns_factor: float = 1.0,
    *,
    wire_area_factor: float = 1.0,
    supply_voltage_V: Optional[float] = None,
    supply_frequency_Hz: Optional[float] = None,
    for_current_A: Optional[float] = None,
) -> WhatIf:
    """Ask what other turns, wire or mains would change, before winding as well as after.

    Simulated designs are matched to what the record tells of the machine (run-up, ohms of the main winding, nameplate);
    the intervals hold what they leave open.

    Parameters
    ----------
    record : Record
        A visit with the present winding.
    turns_factor : float
        Turns of every coil, new over present [1], 0.5 to 2.
    wire_area_factor : float
        Cross-section of the wire, new over present [1], 0.25 to 4.
    supply_voltage_V, supply_frequency_Hz : float, optional
        The mains [V], [Hz]; the record's own, else the rated ones, where not given.
    for_current_A : float, optional
        Instead of a change: the current that the fastest speed is to take on the mains [A]. The answer's
        ``for_current`` tells the turns, and its changes are those of these turns, the wire filling the same room.

    Returns
    -------
    WhatIf

    Raises
    ------
    PreconditionError
        A change outside its limits.
    InputError
        A machine that the model does not know, or too little known of it.

    Examples
    --------
    >>> answer = rewound.whatif(rewound.simulate("circulator-40", seed=3), turns_factor=0.95)
    >>> current = answer.changes[0]["current"]  # of the fastest speed
    >>> bool(0 < current["low"] < current["percent"] < current["high"])
    True
    """
    if for_current_A is not None and (turns_factor, wire_area_factor) != (1.0, 1.0):
        raise refuse("for_current_A", "a wanted current beside a change of turns or wire", "one of the two")
    return WhatIf(
        _core.whatif(record, turns_factor, wire_area_factor, supply_voltage_V, supply_frequency_Hz, for_current_A)
    )


def machine_parameters(record: Record) -> List[Dict[str, Any]]:
    """Find the parameters of a machine's equivalent circuit, as far as its readings determine them.

    Simulated designs are fitted to run-up (amperes; watts and rpm where read), ohms of the main winding and nameplate.

    Parameters
    ----------
    record : Record

    Returns
    -------
    list of dict
        One a parameter: ``parameter`` (name), ``unit``, ``value``, ``low`` and ``high`` (95 % interval), and
        ``determined``: False where the interval is little narrower than what fan machines have anyway. Ohms are full
        values seen from the main winding, warm as it ran, at the rated frequency.

    Raises
    ------
    InputError
        Neither a run-up of the fastest speed nor a marked current, or a speed control that the model does not know.

    Examples
    --------
    >>> found = rewound.machine_parameters(rewound.simulate("circulator-40", seed=3))
    >>> all(each["low"] <= each["value"] <= each["high"] for each in found)
    True
    """
    parameters: List[Dict[str, Any]] = json.loads(_core.machine_parameters(record))["parameters"]
    return parameters
