import numpy as np
import pytest

from flowunc import Length, Ratio, Temperature, UnitError, VolumeFlowRate, standard


def flow(count, label="flow"):
    return VolumeFlowRate(0.8 + 0.4 * np.arange(count), "L/min", standard(0.041), label=label)


# u/abs(y) [JCGM 100, 5.1.6], by hand: 0.029/19.05 = 0.1522 %, 0.5/12 = 4.17 %, 0.041/0.8 =
# 5.125 %, 0.041/1.2 = 3.417 %
@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (Length(19.05, "mm", standard(0.029), label="bore"), "bore: 19.050 mm ± 0.15 %"),
        (Length(-19.05, "mm", standard(0.029)), "-19.050 mm ± 0.15 %"),
        (Ratio(12, "%", standard(0.5)), "12.00 % ± 4.2 % of it"),
        (Ratio(12, "1", standard(0.5)), "12.00 ± 4.2 %"),
        (Length(0, "mm", standard(0.5)), "0.00 mm (no relative u)"),
        (Length(5, "mm"), "5 mm"),
        (Length(1, "mm", standard(13)), "1 mm ± 1300 %"),
        (Length(1.2344e-6, "m", standard(5.6e-8)), "1.234e-06 m ± 4.5 %"),
        (flow(1), "flow (1 reading, L/min): 0.800 ± 5.1 %"),
        (flow(2, ""), "[0.800 ± 5.1 %, 1.200 ± 3.4 %] L/min"),
        (Temperature(20, "K", standard(0.1)), "20.00 K ± 0.50 %"),
    ],
)
def test_relative_uncertainty(quantity, text):
    assert f"{quantity:relative}" == text


def test_digits_and_unit():
    bore = Length(19.05, "mm", standard(0.029))
    assert f"{bore:relative:1}" == "19.05 mm ± 0.2 %"
    assert f"{bore:relative:3 in cm}" == "1.90500 cm ± 0.152 %"


@pytest.mark.parametrize("unit", ["degC", "°C", "degF"])
def test_a_scale_with_an_arbitrary_zero_has_no_percentage(unit):
    warm = Temperature(20, unit, standard(0.1))
    with pytest.raises(UnitError, match=r"arbitrary.*'K'"):
        format(warm, "relative")
    assert f"{warm:relative in K}".endswith(" %")


def test_what_is_not_defined_hides_no_other_reading():
    # u(sqrt(x)) = u(x)/(2 sqrt(x)): 0.01 at 1, 0.005 at 2
    roots = np.sqrt(Length([1.0, 0.0, 4.0], "m", standard(0.02)))
    assert f"{roots:relative}" == "[1.000 ± 1.0 %, 0 (u not defined), 2.0000 ± 0.25 %] m^(1/2)"


@pytest.mark.parametrize("count", [9, 11, 1000])
@pytest.mark.parametrize("label", ["flow", ""])
def test_many_readings_fit_a_line(count, label):
    text = f"{flow(count, label):relative}"
    assert len(text) <= 100
    assert text.count("...") == 1
    assert f"{count} readings" in text
