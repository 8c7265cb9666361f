import math

import numpy as np
import pandas as pd
import pytest

from flowunc import RangeError
from flowunc.core.display.frames import rounded_table


def lines(shown):
    return [line.split() for line in str(shown).splitlines()]


def test_a_value_ends_with_the_last_digit_of_its_uncertainty():
    # [JCGM 100, 7.2.6]: 10.057 62 ohm with u = 27 milliohm becomes 10.058 ohm
    frame = pd.DataFrame({"value": [10.05762, 1000.0], "u": [0.027, 28.05]})
    head, _, *rows = lines(rounded_table(frame, uncertainty_of={"value": "u"}))
    assert head == ["value", "u"]
    assert rows == [["10.058", "0.027"], ["1000", "28"]]


@pytest.mark.parametrize("partner", ["U(Re)", "u(Re)", "u_Re", "Re_u"])
def test_uncertainties_are_known_by_their_names(partner):
    frame = pd.DataFrame({"Re": [1334.71], partner: [56.9]})
    assert lines(rounded_table(frame))[-1] == ["1335", "57"]


def test_uncertainties_from_elsewhere():
    frame = pd.DataFrame({"low": [0.067612, 0.5], "high": [0.13134, 0.6]})
    shown = rounded_table(frame, uncertainty_of={"low": [0.0159, np.nan], "high": 0.0159})
    assert lines(shown)[2:] == [["0.068", "0.131"], ["0.5", "0.600"]]


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (0.095901257, "0.0959"),
        (24035.4, "24035"),
        (1.234567e9, "1.235e+09"),
        (-0.0, "0"),
        (math.nan, "-"),
        (math.inf, "inf"),
        (1e-300, "1e-300"),
    ],
)
def test_other_numbers_have_four_digits(number, text):
    assert lines(rounded_table(pd.DataFrame({"x": [number]})))[-1] == [text]


def test_formats():
    frame = pd.DataFrame({"E_n": [-0.22799], "share": [0.63361], "p": [0.012345], "n": [0.5]})
    shown = rounded_table(frame, formats={"p": 2, "n": ".3f"})
    assert lines(shown)[-1] == ["-0.23", "63.4%", "0.012", "0.500"]


def test_cells_that_are_no_numbers():
    frame = pd.DataFrame(
        {"yes": [True, False], "count": [3, 1_000_000], "text": ["two\n lines", None], "x": "é<"}
    )
    assert lines(rounded_table(frame))[2:] == [
        ["yes", "3", "two", "lines", "é<"],
        ["no", "1000000", "-", "é<"],
    ]


@pytest.mark.parametrize(("count", "left_out"), [(1, 0), (40, 0), (41, 11), (100_000, 99_970)])
def test_many_lines_are_left_out_in_the_middle(count, left_out):
    frame = pd.DataFrame({"x": np.arange(count, dtype=float)})
    shown = rounded_table(frame, index="reading")
    assert (f"{left_out} of {count} lines not shown" in str(shown)) == bool(left_out)
    assert len(shown.rows) == (31 if left_out else count)
    assert shown.rows[0] == ("0", "0")
    assert shown.rows[-1][0] == str(count - 1)


def test_no_lines_at_all():
    assert str(rounded_table(pd.DataFrame({"x": [], "y": []}))).splitlines()[0] == "x  y"


@pytest.mark.parametrize(
    "options",
    [{"formats": {"y": 2}}, {"uncertainty_of": {"y": 1.0}}, {"uncertainty_of": {"x": "y"}}],
)
def test_a_column_that_is_not_there_is_refused(options):
    with pytest.raises(RangeError, match=r"no column 'y'; expected some of \['x'\]"):
        rounded_table(pd.DataFrame({"x": [1.0]}), **options)
