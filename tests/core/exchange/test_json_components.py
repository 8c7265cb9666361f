"""Components keep key, law and degrees of freedom, and stay the very ones in memory."""

from __future__ import annotations

import gc
import json
from dataclasses import replace

import numpy as np
import pytest

from flowunc import Length, Quantity, Ratio, Temperature, limits, shared, standard
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.errors import DocumentError, PropagationError
from flowunc.core.exchange.json_components import unit_from, unit_json
from flowunc.core.exchange.json_parts import Part
from flowunc.core.exchange.json_text import from_json, to_json
from flowunc.core.naming import named_by_role
from flowunc.core.units import coherent_unit, parse_unit

METRE = parse_unit("m")


def component(**parts) -> Component:
    return Component(**({"label": "own", "distribution": Normal(0.1), "unit": METRE} | parts))


def with_component(own: Component) -> Length:
    return Length._from_terms(2.0, [Term(own)], METRE)


def test_a_component_in_memory_is_taken_up_again():
    side = Length(2.0, "m", standard(0.1))
    (found,) = from_json(to_json(side)).components
    assert found is side.components[0]


def test_a_component_that_is_gone_comes_back_with_its_key():
    own = component(scope="each", evaluation="A", dof=7.5, source="certificate", role="calibration")
    text = to_json(with_component(own))
    fields = (
        "label",
        "distribution",
        "unit",
        "scope",
        "evaluation",
        "dof",
        "source",
        "key",
        "role",
    )
    before = [getattr(own, name) for name in fields]
    del own
    gc.collect()
    (found,) = from_json(text).components
    assert [getattr(found, name) for name in fields] == before


def test_another_name_of_the_same_error_is_kept_beside_the_one_in_memory():
    side = Length(2.0, "m", standard(0.1))
    named = named_by_role(side, "tap spacing")
    back = from_json(to_json(named))
    assert [each.label for each in back.components] == ["tap spacing"]
    assert (back - side).u == 0.0
    together = from_json(to_json([side, named]))
    assert [q.components[0].label for q in together] == ["length", "tap spacing"]
    assert (together[0] - together[1]).u == 0.0


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({"distribution": Normal(0.2)}, r"Normal\(u=0.2\) here and Normal\(u=0.1\) elsewhere"),
        ({"scope": "each"}, "'each' here and 'shared' elsewhere"),
    ],
)
def test_two_errors_behind_one_key_are_refused(change, found):
    own = component()
    other = replace(own, **change)
    with pytest.raises(PropagationError, match=found):
        to_json([with_component(own), with_component(other)])
    text = to_json(with_component(other))  # by itself it says nothing wrong
    with pytest.raises(DocumentError, match=f"^<text>, at /components/0: .*{found}"):
        from_json(text)


def test_pools_are_one_for_all_their_components():
    pool = Pool(6.0, label="points")
    parts = [component(pool=pool, dof=6.0, label=name) for name in "ab"]
    text = to_json([with_component(each) for each in parts])
    keys = [each.key for each in parts]
    del parts, pool
    gc.collect()
    a, b = (each.components[0] for each in from_json(text))
    assert [a.key, b.key] == keys
    assert a.pool is b.pool
    assert (a.pool.dof, a.pool.label) == (6.0, "points")
    assert json.loads(text)["pools"][0]["key"] == a.pool.key


def test_infinite_degrees_of_freedom_are_the_text_inf():
    own = component(scope="each", dof=np.array([3.0, np.inf]))
    text = to_json(Length._from_terms([1.0, 2.0], [Term(own)], METRE))
    assert json.loads(text)["components"][0]["dof"] == [3.0, "inf"]
    assert from_json(text).components[0].dof.tolist() == [3.0, np.inf]


def test_a_law_of_the_user_is_refused():
    class Skewed(Normal):
        name = "skewed"

    with pytest.raises(PropagationError, match="cannot be written as JSON: expected one of normal"):
        to_json(with_component(component(distribution=Skewed(0.1))))

    class Disguised(Normal):  # under the name of a known one
        pass

    with pytest.raises(PropagationError, match="cannot be written"):
        to_json(with_component(component(distribution=Disguised(0.1))))


@pytest.mark.parametrize("text", ["mm", "L/min", "°C", "m²", "1", "kg/(m*s)", "µm", "inH2O", "%"])
def test_units_keep_their_text(text):
    unit = parse_unit(text)
    assert unit_json(unit) == unit.symbol
    assert unit_from(Part(unit_json(unit), "", "own")) == unit


@pytest.mark.parametrize("power", [21, 60, 1 / 3, -37.5])
def test_units_that_no_text_gives_keep_their_dimension(power):
    high = Length(2.0, "m", standard(0.1)) ** power
    back = from_json(to_json(high))
    assert back._unit == high._unit
    assert back._unit.dimension is high._unit.dimension  # there is one of each
    assert back.u == high.u


def test_exponents_of_units_are_short_fractions():
    for bad in (["1"] * 6, ["1"] * 8, [1] * 7, ["1/0"] + ["0"] * 6, ["9" * 9] + ["0"] * 6):
        with pytest.raises(DocumentError):
            unit_from(Part({"dimension": bad}, "", "own"))
    for bad in ("--1", "1/-2", "", "/", "1.5", "\u0661", "+1", " 1", "1e3"):
        with pytest.raises(DocumentError, match="exponent as text"):
            unit_from(Part({"dimension": [bad] + ["0"] * 6}, "", "own"))
    half = unit_from(Part({"dimension": ["-1/2"] + ["0"] * 6}, "", "own"))
    assert half == coherent_unit((Length(1.0, "m") ** -0.5)._unit.dimension)


def test_temperatures_and_their_differences_keep_their_kind():
    reading = Temperature([20.0, 25.0], "degC", shared(limits(0.3)))
    listed = [reading, reading - reading[0], Ratio(3.0, "%"), Quantity(2.0, "K")]
    back = from_json(to_json(listed))
    assert [type(q) for q in back] == [Temperature, Quantity, Ratio, Quantity]
    assert [q.unit for q in back] == ["degC", "K", "%", "K"]
    assert back[0].value.tolist() == reading.value.tolist()
    assert back[1].u.tolist() == [0.0, 0.0]
