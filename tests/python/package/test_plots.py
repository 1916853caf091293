# SPDX-License-Identifier: MIT
"""What pictures show, that keywords reach Matplotlib, and that nothing of a picture is cut off."""

import datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose

import rewound

matplotlib = pytest.importorskip("matplotlib")
matplotlib.use("Agg")
from matplotlib import dates as mdates  # noqa: E402
from matplotlib import pyplot  # noqa: E402


@pytest.fixture(autouse=True)
def closed():
    yield
    pyplot.close("all")


@pytest.fixture(scope="module")
def trend():
    return rewound.trend(rewound.sample_record(f"gh12_{year}") for year in range(2021, 2026))


@pytest.fixture(scope="module")
def heat_run():
    return rewound.project_heat_run([0, 1200, 2400, 3600, 4800], [0.0, 18.0, 30.2, 39.0, 45.1], rise_u_K=0.3)


@pytest.fixture(scope="module")
def draw():
    volts = np.array([[115.0, 150.0, 184.0, 207.0, 230.0], [115.0, 150.0, np.nan, 207.0, 230.0]])
    amps = np.array([[0.2, 0.27, 0.34, 0.38, 0.43], [0.3, 0.4, np.nan, 0.57, 0.65]])
    return rewound.fit_draw(volts, amps, rated_voltage_V=230, model="power", current_u_A=0.02 * amps)


@pytest.fixture(scope="module")
def absorption():
    return rewound.fit_absorption([15, 30, 60, 120, 300], [110, 150, 203, 250, 310.0], test_voltage_V=500)


@pytest.fixture(scope="module")
def coast():
    return rewound.fit_coast_down([5, 7, 9, 11, 13, 15], [1400, 1106, 875, 684, 518, 370])


def by_label(panel):
    handles, labels = panel.get_legend_handles_labels()
    return dict(zip(labels, handles))


def test_a_draw_shows_readings_curve_and_band(draw):
    panel = draw.plot(curve=1, level=0.9, new_reading=False)
    shown = by_label(panel)
    assert_allclose(shown["readings"].lines[0].get_xdata(), [115, 150, 207, 230])
    curve = shown["curve"]
    value, low, high = draw.predict(curve.get_xdata(), 0.9, new_reading=False)
    assert_allclose(curve.get_ydata(), value[1])
    corners = shown["the curve, 90 %"].get_paths()[0].vertices
    assert_allclose([corners[:, 1].min(), corners[:, 1].max()], [low[1].min(), high[1].max()])
    bars = shown["readings"].lines[2][0].get_segments()
    assert_allclose(bars[0][:, 1], [0.3 * 0.98, 0.3 * 1.02])


def test_a_draw_without_curve_shows_its_readings_and_says_why():
    fit = rewound.fit_draw([100.0, 100.0], [1.0, 1.1], rated_voltage_V=100, model="power")
    panel = fit.plot()
    assert panel.get_title() == "singular" and list(by_label(panel)) == ["readings"]


def test_a_curve_that_is_not_there_is_refused(draw, absorption):
    for fit in (draw, absorption):
        for place in (2, -1, True, 0.5):
            with pytest.raises(rewound.PreconditionError, match="curve"):
                fit.plot(curve=place)


def test_a_trend_shows_its_line_the_band_and_where_it_crosses_the_minimum(trend):
    panel = trend.plot()[0]
    circuit, shown = trend.circuits[0], by_label(panel)
    last = datetime.date.fromisoformat(circuit["visits"][-1]["date"])

    def years(date):
        return (mdates.date2num(date) - mdates.date2num(last)) / 365.2425

    line = shown["line through the visits"]
    at = np.array([years(date) for date in line.get_xdata()])
    values = np.asarray(line.get_ydata(), dtype=float)
    # Between readings a straight line of the logarithm with the slope that is told.
    slopes = np.diff(np.log(values)) / np.diff(at)
    assert_allclose(slopes, circuit["log_slope_per_year"], rtol=1e-6)
    (crossing,) = shown["crosses the minimum"].get_xdata()
    assert years(crossing) == pytest.approx(circuit["forecast"]["years"])
    assert np.interp(years(crossing), at, np.log(values)) == pytest.approx(np.log(circuit["minimum_Mohm"]), abs=1e-6)
    ends = [years(end) for end in shown["crosses within, 95 %"].get_xdata()]
    assert ends == pytest.approx([circuit["forecast"]["earliest_years"], circuit["forecast"]["latest_years"]])
    assert "95 % of the line" in shown
    assert "crosses the minimum" not in by_label(trend.plot()[1])  # whose line does not


