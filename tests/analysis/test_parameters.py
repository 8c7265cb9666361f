"""Units of fitted parameters."""

from __future__ import annotations

import pytest

from flowunc.analysis import fit_line
from flowunc.core.quantity import Quantity
from flowunc.core.statements import standard


@pytest.mark.parametrize(
    ("x_unit", "y_unit", "slope_unit", "in_si"),
    [
        ("mm", "s", "s/mm", 1000.0),
        ("mm", "mm", "1", 1.0),
        ("1", "Pa", "Pa", 1.0),
        ("L/min", "Pa", "Pa/(L/min)", 60_000.0),
        ("mPa s", "L/min", "L/min/(mPa s)", 1 / 60.0),
        ("cm", "mm", "mm/cm", 0.1),
        ("K", "kg/m^3", "kg/m^3/K", 1.0),
    ],
)
def test_slope_has_the_unit_of_the_quotient(
    x_unit: str, y_unit: str, slope_unit: str, in_si: float
) -> None:
    x = Quantity([1.0, 2.0, 3.0], x_unit)
    y = Quantity([2.0, 5.0, 8.0], y_unit, standard(0.1))
    fit = fit_line(x, y)
    assert fit.slope.unit == slope_unit
    assert fit.slope.value == pytest.approx(3.0)
    assert fit.slope.si.value == pytest.approx(3.0 * in_si)
    assert fit.intercept.unit == y_unit
    assert fit.intercept.value == pytest.approx(-1.0)
    # u(slope) = u/sqrt(S_xx), S_xx = 2
    assert fit.slope.u == pytest.approx(0.1 / 2**0.5)
    at = fit.predict(Quantity(4.0, x_unit))
    assert (at.value, at.unit) == (pytest.approx(11.0), y_unit)
