# SPDX-License-Identifier: MIT
"""A small induction machine with its speeds and its fan, and where it runs."""

from __future__ import annotations

import dataclasses
from typing import Any, ClassVar, Dict, List, Literal, NamedTuple, Optional, Sequence, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._errors import refuse
from ._html import facts_and_lists
from ._values import is_value
from ._words import still_called

Array = NDArray[np.float64]
_AUXILIARY = {
    "auxiliary_turns_ratio": "turns_ratio",
    "auxiliary_resistance_ohm": "resistance_ohm",
    "auxiliary_leakage_ohm": "leakage_ohm",
    "capacitance_F": "capacitance_F",
    "start_winding_switched": "switched_out",
}
_LOAD = ("friction_Nm", "linear_Nm_s", "constant_Nm", "square_Nm_s2", "breakaway_Nm")
Phases = Literal["single", "three_star", "three_delta"]
_APART = ("phases", "speeds", "faults")


class _Facts:
    """Shows the fields in a notebook."""

    def _repr_html_(self) -> str:
        fields: Any = dataclasses.fields(self)
        facts = {field.name: str(getattr(self, field.name)) for field in fields}
        return facts_and_lists(type(self).__name__, facts, {})


@dataclasses.dataclass(frozen=True)
class SpeedStep(_Facts):
    """What one speed's lead puts between the line and the machine, ahead of both windings.

    Attributes
    ----------
    series_resistance_ohm, series_reactance_ohm : float
        Resistor, or choke with its resistance [ohm], the reactance at rated frequency.
    series_capacitance_F : float, optional
        Capacitor in the line [F].
    speed_turns : float
        Turns of a speed winding on the main axis over the main winding's [1].
    speed_resistance_ohm, speed_leakage_ohm : float, optional
        Of the speed winding [ohm]; where None the main winding's times speed_turns, and times its square.
    speed_leakage_in_common : float
        Share of that leakage that it has in common with the main winding, whose slots it lies in [1].
    autotransformer_ratio : float
        Machine's voltage over the line's [1].
    """

    series_resistance_ohm: float = 0.0
    series_reactance_ohm: float = 0.0
    series_capacitance_F: Optional[float] = None
    speed_turns: float = 0.0
    speed_resistance_ohm: Optional[float] = None
    speed_leakage_ohm: Optional[float] = None
    speed_leakage_in_common: float = 1.0
    autotransformer_ratio: float = 1.0


@dataclasses.dataclass(frozen=True)
class FanDesign(_Facts):
    """A small induction machine, its speeds and its load, with any faults; what :func:`running_points` solves.

    Attributes
    ----------
    main_resistance_ohm, main_leakage_ohm, rotor_resistance_ohm, rotor_leakage_ohm, magnetising_ohm : float
        Full values seen from the main winding (a phase of three), reactances at rated frequency [ohm].
    rated_voltage_V, rated_frequency_Hz : float
        Between lines where there are three phases.
    poles : int
    phases : {"single", "three_star", "three_delta"}
    saturation, knee_V, sharpness : float
        The magnetising reactance is divided by 1 + saturation (E / knee_V)^sharpness, E being the gap's voltage [V].
    core_loss_W : float
        With the rated voltage in the gap [W].
    auxiliary_turns_ratio : float, optional
        Turns of a start winding over the main winding's [1]; None: there is none.
    auxiliary_resistance_ohm, auxiliary_leakage_ohm, capacitance_F : float, optional
        Of the start winding [ohm], and the capacitor in series with it [F].
    start_winding_switched : bool
        Whether a switch takes the start winding out when running.
    speeds : sequence of SpeedStep
        Fastest first.
    friction_Nm, linear_Nm_s, constant_Nm, square_Nm_s2, breakaway_Nm : float
        The shaft asks for friction + constant + linear w + square w^2 [N m] at w [rad/s]; friction and the linear part
        are losses. At rest it resists with the breakaway torque.
    faults : sequence of (str, float)
        Names and severities of faults, applied in order; ``FanDesign.FAULTS`` lists the names, ``machine/fault.hpp``
        says what each severity means.
    """

    FAULTS: ClassVar[Tuple[str, ...]] = tuple(_core.fault_names())

    main_resistance_ohm: float
    main_leakage_ohm: float
    rotor_resistance_ohm: float
    rotor_leakage_ohm: float
    magnetising_ohm: float
    rated_voltage_V: float = 230.0
    rated_frequency_Hz: float = 50.0
    poles: int = 4
    phases: Phases = "single"
    saturation: float = 0.0
    knee_V: float = 1.0
    sharpness: float = 6.0
    core_loss_W: float = 0.0
    auxiliary_turns_ratio: Optional[float] = None
    auxiliary_resistance_ohm: Optional[float] = None
    auxiliary_leakage_ohm: Optional[float] = None
    capacitance_F: Optional[float] = None
    start_winding_switched: bool = False
    speeds: Sequence[SpeedStep] = (SpeedStep(),)
    friction_Nm: float = 0.0
    linear_Nm_s: float = 0.0
    constant_Nm: float = 0.0
    square_Nm_s2: float = 0.0
    breakaway_Nm: float = 0.0
    faults: Sequence[Tuple[str, float]] = ()

    def lowest_starting_voltage(self, speed: int = 0) -> Optional[float]:
        """Find the voltage above which it starts.

        Parameters
        ----------
        speed : int
            Which of its speeds, 0 the fastest.

        Returns
        -------
        float or None
            Voltage of the supply [V]; None when it does not start below twice its rated voltage.

        Raises
        ------
        PreconditionError
            There is no such speed, or a number of the design is out of range.
        """
        return _core.lowest_starting_voltage(_built(self), speed)


