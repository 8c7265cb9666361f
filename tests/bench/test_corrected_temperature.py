"""Slope and inverse of a thermometer's corrections, against their closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from flowunc import (
    CorrectionTable,
    EmergentStem,
    Quantity,
    RangeError,
    Scale,
    Temperature,
    Thermometer,
    limits,
)
from flowunc.bench.corrected_temperature import reading_at, slope_at

TABLE = CorrectionTable(
    points=Temperature([0, 10, 40], "degC"), corrections=Quantity([0.0, 0.5, -1.0], "K")
)
STEM = EmergentStem(
    stem_temperature=Temperature(20, "degC"),
    surface=Temperature(5, "degC"),
    coefficient=Quantity(0.001, "1/K"),
)


def thermometer(*corrections: Quantity | CorrectionTable | EmergentStem) -> Thermometer:
    return Thermometer(Scale(0.1, "degC"), limits(0.1), correction=corrections or None)


def test_slope_of_a_table_and_of_a_stem() -> None:
    readings = np.array([5.0, 20.0, 40.0])
    found = slope_at(thermometer(TABLE), readings)
    assert found == pytest.approx([1 + 0.05, 1 - 0.05, 1 - 0.05], rel=1e-9)
    # k (t - t_surface)(t - t_stem): derivative k (2 t - t_surface - t_stem), to the step of 1 mK
    found = slope_at(thermometer(STEM), readings[1:])
    assert found == pytest.approx(1 + 0.001 * np.array([15.0, 55.0]), abs=2e-6)
    assert slope_at(thermometer(Quantity(-0.3, "K")), readings).tolist() == [1.0] * 3


@pytest.mark.parametrize(
    ("corrections", "readings"),
    [
        ((), [5.0, 20.0]),
        ((Quantity(-0.3, "K"),), [5.0, 20.0]),
        ((TABLE,), [0.0, 3.0, 10.0, 25.0, 40.0]),
        ((STEM,), [5.0, 25.0, 70.0]),
        ((TABLE, Quantity(0.2, "K"), STEM), [6.0, 25.0, 39.9]),
    ],
)
def test_what_is_read_at_a_temperature_reads_that_temperature(
    corrections: tuple[Quantity | CorrectionTable | EmergentStem, ...], readings: list[float]
) -> None:
    one = thermometer(*corrections)
    kelvin = np.asarray(one.read(readings)._node.value)
    assert reading_at(one, kelvin) == pytest.approx(readings, abs=1e-8)


def test_a_temperature_beyond_the_table_is_refused() -> None:
    with pytest.raises(RangeError, match="lies outside the calibrated points, 0 to 40 degC"):
        reading_at(thermometer(TABLE), np.array([273.15 + 45]))