def test_a_heat_run_shows_its_curve_through_the_readings_and_on_to_the_final_rise(heat_run):
    panel = heat_run.plot()
    shown = by_label(panel)
    curve = shown["curve"]
    minutes, rises = np.asarray(curve.get_xdata()), np.asarray(curve.get_ydata())
    assert_allclose(np.interp([0, 20, 40, 60, 80], minutes, rises), [0.0, 18.0, 30.2, 39.0, 45.1], atol=0.6)
    assert minutes[-1] > 80 + 2.5 * heat_run.time_constants_s[0] / 60
    assert rises[-1] == pytest.approx(heat_run.final_rise_K, rel=0.06) and rises[-1] < heat_run.final_rise_K
    assert "95 %" in shown


def test_a_coast_down_is_drawn_from_its_first_reading(coast):
    shown = by_label(coast.plot())
    assert_allclose(shown["readings"].get_xdata(), [0, 2, 4, 6, 8, 10])
    assert_allclose(shown["friction"].get_ydata()[0], coast.initial_rpm)


def test_an_absorption_curve_reaches_ten_minutes(absorption):
    shown = by_label(absorption.plot())
    assert shown["curve"].get_xdata()[-1] == pytest.approx(600)
    assert shown["curve"].get_ydata()[-1] == pytest.approx(absorption.predict(600.0)[0][0])


def test_keywords_reach_matplotlib(draw, absorption, coast, heat_run, trend):
    for thing in (draw, absorption, coast, heat_run):
        readings = by_label(thing.plot(color="tab:orange", markersize=9))["readings"]
        line = readings.lines[0] if hasattr(readings, "lines") else readings
        assert line.get_color() == "tab:orange" and line.get_markersize() == 9
    visits = by_label(trend.plot(markersize=9)[0])["at 40 degC, 95 %"]
    assert visits.lines[0].get_markersize() == 9
    record = rewound.sample_record()
    panel = rewound.judge(record).plot(markersize=9)[0]
    assert by_label(panel)["readings"].get_markersize() == 9
    reference = rewound.learn([record])
    panel = reference.plot(color="tab:blue")[0]
    assert by_label(panel)["mean of good machines"].get_color() == "tab:blue"


def test_the_axes_given_are_drawn_on(draw, absorption, coast, heat_run):
    axes = pyplot.subplots(2, 2)[1].ravel()
    for thing, ax in zip((draw, absorption, coast, heat_run), axes):
        assert thing.plot(ax=ax) is ax
    with pytest.warns(DeprecationWarning, match="axes is now ax"):
        assert heat_run.plot(axes=axes[0]) is axes[0]


def everything(request):
    season = [rewound.simulate("circulator-40", seed=n) for n in range(1, 4)]
    reference = rewound.learn(season)
    faulty = rewound.simulate("circulator-40", fault={"shorted_turns": 0.1}, seed=19)
    yield "result", rewound.judge(faulty, reference).plot()[0].figure
    yield "alone", rewound.judge(rewound.sample_record()).plot()[0].figure
    yield "reference", reference.plot()[0].figure
    for name in ("draw", "absorption", "coast", "heat_run"):
        yield name, request.getfixturevalue(name).plot().figure
    yield "trend", request.getfixturevalue("trend").plot()[0].figure


def cut_off(figure):
    """Texts and legends that reach beyond the figure by more than a pixel."""
    figure.canvas.draw()
    whole = figure.bbox
    artists = list(figure.texts) + list(figure.legends) + [figure._suptitle] * (figure._suptitle is not None)
    for panel in figure.axes:
        artists += [panel.title, panel.xaxis.label, panel.yaxis.label, *panel.texts]
        for axis in (panel.xaxis, panel.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in [*axis.get_major_ticks(), *axis.get_minor_ticks()]:
                if low <= tick.get_loc() <= high and tick.label1.get_text():
                    artists.append(tick.label1)
        artists += [panel.get_legend()] * (panel.get_legend() is not None)
    out = []
    for artist in artists:
        box = artist.get_window_extent()
        if box.x0 < whole.x0 - 1 or box.x1 > whole.x1 + 1 or box.y0 < whole.y0 - 1 or box.y1 > whole.y1 + 1:
            out.append((artist, box))
    assert len(artists) > 4
    return out


def test_nothing_is_cut_off(request):
    found = {name: cut_off(figure) for name, figure in everything(request)}
    assert {name: cut for name, cut in found.items() if cut} == {}


def test_what_is_cut_off_is_found():
    figure, panel = pyplot.subplots()
    panel.set_title("far too long " * 20)
    assert cut_off(figure)
