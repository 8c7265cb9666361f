"""A curve through a table is written and read with checks: knots rise, pieces join."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from flowunc import PropagationError, Ratio, standard
from flowunc.core.errors import DocumentError
from flowunc.core.exchange import json_curves
from flowunc.core.exchange.json_text import from_json, to_json
from flowunc.core.piecewise_cubic import PiecewiseCubic
from flowunc.core.record import elementwise

# Written by hand: y = x^2 from 0 to 2 in two pieces, straight outside.
BY_HAND = """
{"format": "flowunc quantities", "version": 1, "holds": "quantity",
 "quantities": [{"kind": "Ratio", "unit": "1", "label": "", "step": 1}],
 "pools": [],
 "components": [
  {"key": "by hand: curve", "label": "x", "distribution": {"law": "normal", "u": 0.01},
   "unit": "1", "scope": "each", "evaluation": "B", "dof": "inf", "source": "", "role": ""}],
 "steps": [
  {"operation": "input", "value": [-1, 0.5, 1.5, 3], "terms": [{"component": 0, "gain": 1}]},
  {"operation": "piecewise_cubic", "inputs": [0], "label": "parabola", "knots": [0, 1, 2],
   "coefficients": [[0, 0, 1, 4], [0, 0, 2, 4], [0, 1, 1, 0], [0, 0, 0, 0]],
   "value": [0, 0.25, 2.25, 8]}]}
"""


def test_a_curve_written_by_hand():
    found = from_json(BY_HAND)
    # values and slopes 2 x of the parabola; 0 before it, and 4 + 4 (x - 2) behind it
    np.testing.assert_allclose(found.value, [0, 0.25, 2.25, 8], rtol=1e-15)
    np.testing.assert_allclose(found.u, [0, 0.01, 0.03, 0.04], rtol=1e-14)


def test_a_curve_that_is_read_is_the_one_of_scipy():
    knots, values = np.array([280.0, 285, 300, 310]), np.array([5.0, 3, 2.9, 3.4])
    x = Ratio(np.linspace(281, 309, 40), "1", standard(0.1))
    curve = PiecewiseCubic.through("thing", knots, values)
    made = Ratio._from_node(elementwise(curve, x._node))
    back = from_json(to_json(made))
    scipy = PchipInterpolator(knots, values)
    np.testing.assert_allclose(back.value, scipy(x.value), rtol=1e-13)
    np.testing.assert_allclose(back.u, 0.1 * np.abs(scipy.derivative()(x.value)), atol=1e-13)
    assert (back - made).u.max() == 0.0
    drawn = [each.monte_carlo(500, seed=2).samples() for each in (made, back)]
    assert drawn[0].tobytes() == drawn[1].tobytes()


def changed(field: str, new: Any) -> str:
    document = json.loads(BY_HAND)
    document["steps"][1][field] = new
    return json.dumps(document)


LINES = [[0, 0, 1, 4], [0, 0, 2, 4], [0, 1, 1, 0], [0, 0, 0, 0]]


@pytest.mark.parametrize(
    ("field", "new", "pointer", "reason"),
    [
        ("knots", [0, 1], "/coefficients/0", "expected a list of 3, one more than"),
        ("knots", [1], "/coefficients/0", "expected a list of 2"),
        ("knots", 1, "/knots", "expected a list"),
        ("knots", [], "/knots", "numbers, one or more"),
        ("knots", [0, 2, 1], "", "rising knots"),
        ("knots", [0, 1, 1], "", "rising knots"),
        ("knots", [0, 1, "2"], "/knots/2", "finite number"),
        ("knots", [0, 1.1, 2], "", "a step or a kink at knot 1"),
        ("knots", [0, 1, 1e300], "", "a step or a kink at knot 2"),
        ("coefficients", LINES[:3], "/coefficients", "four lists"),
        ("coefficients", [*LINES, LINES[3]], "/coefficients", "four lists"),
        ("coefficients", 7, "/coefficients", "expected a list"),
        ("coefficients", [[0, 0, 1.1, 4], *LINES[1:]], "", "a step or a kink at knot 1"),
        ("coefficients", [LINES[0], [0, 0, 2, 5], *LINES[2:]], "", "a step or a kink at knot 2"),
        ("coefficients", [*LINES[:2], [1, 1, 1, 0], LINES[3]], "", "straight pieces outside"),
        ("coefficients", [*LINES[:3], [0, 0, 0, 1]], "", "straight pieces outside"),
        ("label", 3, "/label", "expected text"),
        ("slope", True, "/slope", "unknown field"),
        ("inputs", [0, 0], "/inputs", "expected 1 inputs"),
        ("value", [0, 0.25, 2.25, 8.1], "/value", "reading 3 is 8.09"),
    ],
)  # fmt: skip
def test_what_is_no_curve_is_refused_with_its_place(field, new, pointer, reason):
    with pytest.raises(DocumentError, match=reason) as caught:
        from_json(changed(field, new))
    assert caught.value.pointer == f"/steps/1{pointer}"


def test_missing_fields_are_refused():
    for field in ("label", "knots", "coefficients", "value", "inputs"):
        document = json.loads(BY_HAND)
        del document["steps"][1][field]
        with pytest.raises(DocumentError, match=f"the field '{field}' is missing"):
            from_json(json.dumps(document))


def test_knots_are_limited_and_counted(monkeypatch):
    text = to_json(from_json(BY_HAND))
    # 4 values and 1 gain of the input, then 4 values, 3 knots, 16 coefficients
    monkeypatch.setattr("flowunc.core.exchange.json_record.MOST_VALUES", 27)
    with pytest.raises(DocumentError, match="more than 27 values in all"):
        from_json(text)
    monkeypatch.setattr("flowunc.core.exchange.json_record.MOST_VALUES", 28)
    found = from_json(text)
    assert to_json(found) == text
    monkeypatch.setattr(json_curves, "MOST_KNOTS", 2)
    with pytest.raises(DocumentError, match="a list of 2 numbers at most") as caught:
        from_json(text)
    assert caught.value.pointer == "/steps/1/knots"
    with pytest.raises(PropagationError, match="'parabola' has 3 knots, and at most 2 are read"):
        to_json(found)
