"""The table of roughness against Moody's, and the components that it gives."""

import numpy as np
import pytest
from fluids.friction import material_roughness

from flowunc.core.errors import RangeError, StatementError
from flowunc.core.kinds import Length
from flowunc.instruments.roughness_table import ROUGHNESS, roughness_of

# [Moody 1944] lists feet; these are from memory
FEET = {
    "drawn tubing": 0.000005,
    "glass": 0.000005,
    "copper": 0.000005,
    "commercial steel": 0.00015,
    "wrought iron": 0.00015,
    "asphalted cast iron": 0.0004,
    "galvanised iron": 0.0005,
    "cast iron": 0.00085,
}


@pytest.mark.parametrize(("material", "feet"), FEET.items())
def test_values_are_those_of_moody_in_two_digits(material, feet):
    assert roughness_of(material).value == pytest.approx(
        Length(feet, "ft").to("mm").value, rel=0.03
    )


@pytest.mark.parametrize(
    ("material", "name"),
    [
        ("glass", "Glass"),
        ("asphalted cast iron", "Asphalted cast iron"),
        ("galvanised iron", "Galvanized iron"),
        ("cast iron", "Cast iron"),
    ],
)
def test_values_of_another_library(material, name):
    assert roughness_of(material).si.value == pytest.approx(material_roughness(name), rel=0.03)


# ranges of other authors, which the limits must reach into: fluids, after Idelchik
@pytest.mark.parametrize(
    ("material", "name"),
    [
        ("stainless steel", "Seamless tubes made from brass, copper, lead, aluminum, Commercially "
         "smooth"),
        ("commercial steel", "Seamless steel tubes, New and unused"),
        ("galvanised iron", "Galvanized steel tubes, Ordinary galvanization"),
        ("asphalted cast iron", "Cast-iron tubes, New, bituminized"),
    ],
)  # fmt: skip
def test_the_limits_meet_the_ranges_of_other_authors(material, name):
    low, high = (material_roughness(name, optimism=best) * 1e3 for best in (True, False))
    surface = ROUGHNESS[material]
    assert surface.value * (1 - surface.percent / 100) <= high
    assert surface.value * (1 + surface.percent / 100) >= low


@pytest.mark.parametrize("material", ROUGHNESS)
def test_every_line_gives_a_roughness_that_cannot_be_negative(material):
    found = roughness_of(material)
    (component,) = found.components
    assert found.unit == "mm"
    assert np.min(found.monte_carlo(2_000, seed=1).samples()) >= 0
    assert component.distribution.half_width / found.si.value == pytest.approx(
        ROUGHNESS[material].percent / 100
    )
    assert component.source.startswith(f"{material}, [")


def test_one_tube_is_one_surface_and_two_labels_are_two():
    assert (roughness_of("cast iron") - roughness_of("cast iron")).u == 0.0
    difference = roughness_of("cast iron", label="upper") - roughness_of("cast iron", label="lower")
    assert difference.u == pytest.approx(2**0.5 * roughness_of("cast iron").si.u)


def test_other_names():
    assert roughness_of("Acrylic").value == roughness_of("plastic").value
    assert roughness_of(" galvanized  steel").value == roughness_of("galvanised iron").value


@pytest.mark.parametrize(
    ("material", "match"),
    [
        ("cast irn", r"did you mean 'cast iron'\? For another one state Length"),
        ("cheese", r"expected one of glass, [\w ,]+\. For another one state Length"),
        (3, "3"),
    ],
)
def test_what_is_not_in_the_table(material, match):
    with pytest.raises(StatementError, match=match):
        roughness_of(material)


def test_a_label_is_a_name():
    with pytest.raises(RangeError, match="label=''"):
        roughness_of("glass", label="")
