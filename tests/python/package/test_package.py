# SPDX-License-Identifier: MIT
"""The package as such: version, public names, the hand-written stub. Source: the repository's own files."""

import ast
import doctest
import inspect
import pathlib
import re

import pytest

import rewound
from rewound import _core


def test_version_is_that_of_the_build(repository):
    text = (repository / "CMakeLists.txt").read_text(encoding="utf-8")
    assert rewound.__version__ == re.search(r"project\(rewound VERSION ([0-9.]+)", text).group(1)


def test_package_tells_type_checkers_that_it_is_typed():
    assert (pathlib.Path(rewound.__file__).parent / "py.typed").is_file()


def _public(names):
    return {name for name in names if not name.startswith("_")}


def test_stub_names_exactly_what_the_compiled_part_has():
    stub = pathlib.Path(rewound.__file__).with_name("_core.pyi").read_text(encoding="utf-8")
    body = ast.parse(stub).body
    functions = {node.name for node in body if isinstance(node, ast.FunctionDef)}
    classes = {node.name: node for node in body if isinstance(node, ast.ClassDef)}
    assert functions | set(classes) == _public(vars(_core))
    for name, node in classes.items():
        members = _public(item.name for item in node.body if isinstance(item, ast.FunctionDef))
        assert members == _public(vars(getattr(_core, name))), name


@pytest.mark.parametrize("name", sorted(set(rewound.__all__) - {"__version__"}))
def test_public_name_is_documented_under_the_package(name):
    thing = getattr(rewound, name)
    assert thing.__module__ == "rewound"
    assert inspect.getdoc(thing)


@pytest.mark.parametrize(
    "function",
    [
        rewound.fit_draw, rewound.load_record, rewound.judge, rewound.DrawFit.predict, rewound.Record.from_dict,
        rewound.fit_coast_down, rewound.project_heat_run, rewound.rise_by_resistance, rewound.resistance_at_switch_off,
        rewound.proven_starts, rewound.compare_positions, rewound.separate_no_load, rewound.unbalance_percent,
        rewound.unbalance_derating, rewound.compare_rolled_leads, rewound.CoastDown.speed_rpm,
        rewound.HeatProjection.interval, rewound.HeatProjection.probability_below,
    ],  # fmt: skip
)
def test_docstring_says_arguments_results_and_errors(function):
    text = inspect.getdoc(function)
    assert all(part in text for part in ("Parameters\n", "Returns\n", "Raises\n"))


def test_signatures_are_those_of_the_contract():
    assert list(inspect.signature(rewound.judge).parameters) == ["record", "reference", "earlier", "policy", "spread"]
    fit = inspect.signature(rewound.fit_draw).parameters
    assert list(fit) == [
        "voltage", "current", "rated_voltage_V", "model", "voltage_u_V", "current_u_A", "weights", "robust",
        "absolute_sigma", "threads", "rated_voltage", "voltage_u", "current_u",
    ]  # fmt: skip
    assert [p.kind for p in fit.values()].count(inspect.Parameter.KEYWORD_ONLY) == 11
    predict = inspect.signature(rewound.DrawFit.predict).parameters
    assert predict["level"].default == 0.95 and predict["new_reading"].default is True


def examples():
    """Those of every function, class and method, by its name."""
    things = {name: getattr(rewound, name) for name in rewound.__all__}
    for name, thing in list(things.items()):
        if inspect.isclass(thing):
            own = {key: value for key, value in vars(thing).items() if not key.startswith("_") and callable(value)}
            things.update({f"{name}.{key}": value for key, value in own.items()})
    found = {}
    for name, thing in things.items():
        text = inspect.getdoc(thing) or ""
        found[name] = doctest.DocTestParser().get_doctest(text, {"rewound": rewound}, name, None, None)
    return {name: example for name, example in found.items() if example.examples}


EXAMPLES = examples()


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_examples_of_the_documentation_run(name):
    assert doctest.DocTestRunner().run(EXAMPLES[name]).failed == 0


def test_there_are_examples():
    assert len(EXAMPLES) > 25 and {"judge_frame", "fit_draw", "DrawFit.profile", "HeatProjection.predict"} <= set(
        EXAMPLES
    )
