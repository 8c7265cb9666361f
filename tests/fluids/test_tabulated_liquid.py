"""A table of entries against the liquids they were taken from, computed by CoolProp."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from flowunc import (
    Density,
    DimensionError,
    DynamicViscosity,
    FlowuncError,
    KinematicViscosity,
    Length,
    Quantity,
    RangeError,
    ShapeError,
    StatementError,
    Temperature,
    limits,
    percent_of_reading,
    reynolds_number,
    second_order,
    shared,
    standard,
)
from flowunc.fluids import TabulatedLiquid

CELSIUS = [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]


def computed(fluid: str, what: str, celsius: object) -> np.ndarray:
    return np.array(
        [PropsSI(what, "T", t + 273.15, "P", 2e5, fluid) for t in np.atleast_1d(celsius)]
    )


def liquid_of(fluid: str, celsius: object, *statements: object) -> TabulatedLiquid:
    return TabulatedLiquid(
        Temperature(celsius, "degC"),
        Density(computed(fluid, "D", celsius), "kg/m^3", *statements),
        DynamicViscosity(computed(fluid, "V", celsius), "Pa*s", *statements),
        label=fluid,
    )


def table(**change: object) -> dict[str, object]:
    """An invented oil."""
    return {
        "temperature": Temperature([10, 20, 30, 40], "degC"),
        "density": Density([871, 864, 857, 850], "kg/m^3", shared(limits(2))),
        "viscosity": DynamicViscosity([61, 37, 24, 16.4], "mPa*s", shared(percent_of_reading(2))),
    } | change


@pytest.mark.parametrize("fluid", ["Water", "Ethanol", "n-Dodecane", "Toluene", "Methanol"])
@pytest.mark.parametrize("spacing", [20, 10, 5])
def test_liquid_between_the_entries(fluid: str, spacing: int) -> None:
    entries = np.arange(0, 61, spacing)
    at = np.linspace(0.0, 60.0, 241)
    liquid, temperature = liquid_of(fluid, entries), Temperature(at, "degC")
    # a straight line would miss 2 % of the viscosity of water at 20 K, a quarter of it at half
    # the distance; the maximum of the density of water is what a monotone curve meets worst
    close = {20: (4e-4, 6e-3), 10: (2e-4, 1.2e-3), 5: (2e-5, 2e-4)}[spacing]
    for found, what, most in (
        (liquid.density(temperature), "D", close[0]),
        (liquid.viscosity(temperature), "V", close[1]),
    ):
        expected = computed(fluid, what, at)
        # inside the limits everywhere; 1e-6 is for places where the curvature changes its sign
        departure = np.abs(found.value - expected)
        assert (departure <= found.u * math.sqrt(3) + 1e-6 * expected).all()
        assert (departure / expected).max() < most


def test_limits_shrink_with_the_square_of_the_spacing() -> None:
    at = Temperature(32.5, "degC")  # half-way between entries of both
    coarse, fine = (liquid_of("Ethanol", np.arange(25, 61, s)) for s in (15, 5))
    ratio = coarse.viscosity(at).u / fine.viscosity(Temperature(32.5, "degC")).u
    assert ratio == pytest.approx(9, rel=0.15)


def test_entries_are_met_without_interpolation_error() -> None:
    found = liquid_of("Ethanol", CELSIUS)
    temperature = Temperature(CELSIUS, "degC")
    np.testing.assert_allclose(
        found.density(temperature).value, computed("Ethanol", "D", CELSIUS), rtol=1e-14
    )
    np.testing.assert_allclose(
        found.viscosity(temperature).value, computed("Ethanol", "V", CELSIUS), rtol=1e-13
    )
    np.testing.assert_allclose(found.density(temperature).u, 0.0, atol=1e-12)
    np.testing.assert_allclose(found.viscosity(temperature).u, 0.0, atol=1e-15)


def test_derivative_to_temperature() -> None:
    # for entries every 2 K the slope of the curve is that of the liquid
    liquid = liquid_of("Ethanol", np.arange(0, 61, 2))
    temperature = Temperature(33, "degC", standard(0.1))
    for found, what in ((liquid.density(temperature), "D"), (liquid.viscosity(temperature), "V")):
        low, high = computed("Ethanol", what, [32.95, 33.05])
        assert found.covariance(temperature) / 0.01 == pytest.approx((high - low) / 0.1, rel=2e-3)


def test_shared_statement_is_one_error_behind_the_table() -> None:
    liquid = liquid_of("Ethanol", CELSIUS, shared(percent_of_reading(1)))
    entries = liquid.density(Temperature(CELSIUS, "degC"))
    np.testing.assert_allclose(entries.u / entries.value, 0.01 / math.sqrt(3), rtol=1e-9)
    ratio = entries[0] / entries[-1]
    assert ratio.u == pytest.approx(0.0, abs=1e-15)
    labels = {c.label for c in liquid.density(Temperature(25, "degC")).components}
    assert labels == {"Ethanol density", "Ethanol density, interpolation"}


def test_statement_per_entry_is_independent_between_entries() -> None:
    liquid = TabulatedLiquid(
        Temperature([0, 10, 20, 30], "degC"),
        Density([900, 890, 880, 870], "kg/m^3", standard(1)),  # straight: no interpolation error
        DynamicViscosity([40, 20, 10, 5], "mPa*s", standard(0.1)),  # straight in the logarithm
    )
    found = liquid.density(Temperature([0, 5, 10, 20], "degC"))
    # half-way u is 1/sqrt(2): the mean of two entries [JCGM 100, 5.1.2]
    np.testing.assert_allclose(found.u, [1.0, math.sqrt(0.5), 1.0, 1.0], rtol=1e-12)
    correlation = found.correlation(found)
    assert correlation[0, 1] == pytest.approx(math.sqrt(0.5), rel=1e-12)
    assert correlation[0, 2] == pytest.approx(0.0, abs=1e-12)
    drawn = found.monte_carlo(20_000, seed=4)
    np.testing.assert_allclose(drawn.u, found.u, rtol=0.03)
    # geometric mean of 20 and 40; relative errors 0.5 % and 0.25 %, half of each
    middle = liquid.viscosity(Temperature(5, "degC")).to("mPa*s")
    assert middle.value == pytest.approx(math.sqrt(800), rel=1e-12)
    assert middle.u / middle.value == pytest.approx(math.hypot(0.0025, 0.00125), rel=1e-6)


def test_density_and_viscosity_have_their_own_errors_but_one_temperature() -> None:
    liquid = TabulatedLiquid(**table())
    fixed, warm = Temperature(23, "degC"), Temperature(23, "degC", standard(1))
    assert liquid.density(fixed).correlation(liquid.viscosity(fixed)) == 0.0
    assert 0.1 < liquid.density(warm).correlation(liquid.viscosity(warm)) < 1.0
    # the same table stated anew is another batch
    again = TabulatedLiquid(**table(density=Density([871, 864, 857, 850], "kg/m^3", limits(2))))
    assert again.density(fixed).correlation(liquid.density(fixed)) == 0.0


def test_kinematic_entries() -> None:
    nu = KinematicViscosity([70.0, 42.8, 28.0, 19.3], "mm^2/s", shared(percent_of_reading(2)))
    liquid = TabulatedLiquid(**table(viscosity=nu))
    at = Temperature(20, "degC")
    kinematic, dynamic = liquid.kinematic_viscosity(at), liquid.viscosity(at)
    assert type(kinematic) is KinematicViscosity
    assert type(dynamic) is DynamicViscosity
    assert kinematic.to("mm^2/s").value == pytest.approx(42.8, rel=1e-12)
    assert dynamic.to("mPa*s").value == pytest.approx(42.8e-6 * 864 * 1e3, rel=1e-12)
    # limits of 2 % alone, and with 2 kg/m3 in 864
    assert kinematic.u / kinematic.value == pytest.approx(0.02 / math.sqrt(3), rel=1e-9)
    assert dynamic.u / dynamic.value == pytest.approx(
        math.hypot(0.02, 2 / 864) / math.sqrt(3), rel=1e-9
    )
    # one density in both
    assert (dynamic / kinematic / liquid.density(at)).u == pytest.approx(0.0, abs=1e-15)


def test_dynamic_entries_over_the_density() -> None:
    liquid = TabulatedLiquid(**table())
    at = Temperature([20, 25], "degC", limits(0.2))
    ratio = liquid.kinematic_viscosity(at) * liquid.density(at) / liquid.viscosity(at)
    np.testing.assert_allclose(ratio.value, 1.0, rtol=1e-14)
    np.testing.assert_allclose(ratio.u, 0.0, atol=1e-15)


def test_any_unit_of_temperature() -> None:
    fahrenheit = TabulatedLiquid(**table(temperature=Temperature([50, 68, 86, 104], "degF")))
    celsius = TabulatedLiquid(**table())
    for at in (Temperature(10, "degC"), Temperature(40, "degC"), Temperature(23, "degC")):
        expected = celsius.viscosity(at).value
        assert fahrenheit.viscosity(at).value == pytest.approx(expected, rel=1e-12)


def test_draws_beyond_the_table_go_on_straight() -> None:
    liquid = TabulatedLiquid(**table())
    drawn = liquid.viscosity(Temperature(10, "degC", standard(1))).monte_carlo(20_000, seed=5)
    assert drawn.not_finite == 0
    assert drawn.u == pytest.approx(
        liquid.viscosity(Temperature(10, "degC", standard(1))).u, rel=0.05
    )


def test_second_derivatives_are_known() -> None:
    made = TabulatedLiquid(**table()).viscosity(Temperature([12, 33], "degC", limits(0.2)))
    assert "linear value and u stand" in str(second_order(made))


def test_pickle() -> None:
    liquid = TabulatedLiquid(**table(), label="test oil")
    copy = pickle.loads(pickle.dumps(liquid))
    at = Temperature([12, 33], "degC")
    for name in ("density", "viscosity", "kinematic_viscosity"):
        made = getattr(liquid, name)(at)
        np.testing.assert_allclose((getattr(copy, name)(at) / made).u, 0.0, atol=1e-14)
        np.testing.assert_allclose((pickle.loads(pickle.dumps(made)) / made).u, 0.0, atol=1e-14)
    assert copy.label == "test oil"
    assert repr(copy) == "<test oil: 4 entries, 10 degC to 40 degC>"


def test_result_serves_the_pipe() -> None:
    liquid, at = TabulatedLiquid(**table()), Temperature(20, "degC", limits(0.5))
    re = reynolds_number(
        Quantity(0.5, "m/s"), Length(20, "mm"), liquid.density(at), liquid.viscosity(at)
    )
    assert re.value == pytest.approx(0.5 * 0.020 * 864 / 0.037, rel=1e-12)


@pytest.mark.parametrize(
    ("change", "error", "message"),
    [
        (
            {"temperature": [10, 20, 30, 40]},
            DimensionError,
            r"temperature=\[10.*\[10, 20, 30\], 'degC'",
        ),
        ({"density": [871, 864, 857, 850]}, DimensionError, r"density=.*Density\(\[871"),
        ({"viscosity": [61, 37, 24, 16.4]}, DimensionError, r"viscosity=.*DynamicViscosity\("),
        ({"viscosity": Density([1, 2, 3, 4], "kg/m^3")}, DimensionError, "Density.*DynamicVisc"),
        (
            {"temperature": Temperature([10, 20, 20, 40], "degC")},
            RangeError,
            "20 degC at entry 2 follows 20 degC; expected rising",
        ),
        (
            {"temperature": Temperature([40, 30, 20, 10], "degC")},
            RangeError,
            "30 degC at entry 1 follows 40 degC; .*sort all three",
        ),
        (
            {"temperature": Temperature([10, 20, 30, 40], "degC", limits(0.1))},
            StatementError,
            "has an uncertainty; expected the plain temperatures",
        ),
        ({"temperature": Temperature([10, 20], "degC")}, ShapeError, "2 entries; expected three"),
        ({"temperature": Temperature(10, "degC")}, ShapeError, "1 entries; expected three"),
        (
            {"density": Density([871, 864, 857], "kg/m^3")},
            ShapeError,
            "density.*3 entries for 4 temperatures",
        ),
        ({"density": Density(871, "kg/m^3")}, ShapeError, "density.*one value for 4 temperatures"),
        (
            {"density": Density([871, 864, -857, 850], "kg/m^3")},
            RangeError,
            r"-857 kg/m\^3 at entry 2; expected numbers above 0",
        ),
        (
            {"viscosity": DynamicViscosity([61, 0, 24, 16], "mPa*s")},
            RangeError,
            r"0 mPa\*s at entry 1",
        ),
        ({"label": ""}, RangeError, "label=''.*expected text"),
        ({"label": 7}, RangeError, "label=7.*expected text"),
    ],
)
def test_tables_that_are_refused(
    change: dict[str, object], error: type[FlowuncError], message: str
) -> None:
    with pytest.raises(error, match=message):
        TabulatedLiquid(**table(**change))


def test_nan_is_refused() -> None:
    with pytest.raises(RangeError, match="NaN or infinity at reading 1"):
        table(density=Density([871, math.nan, 857, 850], "kg/m^3"))


@pytest.mark.parametrize("name", ["density", "viscosity", "kinematic_viscosity"])
class TestArguments:
    @pytest.mark.parametrize("celsius", [9.9, 40.1])
    def test_never_extrapolated(self, name: str, celsius: float) -> None:
        ask = getattr(TabulatedLiquid(**table(), label="test oil"), name)
        with pytest.raises(
            RangeError,
            match=rf"{celsius} degC; expected 10 to 40 degC, the range of the table of test oil: "
            "a table is not extrapolated",
        ):
            ask(Temperature(celsius, "degC"))

    def test_other_kinds_are_refused(self, name: str) -> None:
        ask = getattr(TabulatedLiquid(**table()), name)
        with pytest.raises(DimensionError, match=rf"TabulatedLiquid\.{name}.*int 20.*'degC'"):
            ask(20)

    def test_shapes_and_labels(self, name: str) -> None:
        ask = getattr(TabulatedLiquid(**table(), label="test oil"), name)
        assert isinstance(ask(Temperature(20, "degC")).value, float)
        assert ask(Temperature([20], "degC")).value.shape == (1,)
        assert ask(Temperature([20, 21, 40], "degC", limits(0.1))).u.shape == (3,)
        assert ask(Temperature(20, "degC")).label == f"test oil {name.replace('_', ' ')}"
