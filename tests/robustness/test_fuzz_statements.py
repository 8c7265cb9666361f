"""Arguments of any type and size: an uncertainty that is a number, or a reason."""

from __future__ import annotations

import inspect

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowunc import (
    FlowuncError,
    Length,
    Quantity,
    Ratio,
    Temperature,
    arcsine,
    error_limit,
    expanded,
    exponential,
    iec_60751,
    limits,
    percent_of_full_scale,
    percent_of_reading,
    repeated,
    shared,
    standard,
    trapezoidal,
    triangular,
)

FUZZ = settings(derandomize=True, max_examples=400, deadline=None, database=None)
STATEMENTS = [
    limits, standard, expanded, triangular, arcsine, trapezoidal, exponential, repeated,
    percent_of_reading, percent_of_full_scale, error_limit, iec_60751, shared,
]  # fmt: skip
# Sizes beyond 1e+-150 have tests of their own in test_edges.py.
ANY = st.one_of(
    st.sampled_from(
        [
            0, 1, -1, 0.5, 2, 3, 1e100, -1e100, 1e-100, np.nan, np.inf, -np.inf, "x", "5", b"1",
            None, True, 1 + 1j, {}, (), [], [1, 2], [1], (1, 2), [[1, 2], [3, 4]], [1, None],
            [True, 1], [1, "2"], range(3), np.array(1), np.array([]), np.array([1.0, np.nan]),
            np.float32(1.5), np.int8(3), np.datetime64("2020-01-01"), object(),
            np.ma.array([1, 2], mask=[0, 1]), len, Length(1, "m"),
            limits(0.1), "wire-wound", "A",
        ]
    ),
    st.floats(-1e100, 1e100),
    st.lists(st.floats(-1e6, 1e6), max_size=4),
)  # fmt: skip
UNITS = st.sampled_from([None, "mm", "m", "kg", "1", "%", "degC", "", 5, "m^9999", b"mm", "K"])
KINDS = st.sampled_from([(Length, "mm"), (Quantity, "kg*m"), (Temperature, "degC"), (Ratio, "1")])
VALUES = st.sampled_from([0, 1.5, [1, 2], [3], 1e100, 1e-100])


@FUZZ
@given(st.data(), st.sampled_from(STATEMENTS), KINDS, VALUES)
def test_any_argument_is_an_uncertainty_or_refused(answer, data, function, kind, value):
    parameters = inspect.signature(function).parameters.values()
    given_ = [p for p in parameters if p.kind is not p.KEYWORD_ONLY and p.name != "unit"]
    positional = [data.draw(ANY) for _ in given_]
    unit = [data.draw(UNITS)] if "unit" in inspect.signature(function).parameters else []
    options = {
        p.name: data.draw(ANY)
        for p in parameters
        if p.kind is p.KEYWORD_ONLY and (p.default is p.empty or data.draw(st.booleans()))
    }

    def made():
        quantity = kind[0](value, kind[1], function(*positional, *unit, **options))
        return quantity, quantity.u, quantity.dof, quantity.interval(), str(quantity)

    found, error = answer(made)
    if error is None:
        quantity, u, dof, (low, high), _ = found
        assert np.all(np.isfinite(u))
        assert np.all(np.asarray(u) >= 0)
        assert np.all(np.asarray(dof) > 0)
        assert np.all(np.asarray(low) <= quantity.value)
        assert np.all(quantity.value <= np.asarray(high))
    else:
        assert isinstance(error, FlowuncError)


@pytest.mark.parametrize("trials", [0, 1, -5, 2.5, "many", None, True, np.nan, np.inf])
@pytest.mark.parametrize("name", ["trials", "max_trials"])
def test_numbers_of_trials(answer, name, trials):
    x = Length(1.0, "m", limits(0.1))
    options = {"digits": 1} if name == "max_trials" else {}
    _, error = answer(lambda: x.monte_carlo(**{name: trials}, **options))
    assert isinstance(error, FlowuncError)
