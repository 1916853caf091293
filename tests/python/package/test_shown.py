# SPDX-License-Identifier: MIT
"""Frames, pictures and HTML of results. Source: the results' own dicts."""

import re
import sys
import xml.etree.ElementTree

import matplotlib
import numpy as np
import pandas as pd
import pytest

import rewound

matplotlib.use("Agg")


@pytest.fixture(scope="module")
def reference():
    return rewound.learn(rewound.simulate("circulator-40", seed=n) for n in range(1, 5))


@pytest.fixture(scope="module")
def visit():
    """A visit with a slip of the pen: one current ten times too high, and one reading before the rotor turned."""
    values = rewound.simulate("circulator-40", seed=9).to_dict()
    values["run_up"][1]["current_A"][3] *= 10.0
    return rewound.Record.from_dict(values)


@pytest.fixture(scope="module")
def result(visit, reference):
    return rewound.judge(visit, reference)


@pytest.fixture(scope="module")
def trend(repository):
    folder = repository / "reference" / "records" / "good"
    return rewound.trend(rewound.load_record(folder / f"gh12_{year}.toml") for year in range(2021, 2026))


@pytest.fixture(autouse=True)
def closed_figures():
    yield
    from matplotlib import pyplot

    pyplot.close("all")


def test_attributes_are_parts_of_the_dict(result):
    whole = result.to_dict()
    for name in ("causes", "next_measurements", "abnormality", "suspect_readings"):
        assert getattr(result, name) == whole[name]
    assert result.abnormality > 0.0 and result.causes and result.next_measurements


@pytest.mark.parametrize("part", ["findings", "draw", "suspect_readings", "causes", "next_measurements"])
def test_frame_has_every_plain_value_of_the_part(result, part):
    frame = result.to_frame(part)
    rows = getattr(result, part)
    assert len(frame) == len(rows) > 0
    nested = {key for row in rows for key, value in row.items() if isinstance(value, (dict, list, tuple))}
    for i, row in enumerate(rows):
        for key, value in row.items():
            if key in nested:
                assert key not in frame.columns
            elif value is None:
                assert pd.isna(frame.loc[i, key])
            else:
                assert frame.loc[i, key] == value


def test_frame_of_nothing_keeps_its_columns_and_another_part_is_refused(demo):
    clean = rewound.judge(demo).to_frame("suspect_readings")
    assert len(clean) == 0 and list(clean.columns)[:2] == ["speed", "index"]
    with pytest.raises(rewound.PreconditionError, match="one of findings"):
        rewound.judge(demo).to_frame("finding")


def test_frames_of_trend_and_what_if(trend, demo):
    frame = trend.to_frame()
    assert len(frame) == sum(len(circuit["visits"]) for circuit in trend.circuits)
    assert list(frame["at_40_C_Mohm"])[0] == trend.circuits[0]["visits"][0]["at_40_C_Mohm"]
    assert frame["date"].dt.year.min() == 2021
    changes = rewound.whatif(demo, turns_factor=1.05)
    frame = changes.to_frame()
    assert len(frame) == len(changes.changes)
    assert frame.loc[0, "current_percent"] == changes.changes[0]["current"]["percent"]


def lines_of(panel):
    return {line.get_label(): line for line in panel.get_lines()}


def test_plot_shows_readings_and_marks_the_suspect_one(result, visit):
    panels = result.plot()
    runs = visit.to_dict()["run_up"]
    assert len(panels) == len(runs) == 3
    (suspect,) = result.suspect_readings
    for run, panel in zip(runs, panels):
        assert panel.get_xlabel() == "voltage [V]"
        shown = lines_of(panel)
        amps = np.array(run["current_A"])
        out = np.zeros(len(amps), dtype=bool)
        if run["speed"] == suspect["speed"]:
            out[suspect["index"]] = True
            edge = shown["suspect reading, off the scale"]
            assert edge.get_marker() == "^" and 0.0 < edge.get_ydata()[0] < panel.get_ylim()[1] < amps[out][0]
        else:
            assert not any(label.startswith("suspect") for label in shown)
        assert list(shown["readings"].get_ydata()) == list(amps[~out])
    assert panels[0].get_ylabel() == "current [A]"
    assert [text.get_text() for text in panels[1].texts] == [f"{suspect['read']:.4g} A: decimal slipped"]


def test_a_suspect_reading_near_the_others_stands_where_it_was_read(visit, reference):
    values = visit.to_dict()
    values["run_up"][1]["current_A"][3] = 1.3 * values["run_up"][1]["current_A"][4]
    result = rewound.judge(rewound.Record.from_dict(values), reference)
    (suspect,) = result.suspect_readings
    shown = lines_of(result.plot()[1])["suspect reading"]
    assert (suspect["index"], list(shown.get_ydata())) == (3, [suspect["read"]])
    assert shown.get_marker() == "x"


def test_plot_shows_the_reference_it_was_judged_by(result, reference):
    for panel, row in zip(result.plot(), result.draw):
        curve = lines_of(panel)["good machines"]
        value, low, high = reference.expected(row["speed"], curve.get_xdata())
        np.testing.assert_allclose(curve.get_ydata(), value)
        corners = panel.collections[0].get_paths()[0].vertices[:, 1]
        assert 0.98 * low.min() < corners.min() <= low.min()  # the reading's own uncertainty is in it
        assert high.max() <= corners.max() < 1.02 * high.max()


