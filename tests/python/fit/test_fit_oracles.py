# SPDX-License-Identifier: MIT
"""fit_draw against published answers: NIST StRD DanWood, and Pearson's data with York's weights."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

import rewound
from curves import oracle_table


def test_weighted_power_fit_gives_the_certified_answer_of_danwood(repository):
    # NIST StRD nonlinear, DanWood: y = b1 x^b2, certified to 11 digits.
    folder = repository / "reference" / "oracles" / "nist_strd" / "nonlinear"
    named, rows = oracle_table(folder / "DanWood.txt")
    y, x = rows.T
    fit = rewound.fit_draw(x, y, rated_voltage_V=1.0, model="power", weights=np.ones_like(y))
    assert_allclose(fit.params[0], [0.76886226176, 3.8604055871], rtol=1e-10, atol=0)
    assert_allclose(fit.params[0], [named["b1"][2], named["b2"][2]], rtol=1e-10, atol=0)
    deviations = np.sqrt(np.diagonal(fit.covariance[0]))
    assert_allclose(deviations, [named["b1"][3], named["b2"][3]], rtol=1e-9, atol=0)
    assert_allclose(fit.chi2, float(named["residual_sum_of_squares"][0]), rtol=1e-9, atol=0)
    assert fit.degrees_of_freedom.tolist() == [4] and fit.status == ["converged"]


@pytest.mark.parametrize("rated", [0.5, 1.5, 230.0])
def test_danwood_exponent_does_not_depend_on_the_rated_voltage(repository, rated):
    folder = repository / "reference" / "oracles" / "nist_strd" / "nonlinear"
    _, rows = oracle_table(folder / "DanWood.txt")
    y, x = rows.T
    fit = rewound.fit_draw(x, y, rated_voltage_V=rated, weights=np.ones_like(y))
    # b1 x^b2 = (b1 rated^b2) (x / rated)^b2
    assert_allclose(fit.params[0], [0.76886226176 * rated**3.8604055871, 3.8604055871], rtol=1e-9, atol=0)


def test_fit_with_errors_in_both_coordinates_gives_yorks_line(repository):
    # York et al., Am. J. Phys. 72 (2004) 367: a straight line; exponentials of its points lie on a power law.
    named, rows = oracle_table(repository / "reference" / "oracles" / "pearson_york" / "pearson_york.txt")
    x, y, weight_x, weight_y = rows.T
    voltage, current = np.exp(x), np.exp(y)
    fit = rewound.fit_draw(
        voltage, current, rated_voltage_V=1.0, model="power",
        voltage_u_V=voltage / np.sqrt(weight_x), current_u_A=current / np.sqrt(weight_y),
    )  # fmt: skip
    intercept, intercept_u = map(float, named["intercept"])
    slope, slope_u = map(float, named["slope"])
    per_dof = float(named["chi2_per_dof"][0])
    assert_allclose(np.log(fit.params[0, 0]), intercept, rtol=1e-9, atol=0)
    assert_allclose(fit.params[0, 1], slope, rtol=2e-9, atol=0)  # published to 9 digits
    assert_allclose(fit.chi2, 8 * per_dof, rtol=1e-9, atol=0)
    # York's uncertainties are those stated, and u(a) = a u(ln a); beside a statement the scatter counts 8 in 12.
    expected = np.array([fit.params[0, 0] * intercept_u, slope_u])
    beside = np.sqrt((4 + 8 * per_dof) / 12)
    assert_allclose(np.sqrt(np.diagonal(fit.covariance[0])), expected * beside, rtol=2e-8, atol=0)
    absolute = rewound.fit_draw(
        voltage, current, rated_voltage_V=1.0, model="power", absolute_sigma=True,
        voltage_u_V=voltage / np.sqrt(weight_x), current_u_A=current / np.sqrt(weight_y),
    )  # fmt: skip
    assert_allclose(np.sqrt(np.diagonal(absolute.covariance[0])), expected, rtol=2e-8, atol=0)
