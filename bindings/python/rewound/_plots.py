# SPDX-License-Identifier: MIT
"""Pictures by Matplotlib; line style and marker carry the meaning, so that they can be read without colour."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any, Dict, List, Mapping, Optional, Sequence, Tuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import _core
from ._errors import refuse
from ._optional import dates_of_axes, pyplot

if TYPE_CHECKING:
    from ._heating import HeatProjection
    from ._judging import Result

Array = NDArray[np.float64]
_BAND = {"facecolor": "0.88", "edgecolor": "0.6", "linewidth": 0.6}
_EXPECTED = {"color": "0.25", "linestyle": "--", "linewidth": 1.2}
_READING = {"color": "black", "marker": "o", "markersize": 5, "linestyle": "none"}
_OUT = {"color": "black", "marker": "x", "markersize": 8, "markeredgewidth": 1.8, "linestyle": "none"}
_AT_REST = {"color": "black", "marker": "v", "markersize": 6, "markerfacecolor": "white", "linestyle": "none"}
_PANEL_INCHES = (3.2, 3.0)


def plot_result(
    result: "Result",
    record: Mapping[str, Any],
    reference: Optional[_core.Reference],
    earlier: Optional[_core.Record],
    axes: Any,
) -> Any:
    """A panel a speed of a judged record; see Result.plot."""
    runs = [run for run in record["run_up"] if run.get("leads", "as_marked") == "as_marked"]
    panels = _panels(axes, len(runs), sharey=True)
    rows = {row["speed"]: row for row in result.draw}
    for i, (run, panel) in enumerate(zip(runs, panels)):
        row = rows.get(run["speed"], {})
        _expectation(panel, run, row, record["machine"], reference, earlier)
        _readings(panel, run, [s["index"] for s in result.suspect_readings if s["speed"] == run["speed"]])
        _label(panel, f"{run['speed']}\n{_level_words(row)}", first=i == 0 or axes is not None)
    _suspect_readings(runs, panels, result.suspect_readings)
    _finish(panels, f"{record['machine']['id']}, visit of {record['visit']['date']}: {result.decision}", axes)
    return panels


def plot_reference(reference: _core.Reference, voltage: Optional[ArrayLike], level: float, axes: Any) -> Any:
    """A panel a speed of a reference; see Reference.plot."""
    rated = reference.rated_voltage_V
    points = np.linspace(0.5 * rated, 1.1 * rated, 61) if voltage is None else np.asarray(voltage, dtype=np.float64)
    bands = {speed: reference.expected(speed, points, level=level) for speed in reference.speeds}
    panels = _panels(axes, len(bands), sharey=True)
    for i, ((speed, band), panel) in enumerate(zip(bands.items(), panels)):
        _band(panel, points, band, "mean of good machines", f"one more machine, {100 * level:g} %")
        panel.axvline(rated, color="0.5", linestyle=":", linewidth=1.0, label="rated voltage")
        _label(panel, speed, first=i == 0 or axes is not None)
    count = reference.machines
    _finish(panels, f"{reference.model}: {count} good machine{'' if count == 1 else 's'}", axes)
    return panels


def plot_trend(circuits: Sequence[Mapping[str, Any]], machine: str, axes: Any) -> Any:
    """A panel a circuit; see Trend.plot."""
    panels = _panels(axes, len(circuits), sharey=False)
    mdates = dates_of_axes()
    for i, (circuit, panel) in enumerate(zip(circuits, panels)):
        visits = circuit["visits"]
        for in_line, look, words in ((True, _READING, "at 40 degC, 95 %"), (False, _AT_REST, "of an earlier winding")):
            of_kind = [visit for visit in visits if visit["in_line"] == in_line]
            if of_kind:
                _visits(panel, of_kind, look, words)
        panel.axhline(circuit["minimum_Mohm"], color="0.25", linestyle="--", linewidth=1.2, label="minimum")
        panel.set_yscale("log")
        panel.yaxis.set_major_formatter("{x:g}")
        panel.xaxis.set_major_locator(mdates.AutoDateLocator(minticks=2, maxticks=5))
        panel.set_title(circuit["circuit"], fontsize=10)
        panel.set_xlabel("date")
        panel.tick_params(axis="x", rotation=35)
        if i == 0 or axes is not None:
            panel.set_ylabel("insulation resistance [Mohm]")
    _finish(panels, f"{machine}: insulation over visits", axes)
    return panels


def plot_heat_run(run: "HeatProjection", times: Array, rises: Array, axes: Any) -> Any:
    """One panel; see HeatProjection.plot."""
    panel = pyplot().subplots(figsize=(5.0, 3.4))[1] if axes is None else axes
    panel.plot(times / 60.0, rises, label="readings", **_READING)
    title = run.status.replace("_", " ")
    if run.status == "projected":
        panel.axhspan(run.low_K, run.high_K, label="final rise, 95 %", **_BAND)
        panel.axhline(run.final_rise_K, label="final rise", **_EXPECTED)
        title = f"final rise {run.final_rise_K:.1f} K ({run.low_K:.1f} to {run.high_K:.1f})"
    panel.set(xlabel="time [min]", ylabel="rise [K]", title=title)
    panel.grid(True, color="0.9", linewidth=0.6)
    panel.set_axisbelow(True)
    panel.legend(fontsize=8, loc="lower right")
    return panel


def _visits(panel: Any, visits: List[Mapping[str, Any]], look: Mapping[str, Any], words: str) -> None:
    dates = [datetime.date.fromisoformat(visit["date"]) for visit in visits]
    values = np.array([visit["at_40_C_Mohm"] for visit in visits])
    spread = np.array([[visit[side] for visit in visits] for side in ("low", "high")], dtype=np.float64)
    panel.errorbar(dates, values, yerr=np.abs(spread - values), capsize=3, elinewidth=1.0, label=words, **look)


def _panels(axes: Any, count: int, sharey: bool) -> Any:
    """The axes given, one a panel, or new ones beside each other."""
    if axes is None:
        width, height = _PANEL_INCHES
        size = (max(width * count, width) + 0.6, height + 1.1)
        figure, grid = pyplot().subplots(1, max(count, 1), sharey=sharey, squeeze=False, figsize=size)
        return grid[0]
    given = np.atleast_1d(np.asarray(axes, dtype=object)).ravel()
    if len(given) != count:
        raise refuse("axes", f"{len(given)} axes", f"{count}, one a panel")
    return given


def _expectation(
    panel: Any,
    run: Mapping[str, Any],
    row: Mapping[str, Any],
    machine: Mapping[str, Any],
    reference: Optional[_core.Reference],
    earlier: Optional[_core.Record],
) -> None:
    judged_by = row.get("judged_by")
    points = _span(run["voltage_V"])
    if judged_by == "reference" and reference is not None:
        band = reference.expected(run["speed"], points)
        _band(panel, points, band, "good machines", "one healthy machine, 95 %")
    elif judged_by == "earlier" and earlier is not None:
        band = _core.expected_later(earlier, run["speed"], points, 0.95, 0.0, 0.0)
        _band(panel, points, band, "earlier visit", "unchanged machine, 95 %")
    elif judged_by in ("nameplate", "nameplate_ceiling") and "rated_current_A" in machine:
        marked = machine["rated_current_A"]
        look: Dict[str, Any] = {"marker": "D", "markersize": 9, "markerfacecolor": "white", "color": "0.25", "linestyle": "none"}
        panel.plot([machine["rated_voltage_V"]], [marked], label="marked current, of the fastest speed", **look)


def _band(panel: Any, points: Array, band: Tuple[Array, Array, Array], mean: str, spread: str) -> None:
    value, low, high = band
    panel.fill_between(points, low, high, label=spread, **_BAND)
    panel.plot(points, value, label=mean, **_EXPECTED)


def _readings(panel: Any, run: Mapping[str, Any], suspects: List[int]) -> None:
    volts = np.asarray(run["voltage_V"], dtype=np.float64)
    amps = _amps(run)
    turning = np.asarray(run.get("turning", np.ones(len(volts))), dtype=bool)
    out = np.zeros(len(volts), dtype=bool)
    out[suspects] = True
    for chosen, look, words in ((turning & ~out, _READING, "readings"), (~turning & ~out, _AT_REST, "rotor at rest")):
        if np.any(chosen):
            panel.plot(volts[chosen], amps[chosen], label=words, **look)


def _suspect_readings(runs: Sequence[Mapping[str, Any]], panels: Any, suspects: Sequence[Mapping[str, Any]]) -> None:
    """Suspect readings over what the other readings set the scale to; those far off it stand at its edge."""
    shown = [(run, panel, s) for run, panel in zip(runs, panels) for s in suspects if s["speed"] == run["speed"]]
    for run, panel, suspect in shown:
        low, high = panel.get_ylim()
        amps = _amps(run)[suspect["index"]]
        if low - (high - low) < amps < high + (high - low):
            margin = 0.08 * (high - low)
            panel.set_ylim(min(low, amps - margin), max(high, amps + margin))
    for run, panel, suspect in shown:
        low, high = panel.get_ylim()
        volts, amps = run["voltage_V"][suspect["index"]], _amps(run)[suspect["index"]]
        edge = 0.04 * (high - low)
        at = min(max(amps, low + edge), high - edge)
        words = suspect["explanation"].replace("_", " ")
        if at == amps:
            panel.plot([volts], [amps], label="suspect reading", **_OUT)
        else:
            look: Dict[str, Any] = {**_OUT, "marker": "^" if amps > high else "v"}
            panel.plot([volts], [at], label="suspect reading, off the scale", **look)
            words = f"{amps:.4g} A: {words}"
        below, left = at > 0.5 * (low + high), volts > np.mean(panel.get_xlim())
        panel.annotate(
            words, (volts, at), xytext=(-8 if left else 8, 0), textcoords="offset points", fontsize=8,
            ha="right" if left else "left", va="top" if below else "bottom",
        )  # fmt: skip


def _amps(run: Mapping[str, Any]) -> Array:
    """Currents of a run-up [A]; of three lines the mean."""
    amps = np.asarray(run["current_A"], dtype=np.float64)
    return np.asarray(amps.mean(axis=0)) if amps.ndim == 2 else amps


def _span(volts: Sequence[float]) -> Array:
    """Voltages a little beyond the readings, above 0."""
    low, high = float(np.min(volts)), float(np.max(volts))
    margin = 0.03 * (high - low) + 0.005 * high
    return np.linspace(max(low - margin, 0.02 * high), high + margin, 61)


def _level_words(row: Mapping[str, Any]) -> str:
    outcome = str(row.get("outcome", "")).replace("_", " ")
    if row.get("level_percent") is None:
        return outcome
    return f"{row['level_percent']:+.1f} % ({row['level_low']:+.1f} to {row['level_high']:+.1f}), {outcome}"


def _label(panel: Any, title: str, first: bool) -> None:
    panel.set_title(title, fontsize=9)
    panel.set_xlabel("voltage [V]")
    if first:
        panel.set_ylabel("current [A]")


def _finish(panels: Any, title: str, axes: Any) -> None:
    """Grid in each panel; a figure of our own gets its title and one legend for all panels."""
    shown: Dict[str, Any] = {}
    for panel in panels:
        panel.grid(True, color="0.9", linewidth=0.6)
        panel.set_axisbelow(True)
        handles, labels = panel.get_legend_handles_labels()
        shown.update(zip(labels, handles))
        if axes is not None and labels:
            panel.legend(fontsize=8)
    if axes is not None or len(panels) == 0:
        return
    figure = panels[0].figure
    figure.suptitle(title, fontsize=11)
    if shown:
        figure.legend(shown.values(), shown.keys(), loc="lower center", ncol=min(len(shown), 5), fontsize=8, frameon=False)
    figure.tight_layout(rect=(0.0, 0.09, 1.0, 1.0))