@is_value
class RunningPoints(NamedTuple):
    """Where a machine runs; made by :func:`running_points`. Arrays have the shape of voltage and speed together.

    Attributes
    ----------
    state : ndarray of str
        ``runs``, ``does_not_start``, ``stalled`` or ``dead``. All but the first stand still, with what they draw there.
    slip, speed_rpm, current_A, phase_rad, power_W, power_factor : ndarray
        Of the line; the phase of the current against the voltage is below 0 when it lags.
    developed_torque_Nm, shaft_torque_Nm, output_W, efficiency : ndarray
        The developed torque has the losses of the shaft in it, the shaft's has not.
    stator_copper_W, control_W, rotor_copper_W, core_W, friction_and_windage_W : ndarray
        Losses; with the output they make up the power.
    gap_voltage_V, flux_ratio : ndarray
        Voltage in the gap, and its volts per hertz over the rated ones.
    capacitor_V : ndarray
        NaN where no capacitor is connected.
    """

    state: NDArray[np.str_]
    slip: Array
    speed_rpm: Array
    current_A: Array
    phase_rad: Array
    power_W: Array
    power_factor: Array
    developed_torque_Nm: Array
    shaft_torque_Nm: Array
    output_W: Array
    efficiency: Array
    stator_copper_W: Array
    control_W: Array
    rotor_copper_W: Array
    core_W: Array
    friction_and_windage_W: Array
    gap_voltage_V: Array
    flux_ratio: Array
    capacitor_V: Array


@still_called("speed")
def running_points(
    design: FanDesign,
    voltage_V: ArrayLike,
    *,
    speed: ArrayLike = 0,
    when_turning: bool = False,
    slip: Optional[float] = None,
) -> RunningPoints:
    """Steady state of a machine at each voltage and speed.

    Parameters
    ----------
    design : FanDesign
    voltage_V : array_like
        Voltage of the supply [V], broadcast against speed.
    speed : array_like of int
        Which of the design's speeds, 0 the fastest.
    when_turning : bool
        Where a machine settles that already turns. Otherwise what it reaches from rest at that voltage, or by raising
        the voltage slowly from 0.
    slip : float, optional
        Hold this slip [1], whatever the load; a switched start winding is out.

    Returns
    -------
    RunningPoints

    Raises
    ------
    PreconditionError
        A number is out of range, or the design cannot have a fault that it names.

    Examples
    --------
    >>> fan = rewound.FanDesign(34.14, 35.9, 60.0, 29.32, 248.59, poles=6, auxiliary_turns_ratio=1.73,
    ...                         auxiliary_resistance_ohm=149.78, auxiliary_leakage_ohm=107.4, capacitance_F=4e-6,
    ...                         friction_Nm=0.03, square_Nm_s2=1.55e-4)
    >>> found = rewound.running_points(fan, [230.0, 115.0])
    >>> found.current_A.round(2)
    array([1.05, 0.91])
    """
    if slip is not None and when_turning:
        raise refuse("slip", "slip and when_turning", "one of them")
    volts, speeds = np.broadcast_arrays(np.asarray(voltage_V, dtype=np.float64), np.asarray(speed))
    if speeds.dtype.kind not in "iu":
        raise refuse("speed", f"values of type {speeds.dtype}", "whole numbers")
    way = "at_slip" if slip is not None else "when_turning" if when_turning else "from_rest"
    flat_speeds = np.ascontiguousarray(speeds, dtype=np.int64).ravel()
    states, table = _core.running_points(_built(design), volts.ravel(), flat_speeds, way, 0.0 if slip is None else slip)
    columns = {name: table[:, i].reshape(volts.shape) for i, name in enumerate(_core.running_point_columns())}
    return RunningPoints(state=np.asarray(states, dtype=np.str_).reshape(volts.shape), **columns)


def _built(design: FanDesign) -> _core.MachineDesign:
    values = {field.name: getattr(design, field.name) for field in dataclasses.fields(design)}
    auxiliary = {new: values.pop(old) for old, new in _AUXILIARY.items()}
    load = {name: values.pop(name) for name in _LOAD}
    apart = {name: values.pop(name) for name in _APART}
    if values["poles"] != int(values["poles"]):
        raise refuse("poles", repr(values["poles"]), "a whole number")
    return _core.machine_design(
        machine=_pairs(values),
        auxiliary=None if design.auxiliary_turns_ratio is None else _pairs(auxiliary),
        phases=apart["phases"],
        speeds=[_pairs(dataclasses.asdict(step)) for step in apart["speeds"]],
        load=_pairs(load),
        faults=[(name, float(severity)) for name, severity in apart["faults"]],
    )


def _pairs(values: Dict[str, Optional[float]]) -> List[Tuple[str, float]]:
    return [(name, float(value)) for name, value in values.items() if value is not None]
