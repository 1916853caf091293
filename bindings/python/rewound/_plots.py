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
    from ._result import Result

Array = NDArray[np.float64]
Picture = Mapping[str, Any]  # of one speed, as _core.draw_pictures returns it
BAND = {"facecolor": "0.88", "edgecolor": "0.6", "linewidth": 0.6}
FITTED = {"color": "black", "linestyle": "-", "linewidth": 0.8}
_EXPECTED_BY = {
    "reference": ("good machines", "one healthy machine, 95 %"),
    "earlier": ("earlier visit", "unchanged machine, 95 %"),
}
EXPECTED = {"color": "0.25", "linestyle": "--", "linewidth": 1.2}
READING = {"color": "black", "marker": "o", "markersize": 5, "linestyle": "none"}
_OUT = {"color": "black", "marker": "x", "markersize": 8, "markeredgewidth": 1.8, "linestyle": "none"}
_AT_REST = {"color": "black", "marker": "v", "markersize": 6, "markerfacecolor": "white", "linestyle": "none"}
_CROSSING = {"color": "black", "marker": "D", "markersize": 7, "markerfacecolor": "white", "linestyle": "none"}
_PANEL_INCHES = (3.2, 3.0)


def plot_result(
    result: "Result",
    pictures: Sequence[Picture],
    beside: str,
    machine: Mapping[str, Any],
    axes: Any,
    keywords: Mapping[str, Any],
) -> Any:
    """A panel a speed of a judged record, beside a "reference" or an "earlier" visit; see Result.plot."""
    panels = _panels(axes, len(pictures), sharey=True)
    rows = {row["speed"]: row for row in result.draw}
    suspects = {(s["speed"], s["index"]): s for s in result.suspect_readings}
    for i, (picture, panel) in enumerate(zip(pictures, panels)):
        row = rows.get(picture["speed"], {})
        _curves(panel, picture, _EXPECTED_BY[beside], row, machine)
        _readings(panel, picture, keywords)
        _label(panel, f"{picture['speed']}\n{_level_words(row)}", first=i == 0 or axes is not None)
    _suspect_readings(pictures, panels, suspects)
    values = result.to_dict()
    _finish(panels, f"{values['machine']}, visit of {values['date']}: {result.decision}", axes)
    return panels


def plot_reference(
    reference: _core.Reference, voltage: Optional[ArrayLike], level: float, axes: Any, keywords: Mapping[str, Any]
) -> Any:
    """A panel a speed of a reference; see Reference.plot."""
    rated = reference.rated_voltage_V
    points = np.linspace(0.5 * rated, 1.1 * rated, 61) if voltage is None else np.asarray(voltage, dtype=np.float64)
    bands = {speed: reference.expected(speed, points, level=level) for speed in reference.speeds}
    panels = _panels(axes, len(bands), sharey=True)
    for i, ((speed, band), panel) in enumerate(zip(bands.items(), panels)):
        _band(panel, points, band, "mean of good machines", f"one more machine, {100 * level:g} %", keywords)
        panel.axvline(rated, color="0.5", linestyle=":", linewidth=1.0, label="rated voltage")
        _label(panel, speed, first=i == 0 or axes is not None)
    count = reference.machines
    _finish(panels, f"{reference.model}: {count} good machine{'' if count == 1 else 's'}", axes)
    return panels


def plot_trend(circuits: Sequence[Mapping[str, Any]], machine: str, axes: Any, keywords: Mapping[str, Any]) -> Any:
    """A panel a circuit; see Trend.plot."""
    panels = _panels(axes, len(circuits), sharey=False)
    mdates = dates_of_axes()
    for i, (circuit, panel) in enumerate(zip(circuits, panels)):
        visits = circuit["visits"]
        _line_of_visits(panel, circuit)
        for in_line, look, words in ((True, READING, "at 40 degC, 95 %"), (False, _AT_REST, "of an earlier winding")):
            of_kind = [visit for visit in visits if visit["in_line"] == in_line]
            if of_kind:
                _visits(panel, of_kind, {**look, **keywords}, words)
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


