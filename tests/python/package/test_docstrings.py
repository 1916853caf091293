# SPDX-License-Identifier: MIT
"""Every public function and method says its arguments, its result and its errors, in numpydoc's form."""

import inspect
import re

import pytest

import rewound


# These cannot fail, whatever they are given.
NEVER_RAISES = {
    "Record.to_dict",
    "Record.to_text",
    "Reference.to_text",
    "Result.to_dict",
    "Result.to_json",
    "Result.to_text",
    "Result.to_html",
    "blank_record",
    "default_policy",
    "sample_names",
    "show_versions",
    "Spread.to_text",
    "Trend.to_dict",
    "Trend.to_json",
    "Trend.to_text",
    "WhatIf.to_dict",
    "WhatIf.to_json",
    "WhatIf.to_text",
}


def public_callables():
    found = {}
    for name in rewound.__all__:
        thing = getattr(rewound, name)
        if inspect.isclass(thing):
            for attribute in dir(thing):
                method = getattr(thing, attribute)
                own = not attribute.startswith("_") and callable(method)
                if own and not hasattr(tuple, attribute) and not hasattr(Exception, attribute):
                    found[f"{name}.{attribute}"] = method
        elif callable(thing):
            found[name] = thing
    return found


CALLABLES = public_callables()


def arguments_of(name):
    try:
        parameters = inspect.signature(CALLABLES[name]).parameters
    except ValueError:
        return []
    return [parameter for parameter in parameters if parameter != "self"]


def section(text, title):
    """The lines under a head of a docstring, or None where it has no such head."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\S[^\n]*\n-+\n|\Z)", text, flags=re.MULTILINE | re.DOTALL)
    return None if found is None else found.group(1)


def test_the_list_of_callables_is_that_of_the_package():
    assert {"judge", "judge_frame", "Result.plot", "Reference.expected", "Record.from_dict"} <= set(CALLABLES)
    assert len(CALLABLES) > 40
    assert NEVER_RAISES <= set(CALLABLES)


@pytest.mark.parametrize("name", sorted(CALLABLES))
def test_every_argument_is_described(name):
    text = inspect.getdoc(CALLABLES[name])
    wanted = arguments_of(name)
    parameters = section(text, "Parameters") or ""
    described = [
        word
        for line in re.findall(r"^\**(\w[\w, ]*)(?: : .*)?$", parameters, re.MULTILINE)
        for word in line.split(", ")
    ]
    assert described == wanted or sorted(described) == sorted(wanted)


@pytest.mark.parametrize("name", sorted(CALLABLES))
def test_the_result_is_described(name):
    if name in ("Record.save", "Reference.save", "Result.save", "Spread.save", "show_versions"):  # writes
        assert inspect.signature(CALLABLES[name]).return_annotation == "None"
        return
    assert section(inspect.getdoc(CALLABLES[name]), "Returns")


@pytest.mark.parametrize("name", sorted(set(CALLABLES) - NEVER_RAISES))
def test_the_errors_are_described(name):
    raises = section(inspect.getdoc(CALLABLES[name]), "Raises")
    assert raises and re.search(r"^(InputError|PreconditionError|MissingPackageError|TypeError)$", raises, re.MULTILINE)


def test_a_docstring_without_a_section_is_found_out():
    assert section("Does it.\n\nReturns\n-------\nint\n", "Parameters") is None
    assert section(
        "Does it.\n\nParameters\n----------\nx : int\n    How.\n\nReturns\n-------\nint\n", "Parameters"
    ).startswith("x : int")
