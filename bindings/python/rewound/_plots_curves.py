# SPDX-License-Identifier: MIT
"""Pictures of single curves by Matplotlib: readings, the curve through them and its band."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Mapping, Optional

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ._optional import pyplot
from ._plots import BAND, EXPECTED, FITTED, READING

if TYPE_CHECKING:
    from ._coasting import CoastDown
    from ._draw import DrawFit
    from ._heating import HeatProjection
    from ._insulation import AbsorptionFit

Array = NDArray[np.float64]


def plot_draw(
    fit: "DrawFit",
    curve: int,
    readings: Mapping[str, Array],
    band: Mapping[str, Array],
    words: str,
    ax: Any,
    keywords: Mapping[str, Any],
) -> Any:
    """One curve of a fit; see DrawFit.plot."""
    panel = _panel(ax)
    if not np.isnan(band["value"]).any():
        _curve(panel, band["voltage"], band["value"], band["low"], band["high"], words)
    panel.errorbar(
        readings["voltage"], readings["current"], xerr=readings.get("voltage_u"), yerr=readings.get("current_u"),
        elinewidth=1.0, label="readings", **{**READING, **keywords},
    )  # fmt: skip
    numbers = ", ".join(f"{name} {values[curve]:.4g}" for name, values in fit.values.items() if name != "exponent")
    title = f"{fit.models[curve].replace('_', ' ')}: {numbers}"
    return _finished(panel, "voltage [V]", "current [A]", title if np.isfinite(fit.chi2[curve]) else fit.status[curve])


def plot_absorption(
    fit: "AbsorptionFit", curve: int, times: Array, ohms: Array, level: float, ax: Any, keywords: Mapping[str, Any]
) -> Any:
    """One test of a fit; see AbsorptionFit.plot."""
    panel = _panel(ax)
    there = np.isfinite(times) & np.isfinite(ohms)
    if there.any():
        points = np.geomspace(times[there].min(), max(times[there].max(), 600.0), 61)
        value, low, high = (rows[curve] for rows in fit.predict(points, level))
        if not np.isnan(value).any():
            _curve(panel, points, value, low, np.where(np.isfinite(high), high, np.nan), f"{100 * level:g} %")
    panel.plot(times[there], ohms[there], label="readings", **{**READING, **keywords})
    panel.set(xscale="log", yscale="log")
    low, high = panel.get_xlim()
    panel.set_xticks([at for at in (15, 30, 60, 120, 300, 600, 1800) if low < at < high])
    panel.set_xticks([], minor=True)
    for axis in (panel.xaxis, panel.yaxis):
        axis.set_major_formatter("{x:g}")
    panel.yaxis.set_minor_formatter("{x:g}")
    return _finished(panel, "time [s]", "insulation resistance [Mohm]", fit.status[curve].replace("_", " "))


def plot_coast_down(run: "CoastDown", times: Array, speeds: Array, ax: Any, keywords: Mapping[str, Any]) -> Any:
    """One panel; see CoastDown.plot."""
    panel = _panel(ax)
    if run.status == "fitted":
        points = np.linspace(times[0], times[-1], 101)
        panel.plot(points, run.speed_rpm(points), label="friction", **FITTED)
    panel.plot(times, speeds, label="readings", **{**READING, **keywords})
    return _finished(panel, "time [s]", "speed [rpm]", run.status.replace("_", " "))


def plot_heat_run(run: "HeatProjection", times: Array, rises: Array, ax: Any, keywords: Mapping[str, Any]) -> Any:
    """One panel; see HeatProjection.plot."""
    panel = _panel(ax)
    title = run.status.replace("_", " ")
    if run.status == "projected":
        ahead = 3.0 * run.time_constants_s[0]  # after which 5 % of the way is left
        points = np.concatenate([np.linspace(times[0], times[-1], 13), times[-1] + np.linspace(0.0, ahead, 25)[1:]])
        value, low, high = run.predict(points)
        _curve(panel, points / 60.0, value, low, high, "95 %")
        panel.axhline(run.final_rise_K, label="final rise", **EXPECTED)
        title = f"final rise {run.final_rise_K:.1f} K ({run.low_K:.1f} to {run.high_K:.1f})"
    panel.plot(times / 60.0, rises, label="readings", **{**READING, **keywords})
    return _finished(panel, "time [min]", "rise [K]", title)


def _panel(ax: Any) -> Any:
    return pyplot().subplots(figsize=(5.4, 3.8), layout="constrained")[1] if ax is None else ax


def _curve(panel: Any, at: ArrayLike, value: Array, low: Array, high: Array, words: Optional[str]) -> None:
    if words and not np.isnan(low).all():
        panel.fill_between(at, low, high, label=words, **BAND)
    panel.plot(at, value, label="curve", **FITTED)


def _finished(panel: Any, horizontal: str, vertical: str, title: str) -> Any:
    panel.set(xlabel=horizontal, ylabel=vertical)
    panel.set_title(title, fontsize=9)
    panel.grid(True, color="0.9", linewidth=0.6)
    panel.set_axisbelow(True)
    panel.legend(fontsize=8)
    return panel
