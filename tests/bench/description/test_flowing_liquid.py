"""Water with something in it, and what counts as a liquid."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    Length,
    RangeError,
    Ratio,
    Temperature,
    limits,
)
from flowunc.bench.description.flowing_liquid import FlowingLiquid, Mixture
from flowunc.fluids import TabulatedLiquid, water


def test_one_salinity_is_behind_all_runs_and_both_properties() -> None:
    sea = Mixture("seawater", Ratio(35, "g/kg", limits(5)))
    density = sea.density(Temperature([20, 20], "degC"))
    assert (density[1] - density[0]).u == 0.0
    assert "salinity" in {component.label for component in density.components}
    # more salt makes it denser and more viscous, and 5 g/kg outweigh the errors of the formulas
    warm = Temperature(20, "degC")
    assert sea.density(warm).correlation(sea.viscosity(warm)) > 0.3
    # some 0.76 kg/m^3 for each g/kg near 35 g/kg [UNESCO 44]
    assert density.u == pytest.approx(np.full(2, 0.76 * 5 / 3**0.5), rel=0.02)


@pytest.mark.parametrize(
    ("name", "content", "error", "expected"),
    [
        ("brine", Ratio(3, "%"), RangeError, "Mixture('brine'): expected one of seawater, glycer"),
        ("seawater", Ratio([3, 4], "%"), RangeError, "Mixture: 2 contents; expected one"),
        ("seawater", Length(3, "m"), DimensionError, "Mixture(content=...): got Length"),
        ("seawater", 0.035, DimensionError, "Mixture(content=...): got "),
    ],
)
def test_refusals(name: str, content: object, error: type[Exception], expected: str) -> None:
    with pytest.raises(error) as caught:
        Mixture(name, content)  # type: ignore[arg-type]
    assert str(caught.value).startswith(expected)


def test_a_liquid_is_what_has_density_and_viscosity() -> None:
    oil = TabulatedLiquid(
        Temperature([10, 20, 30], "degC"),
        Density([871, 864, 857], "kg/m^3"),
        DynamicViscosity([61, 37, 24], "mPa*s"),
    )
    assert isinstance(oil, FlowingLiquid)
    assert isinstance(Mixture("glycerol_water", Ratio(60, "%")), FlowingLiquid)
    assert isinstance(water, FlowingLiquid)
    assert not isinstance(Density(998, "kg/m^3"), FlowingLiquid)