def _line_of_visits(panel: Any, circuit: Mapping[str, Any]) -> None:
    """The line through the visits with its band, on to a little beyond where all of it lies below the minimum, else as
    long again as the visits reach; and where it crosses."""
    line, forecast = circuit["line"], circuit["forecast"]
    if not line:
        return
    last = max(datetime.date.fromisoformat(visit["date"]) for visit in circuit["visits"] if visit["in_line"])
    latest, crosses = forecast["latest_years"], forecast["years"]
    ahead = 1.1 * latest if latest else 2.0 * crosses if crosses else -line[0]["years"]
    shown = [place for place in line if place["years"] <= max(ahead, 1.0)]
    dates = [_years_after(last, place["years"]) for place in shown]
    value, low, high = (
        np.array([place[name] for place in shown], dtype=np.float64) for name in ("at_40_C_Mohm", "low", "high")
    )
    panel.fill_between(dates, low, high, label="95 % of the line", **BAND)
    panel.plot(dates, value, label="line through the visits", **FITTED)
    if crosses is None or crosses <= 0.0:
        return
    minimum, at = circuit["minimum_Mohm"], _years_after(last, crosses)
    if forecast["earliest_years"] is not None:
        ends = [_years_after(last, forecast["earliest_years"]), _years_after(last, latest) if latest else dates[-1]]
        panel.plot(ends, [minimum, minimum], color="black", linestyle="-", linewidth=2.5, label="crosses within, 95 %")
    panel.plot([at], [minimum], label="crosses the minimum", **_CROSSING)


def _years_after(day: datetime.date, years: float) -> datetime.datetime:
    return datetime.datetime(day.year, day.month, day.day) + datetime.timedelta(days=365.2425 * years)


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


def _curves(
    panel: Any, picture: Picture, words: Tuple[str, str], row: Mapping[str, Any], machine: Mapping[str, Any]
) -> None:
    if picture["expected"] is not None:
        points, value, low, high = picture["expected"]
        _band(panel, points, (value, low, high), *words)
    elif row.get("judged_by") in ("nameplate", "nameplate_ceiling") and "rated_current_A" in machine:
        marked = machine["rated_current_A"]
        look: Dict[str, Any] = {
            "marker": "D",
            "markersize": 9,
            "markerfacecolor": "white",
            "color": "0.25",
            "linestyle": "none",
        }
        panel.plot([machine["rated_voltage_V"]], [marked], label="marked current, of the fastest speed", **look)
    if picture["fitted"] is not None:
        panel.plot(*picture["fitted"][:2], label="through the readings", **FITTED)


def _band(
    panel: Any,
    points: Array,
    band: Tuple[Array, Array, Array],
    mean: str,
    spread: str,
    keywords: Mapping[str, Any] = {},
) -> None:
    value, low, high = band
    panel.fill_between(points, low, high, label=spread, **BAND)
    panel.plot(points, value, label=mean, **{**EXPECTED, **keywords})


def _readings(panel: Any, picture: Picture, keywords: Mapping[str, Any]) -> None:
    at_rest, suspect = picture["at_rest"], picture["suspect"]
    kinds = ((~at_rest & ~suspect, READING, "readings"), (at_rest & ~suspect, _AT_REST, "rotor at rest"))
    for chosen, look, words in kinds:
        if np.any(chosen):
            panel.plot(picture["voltage_V"][chosen], picture["current_A"][chosen], label=words, **{**look, **keywords})


def _suspect_readings(
    pictures: Sequence[Picture], panels: Any, suspects: Mapping[Tuple[str, int], Mapping[str, Any]]
) -> None:
    """Suspect readings over what the other readings set the scale to; those far off it stand at its edge."""
    shown = [
        (panel, volts, amps, suspects[picture["speed"], index]["explanation"].replace("_", " "))
        for picture, panel in zip(pictures, panels)
        for index, volts, amps in zip(picture["index"], picture["voltage_V"], picture["current_A"])
        if (picture["speed"], index) in suspects
    ]  # fmt: skip
    for panel, _, amps, _ in shown:
        low, high = panel.get_ylim()
        if low - (high - low) < amps < high + (high - low):
            margin = 0.08 * (high - low)
            panel.set_ylim(min(low, amps - margin), max(high, amps + margin))
    for panel, volts, amps, words in shown:
        low, high = panel.get_ylim()
        edge = 0.04 * (high - low)
        at = min(max(amps, low + edge), high - edge)
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
    below = _legend_height(figure, shown) if shown else 0.0
    figure.tight_layout(rect=(0.0, below, 1.0, 1.0))


def _legend_height(figure: Any, shown: Mapping[str, Any]) -> float:
    """One legend for all panels along the lower edge, in as many columns as fit; its share of the figure's height."""
    for columns in range(min(len(shown), 5), 0, -1):
        legend = figure.legend(
            shown.values(), shown.keys(), loc="lower center", ncol=columns, fontsize=8, frameon=False
        )
        extent = legend.get_window_extent()
        if extent.width <= figure.bbox.width or columns == 1:
            return float(extent.height / figure.bbox.height)
        legend.remove()
    return 0.0
