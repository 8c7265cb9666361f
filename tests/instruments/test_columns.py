"""Zero readings of two columns: an offset and a drift, one for a set of readings."""

import math
import pickle

import numpy as np
import pytest

from flowunc.core.errors import ShapeError
from flowunc.core.kinds import Acceleration, Angle, Density, Length
from flowunc.core.statements import limits, shared
from flowunc.instruments import InclinedManometer, Scale

# With these, a millimetre of head is a conventional mmH2O: 9.80665 Pa [NIST SP 811, B.8].
EXACT = {
    "density": Density(1000, "kg/m^3"),
    "gravity": Acceleration(9.80665, "m/s^2"),
    "air_density": Density(0, "kg/m^3"),
}
MMH2O = 9.80665


def manometer():
    return InclinedManometer(Scale(1, "mm"), angle=Angle(90, "deg"))


def labels(quantity):
    return [component.label for component in quantity.components]


def test_drift_of_the_zero_is_half_its_change_either_way():
    offset = manometer().zero_offset([(300.0, 300.0), (303.0, 300.0)])
    assert isinstance(offset, Length)
    assert offset.to("mm").value == pytest.approx(1.5)
    drift = offset.components[-1]
    assert (drift.label, drift.scope) == ("manometer zero drift", "shared")
    assert drift.distribution.half_width == pytest.approx(1.5e-3, rel=1e-12)
    # variance in mm^2: four readings of 1/12 and weight 1/2 each, and 1.5^2 / 3
    assert offset.to("mm").u == pytest.approx(math.sqrt(1 / 12 + 0.75), rel=1e-12)


def test_a_zero_that_stayed_has_no_drift():
    offset = manometer().zero_offset([(300.5, 300.0), (301.0, 300.5)])
    assert labels(offset) == [
        "manometer resolution, zero before, high column",
        "manometer resolution, zero before, low column",
        "manometer resolution, zero after, high column",
        "manometer resolution, zero after, low column",
    ]


@pytest.mark.parametrize("zero", [(300.5, 300.0), [(300.5, 300.0)], np.array([[300.5, 300.0]])])
def test_one_zero_pair_is_an_offset_without_drift(zero):
    offset = manometer().zero_offset(zero).to("mm")
    assert offset.value == pytest.approx(0.5)
    assert labels(offset)[0] == "manometer resolution, zero, high column"
    assert offset.u == pytest.approx(1 / math.sqrt(6), rel=1e-12)


def test_the_zero_is_one_error_for_the_set():
    given = EXACT | {"zero": [(300.0, 300.0), (303.0, 300.0)]}
    drop = manometer().pressure_drop(high=[320.0, 340.0], low=[280.0, 260.0], **given)
    assert drop.u == pytest.approx([math.sqrt(2 / 12 + 1 / 12 + 0.75) * MMH2O] * 2, rel=1e-12)
    assert (drop[1] - drop[0]).u == pytest.approx(math.sqrt(4 / 12) * MMH2O, rel=1e-12)


def test_zeros_of_two_sets_are_independent_and_one_offset_ties_two_calls():
    instrument = manometer()
    one = EXACT | {"zero": (300.0, 300.0)}
    apart = [instrument.pressure_drop(high=320.0, low=280.0, **one) for _ in range(2)]
    assert (apart[0] - apart[1]).u == pytest.approx(math.sqrt(8 / 12) * MMH2O, rel=1e-12)
    tied = EXACT | {"zero": instrument.zero_offset((300.0, 300.0))}
    both = [instrument.pressure_drop(high=320.0, low=280.0, **tied) for _ in range(2)]
    assert (both[0] - both[1]).u == pytest.approx(math.sqrt(4 / 12) * MMH2O, rel=1e-12)


@pytest.mark.parametrize("capillarity", [limits(4), shared(limits(4))])
def test_a_meniscus_is_one_error_however_often_its_reading_is_used(capillarity):
    instrument = InclinedManometer(Scale(1, "mm"), angle=Angle(90, "deg"), capillarity=capillarity)
    read = {"high": instrument.read([320.0, 330.0]), "low": instrument.read([280.0, 270.0])}
    given = EXACT | {"zero": instrument.zero_offset((300.0, 300.0))}
    first, again = (instrument.pressure_drop(**read, **given) for _ in range(2))
    assert (first - again).u.tolist() == [0, 0]
    other = pickle.loads(pickle.dumps(instrument))
    alone = {name: reading[1] for name, reading in read.items()}
    assert (other.pressure_drop(**alone, **given) - first[1]).u < 1e-12


def test_menisci_of_two_columns_and_of_two_readings_are_apart():
    instrument = InclinedManometer(Scale(1, "mm"), angle=Angle(90, "deg"), capillarity=limits(4))
    level = instrument.read([300.0, 300.0])
    drop = instrument.pressure_drop(high=level, low=level, **EXACT | {"zero": (300.0, 300.0)})
    # the very reading for both columns: its own error cancels, the two menisci do not; those of
    # the zero and its resolution are in both readings
    u = drop.u / MMH2O
    assert u == pytest.approx([math.sqrt(4 * 16 / 3 + 2 / 12)] * 2, rel=1e-12)
    assert (drop[1] - drop[0]).u / MMH2O == pytest.approx(math.sqrt(4 * 16 / 3), rel=1e-12)


@pytest.mark.parametrize(
    "zero",
    [
        5.0,
        (1.0, 2.0, 3.0),
        [(1.0, 2.0)] * 3,
        [(1.0,), (2.0, 3.0)],
        ("300", "301"),
        (True, False),
        [],
        (Length(1, "mm"), Length(1, "mm")),
    ],
)
def test_what_is_no_zero_is_refused(zero):
    with pytest.raises(ShapeError, match=r"manometer: zero=.*expected \(high, low\), or"):
        manometer().pressure_drop(high=320.0, low=280.0, **EXACT | {"zero": zero})
