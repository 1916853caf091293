# SPDX-License-Identifier: MIT
"""What fit_draw refuses, and how it says so. Source: its documentation."""

import numpy as np
import pytest

import rewound

V = [115.0, 180.0, 230.0]
I = [0.2, 0.33, 0.42]
NAN, INF = float("nan"), float("inf")


def refused(field, voltage=V, current=I, rated_voltage=230.0, **options):
    with pytest.raises(rewound.PreconditionError) as caught:
        rewound.fit_draw(voltage, current, rated_voltage_V=rated_voltage, **options)
    assert isinstance(caught.value, ValueError)
    assert (caught.value.code, caught.value.field) == ("precondition", field)
    assert caught.value.read and caught.value.allowed and "\n" not in str(caught.value)
    return caught.value


@pytest.mark.parametrize("bad", [0.0, -1.0, NAN, INF])
def test_reading_that_cannot_be_is_named(bad):
    assert refused("voltage[1]", voltage=[115.0, bad, 230.0]).allowed == "a finite number above 0"
    refused("current[2]", current=[0.2, 0.33, bad])


@pytest.mark.parametrize("bad", [0.0, -1.0, INF])
def test_reading_of_a_batch_is_named_by_curve_and_place(bad):
    refused("voltage[1, 0]", voltage=[V, [bad, 180.0, 230.0]], current=[I, I])
    error = refused("current[0, 2]", voltage=[V, V], current=[[0.2, 0.33, bad], I])
    assert error.read == f"{bad:g}"


@pytest.mark.parametrize("bad", [0.0, -230.0, NAN, INF])
def test_rated_voltage_that_cannot_be_is_refused(bad):
    refused("rated_voltage", rated_voltage=bad)
    refused("rated_voltage[1]", voltage=[V, V], current=[I, I], rated_voltage=[230.0, bad])


def test_uncertainty_that_cannot_be_is_refused():
    refused("current_u[1]", current_u_A=[0.01, 0.0, 0.01])
    refused("current_u[0]", current_u_A=-0.01)
    refused("voltage_u[2]", voltage_u_V=[1.0, 1.0, -1.0])
    refused("voltage_u[0]", voltage_u_V=NAN)
    refused("current_u[1, 1]", voltage=[V, V], current=[I, I], current_u_A=[[0.01] * 3, [0.01, INF, 0.01]])


def test_voltage_uncertainty_may_be_zero():
    fit = rewound.fit_draw(V, I, rated_voltage_V=230.0, voltage_u_V=0.0, current_u_A=0.004)
    assert fit.status == ["converged"]


@pytest.mark.parametrize("bad", [-1.0, NAN, INF])
def test_weight_that_cannot_be_is_refused(bad):
    refused("weights[0]", weights=[bad, 1.0, 1.0])


def test_weights_and_uncertainties_exclude_each_other():
    refused("weights", weights=[1.0, 1.0, 1.0], current_u_A=0.01)
    refused("weights", weights=[1.0, 1.0, 1.0], voltage_u_V=1.0)


def test_shapes_must_agree():
    error = refused("current", current=[0.2, 0.33])
    assert error.read == "shape (2,)" and error.allowed == "the voltage's shape (3,)"
    refused("current", voltage=[V, V], current=I)
    refused("weights", weights=1.0)
    refused("voltage_u", voltage_u_V=[1.0, 1.0])
    refused("rated_voltage", rated_voltage=[230.0, 230.0])
    refused("rated_voltage", voltage=[V, V], current=[I, I], rated_voltage=[[230.0, 230.0]])
    refused("voltage", voltage=230.0, current=0.42)
    refused("voltage", voltage=np.ones((1, 1, 2)), current=np.ones((1, 1, 2)))
    refused("current", voltage=[V, V], current=[I, I[:2]])


@pytest.mark.parametrize("bad", [["a", "b", "c"], [True, True, False], [1j, 2j, 3j], [None, 0.3, 0.4], None])
def test_values_that_are_no_real_numbers_are_refused(bad):
    assert refused("current", current=bad).allowed == "real numbers"


@pytest.mark.parametrize("threads", [0, -1, 1025])
def test_number_of_threads_that_cannot_be_is_refused(threads):
    refused("threads", threads=threads)


@pytest.mark.parametrize(
    "model, nearest",
    [("magnetizing", "magnetising"), ("log-quadratic", "log_quadratic"), ("Power", "power"), ("magnetising_loaded",
     "magnetising_load"), ("", None), ("spline", None)],
)  # fmt: skip
def test_unknown_model_is_refused_with_the_nearest_there_is(model, nearest):
    with pytest.raises(ValueError, match="one of auto, proportional, power, log_quadratic, magnetising, ") as caught:
        rewound.fit_draw(V, I, rated_voltage_V=230.0, model=model)
    assert isinstance(caught.value, rewound.InputError)
    assert (caught.value.code, caught.value.field) == ("not_a_choice", "model")
    assert caught.value.read == f'"{model}"' and "\n" not in str(caught.value)
    assert caught.value.allowed.startswith(f"did you mean {nearest}? " if nearest else "one of ")


def test_compiled_part_and_package_know_the_same_models():
    arrays = np.ones((1, 3)), np.ones((1, 3)), np.ones(1)
    rest = dict(voltage_u=None, current_u=None, absolute_sigma=False, weights=None, batch=True, robust=False, threads=1)
    with pytest.raises(rewound.InputError) as caught:
        rewound._core.fit_draw(*arrays, model="spline", **rest)
    with pytest.raises(rewound.InputError) as of_package:
        rewound.fit_draw(V, I, rated_voltage_V=230.0, model="spline")
    assert caught.value.allowed == of_package.value.allowed
    assert str(caught.value) == str(of_package.value)


def test_rated_voltage_must_be_said():
    with pytest.raises(TypeError, match="rated_voltage"):
        rewound.fit_draw(V, I)
    with pytest.raises(TypeError):
        rewound.fit_draw(V, I, 230.0)


def test_compiled_part_guards_its_own_borders():
    # The package prepares the arrays; whoever calls the compiled part directly gets an error and no crash.
    rest = dict(
        voltage_u=None,
        current_u=None,
        absolute_sigma=False,
        weights=None,
        batch=True,
        model="auto",
        robust=False,
        threads=1,
    )
    two = np.ones((2, 3))
    for voltage, current, rated in (
        (np.ones(3), np.ones(3), np.ones(1)),
        (two, np.ones((2, 2)), np.ones(2)),
        (two, two, np.ones(1)),
        (two, two, np.ones((2, 1))),
    ):
        with pytest.raises(rewound.PreconditionError):
            rewound._core.fit_draw(voltage, current, rated, **rest)
