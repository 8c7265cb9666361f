"""The vessel: a volume on a graduated scale."""

import math

import pytest

from flowunc.core.errors import RangeError, UnitError
from flowunc.core.kinds import Volume
from flowunc.core.statements import limits
from flowunc.instruments import Scale, Vessel


def test_a_reading_is_a_volume():
    volume = Vessel(Scale(10, "mL", span=(0, 1000)), accuracy=limits(5)).read([0.0, 900.0])
    assert isinstance(volume, Volume)
    assert volume.unit == "mL"
    assert volume.value == pytest.approx([0.0, 900.0])
    # half a division and the limits of its class, 5 mL each [JCGM 100, 4.3.7]
    assert volume.u == pytest.approx([math.sqrt(50 / 3)] * 2, rel=1e-12)


def test_a_reading_below_zero_is_refused():
    with pytest.raises(RangeError, match=r"vessel at reading 1: -1 mL"):
        Vessel(Scale(1, "mL")).read([1.0, -1.0])


def test_a_scale_of_another_unit_is_refused():
    with pytest.raises(UnitError, match=r"vessel: scale in 'g'; expected a unit of volume"):
        Vessel(Scale(1, "g"))
