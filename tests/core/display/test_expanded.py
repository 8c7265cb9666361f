import pickle

import numpy as np
import pytest
from scipy import stats

from flowunc import Length, Quantity, repeated, standard
from flowunc.core.display.expanded import Expanded


def test_it_is_printed_rounded_and_stays_a_tuple():
    found = Length([19.04, 19.06, 19.05], "mm", standard(0.02)).mean().expanded()
    U, k = found
    assert (U, k) == (found.U, found.k)
    # 1.96 * 0.02/sqrt(3) = 0.02263
    assert str(found) == f"{found}" == "U = 0.023, k = 1.96"
    assert repr(found) == f"Expanded(U={U!r}, k={k!r})"
    again = pickle.loads(pickle.dumps(found))
    assert again == found
    assert isinstance(again, Expanded)


def test_few_degrees_of_freedom():
    bore = Length(19.05, "mm", repeated([19.04, 19.06, 19.05]))
    k = stats.t.ppf(0.975, 2)
    # s = 0.01 of three readings
    assert str(bore.expanded()) == f"U = {k * 0.01 / np.sqrt(3):.3f}, k = {k:.2f}"


@pytest.mark.parametrize(
    ("widths", "text"),
    [
        ([0.1], "U = [0.10], k = 2.00"),
        ([0.1, 130.0], "U = [0.10, 130], k = 2.00"),
        (np.arange(1, 9) / 10, "U = [0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80], k = 2.00"),
        (np.arange(1_000_000.0), "U = [0, 1.0, 2.0, ..., 1000000, 1000000, 1000000], k = 2.00"),
    ],
)
def test_many_readings_are_left_out_in_the_middle(widths, text):
    assert str(Expanded(np.array(widths), np.full(len(widths), 2.0))) == text


def test_different_coverage_factors_and_no_uncertainty():
    assert str(Expanded(np.array([1.0, 2.0]), np.array([2.262, 1.96]))) == (
        "U = [1.0, 2.0], k = 1.96 to 2.26"
    )
    assert str(Quantity(1, "m").expanded()) == "U = 0, k = 1.96"