def test_plot_shows_the_limits_that_the_judgement_used(visit, reference):
    limits = {"reference_level_percent": {"value": 12.0, "source": "invented, wide"}}
    wide = rewound.judge(visit, reference, policy={"format": "rewound-policy/1", "limits": limits})
    usual = rewound.judge(visit, reference)
    heights = [np.ptp(each.plot()[0].collections[0].get_paths()[0].vertices[:, 1]) for each in (usual, wide)]
    assert heights[1] > 1.1 * heights[0]


def test_plot_beside_an_earlier_visit_and_beside_a_nameplate(demo, demo_dict):
    demo_dict["visit"]["date"] = "2025-05-14"
    earlier = rewound.judge(demo, earlier=rewound.Record.from_dict(demo_dict)).plot()
    band = lines_of(earlier[0])["earlier visit"]
    at_rated = np.interp(230.0, band.get_xdata(), band.get_ydata())
    assert at_rated == pytest.approx(0.421, rel=0.01)
    marked = lines_of(rewound.judge(demo).plot()[0])["marked current, of the fastest speed"]
    assert (list(marked.get_xdata()), list(marked.get_ydata())) == ([230.0], [0.42])


def test_lines_and_markers_differ_without_colour(result):
    looks = [(line.get_linestyle(), line.get_marker()) for line in result.plot()[1].get_lines()]
    assert len(looks) == len(set(looks)) == 4


def test_reference_plot_shows_its_band(reference):
    panels = reference.plot(level=0.9)
    assert [panel.get_title() for panel in panels] == reference.speeds
    curve = lines_of(panels[0])["mean of good machines"]
    np.testing.assert_allclose(curve.get_ydata(), reference.expected("high", curve.get_xdata())[0])
    assert lines_of(reference.plot(voltage=[100.0, 200.0])[0])["mean of good machines"].get_xdata().tolist() == [
        100.0,
        200.0,
    ]


def test_trend_plot_shows_values_and_minimum(trend):
    panels = trend.plot()
    assert len(panels) == len(trend.circuits)
    assert panels[0].get_yscale() == "log" and panels[0].get_ylabel() == "insulation resistance [Mohm]"
    assert lines_of(panels[0])["minimum"].get_ydata()[0] == trend.circuits[0]["minimum_Mohm"]


def test_heat_run_plot_shows_readings_and_the_final_rise():
    run = rewound.project_heat_run([0, 2400, 4800, 7200], [0.0, 30.0, 45.0, 52.5], rise_u_K=0.3)
    panel = run.plot()
    shown = lines_of(panel)
    assert list(shown["readings"].get_xdata()) == [0.0, 40.0, 80.0, 120.0]
    assert shown["final rise"].get_ydata()[0] == run.final_rise_K
    assert (panel.get_xlabel(), panel.get_ylabel()) == ("time [min]", "rise [K]")
    short = rewound.project_heat_run([0, 2400], [0.0, 30.0], rise_u_K=0.3).plot()
    assert short.get_title() == "too few readings" and "final rise" not in lines_of(short)


def test_axes_of_ones_own_are_used_and_counted(result, reference):
    from matplotlib import pyplot

    _, axes = pyplot.subplots(1, 3)
    assert list(result.plot(axes)) == list(axes)
    for plot in (result.plot, reference.plot):
        with pytest.raises(rewound.PreconditionError, match="read 2 axes, allowed: 3"):
            plot(axes=axes[:2])


def test_plot_can_be_saved(result, tmp_path):
    result.plot()[0].figure.savefig(tmp_path / "result.png")
    assert (tmp_path / "result.png").stat().st_size > 10_000


def test_without_matplotlib_the_error_says_so(monkeypatch, result):
    monkeypatch.setitem(sys.modules, "matplotlib.pyplot", None)
    with pytest.raises(rewound.MissingPackageError, match="Matplotlib") as caught:
        result.plot()
    assert caught.value.field == "matplotlib"


def parsed(html):
    """The piece of HTML as a tree: it is well-formed, or this raises."""
    return xml.etree.ElementTree.fromstring(f"<all>{html.replace('<br>', '<br/>')}</all>")


def test_html_of_each_result_is_well_formed_and_short(result, reference, trend, demo):
    fit = rewound.fit_draw([[115.0, 184.0, 230.0]] * 30, [[0.21, 0.336, 0.42]] * 30, rated_voltage_V=230.0)
    shown = {
        "result": (result, [result.decision.upper(), result.reasons[0]]),
        "reference": (reference, ["circulator-40", "230 V, 50 Hz"]),
        "trend": (trend, ["GH-12", trend.circuits[0]["messages"][0]]),
        "what if": (rewound.whatif(demo, turns_factor=1.05), ["GH-07", "new winding on mains"]),
        "fit": (fit, ["DrawFit", "converged", "10 more not shown"]),
    }
    for name, (thing, words) in shown.items():
        text = re.sub(r"\s+", " ", "".join(parsed(thing._repr_html_()).itertext()))
        for word in words:
            assert re.sub(r"\s+", " ", word) in text, name
        assert len(thing._repr_html_()) < 20_000, name


def test_html_carries_the_cautions(result, trend, demo):
    for thing in (result, trend, rewound.whatif(demo, turns_factor=1.05)):
        text = "".join(parsed(thing._repr_html_()).itertext())
        cautions = thing.to_dict()["cautions"]
        assert cautions and all(caution in text for caution in cautions)


def test_html_escapes_what_a_record_says(demo_dict):
    demo_dict["machine"].update(id="<script>alert(1)</script>", model='a" & <b>')
    record = rewound.Record.from_dict(demo_dict)
    for thing in (rewound.judge(record), rewound.learn([record]), rewound.whatif(record)):
        html = thing._repr_html_()
        assert "<script>" not in html and "<b>" not in html
        parsed(html)
