"""A record read from JSON gives the same bits; what is no record is refused with its place."""

from __future__ import annotations

import json
import math
import os
import pickle
import subprocess
import sys
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc import (
    Length,
    PropagationError,
    Quantity,
    Ratio,
    Temperature,
    limits,
    monte_carlo_joint,
    standard,
    water,
)
from flowunc.core.errors import DocumentError
from flowunc.core.exchange.json_text import from_json, to_json
from flowunc.core.record import topological_order


def listed(quantities) -> list[Quantity]:
    return list(quantities.values()) if isinstance(quantities, dict) else quantities


def same_bits(first, second) -> bool:
    return np.asarray(first).tobytes() == np.asarray(second).tobytes()


# -- round trips ---------------------------------------------------------------------------------
def test_values_uncertainties_and_budgets_are_the_same_to_the_last_bit(several):
    back = from_json(to_json(several))
    assert type(back) is type(several)
    assert not isinstance(several, dict) or list(back) == list(several)
    for old, new in zip(listed(several), listed(back), strict=True):
        assert (type(new), new.unit, new.label) == (type(old), old.unit, old.label)
        assert new.shape == old.shape
        assert same_bits(new.value, old.value)
        assert same_bits(new.u, old.u)
        assert same_bits(new.dof, old.dof)
        assert np.any(np.asarray(old.u) > 0)
        row = None if old.ndim == 0 else old.size - 1
        assert new.budget(row).equals(old.budget(row))
        assert new.components == old.components


def test_covariances_are_the_same_to_the_last_bit(several):
    old, new = listed(several), listed(from_json(to_json(several)))
    for i in range(len(old) - 1):
        assert same_bits(new[i].covariance(new[i + 1]), old[i].covariance(old[i + 1]))


def test_draws_are_the_same_to_the_last_bit(several):
    old, new = listed(several), listed(from_json(to_json(several)))
    drawn = [monte_carlo_joint(each, trials=300, seed=11) for each in (old, new)]
    for first, second in zip(*drawn, strict=True):
        assert same_bits(first.samples(), second.samples())


def test_derivatives_found_with_the_values_are_found_again():
    temperature = Temperature(np.linspace(10.0, 30.0, 9), "degC", limits(0.3))
    old = water.viscosity(temperature)
    new = from_json(to_json(old))
    pairs = zip(*(topological_order([q._node]) for q in (old, new)), strict=True)
    slopes = [(a.slope, b.slope) for a, b in pairs if a.slope is not None]
    assert slopes
    assert all(same_bits(first, second) for first, second in slopes)


def test_what_is_read_correlates_with_what_is_in_memory(several):
    for old, new in zip(listed(several), listed(from_json(to_json(several))), strict=True):
        scale = np.asarray(old.u)
        assert np.all(np.abs((new - old).u) <= 1e-13 * scale)
        assert np.all(np.abs(new.u - scale) == 0)


def test_documents_read_apart_correlate_with_each_other():
    bore = Length(19.05, "mm", limits(0.05))
    area, double = (from_json(to_json(each)) for each in (bore**2, 2.0 * bore))
    assert area.correlation(double) == pytest.approx(1.0, rel=1e-14)
    assert (double - 2.0 * bore).u == 0.0


def test_text_is_the_same_after_a_round_trip(several):
    text = to_json(several)
    assert to_json(from_json(text)) == text
    assert to_json(several) == text
    assert text.isascii()


@given(st.floats(allow_nan=False, allow_infinity=False), st.floats(0, 1e300))
def test_every_number_keeps_every_bit(value, u):
    number = Ratio([value, -0.0], "1", standard(u))
    back = from_json(to_json(number))
    assert same_bits(back.value, number.value)
    assert same_bits(back.u, number.u)


def test_another_process_finds_the_same(tmp_path: Path):
    bore = Length(19.05, "mm", limits(0.05), label="bore")
    drop = Quantity([90.0, 410.0], "Pa", standard(2.0))
    results = [np.log(drop / Quantity(1.0, "Pa")) * bore, bore]
    path = tmp_path / "results.json"
    to_json(results, path)
    script = (
        "import sys\n"
        "from flowunc.core.exchange.json_text import from_json\n"
        "product, bore = from_json(sys.argv[1])\n"
        "print(product.u.tobytes().hex(), product.covariance(bore).tobytes().hex())\n"
        "print(product.monte_carlo(500, seed=4).samples().tobytes().hex())\n"
    )
    root = str(Path(__file__).parents[3])
    run = subprocess.run(
        [sys.executable, "-c", script, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": root},
    )
    product, bore = results
    assert run.stdout.split() == [
        product.u.tobytes().hex(),
        product.covariance(bore).tobytes().hex(),
        product.monte_carlo(500, seed=4).samples().tobytes().hex(),
    ]


def test_deep_records_need_no_deep_stack():
    start = Ratio(1.0, "1", standard(0.25))
    total, depth = start, 10_000
    for _ in range(depth):
        total = total + start
    back = from_json(to_json(total))
    assert back.value == depth + 1
    assert back.u == pytest.approx(0.25 * (depth + 1), rel=1e-12)  # one error, that often
    assert (back - total).u <= 1e-9


def test_what_is_read_is_pickled_copied_and_read_only():
    back = from_json(to_json(Length([1.0, 2.0], "m", standard(0.1))))
    assert pickle.loads(pickle.dumps(back)).components == back.components
    with pytest.raises(ValueError, match="read-only"):
        back._node.value[0] = 3.0
    with pytest.raises(ValueError, match="read-only"):
        (back * 2.0).value[0] = 3.0


# -- the form ------------------------------------------------------------------------------------
# Written by hand for version 1: this text must be read for ever.
BY_HAND = """
{
  "format": "flowunc quantities",
  "version": 1,
  "holds": "mapping",
  "quantities": [
    {"name": "area", "kind": "Area", "unit": "cm^2", "label": "plate", "step": 2},
    {"name": "mean", "kind": "Length", "unit": "mm", "label": "", "step": 5},
    {"name": "decades", "kind": "Ratio", "unit": "1", "label": "", "step": 8}
  ],
  "pools": [],
  "components": [
    {"key": "by hand: side", "label": "side", "distribution": {"law": "normal", "u": 0.001},
     "unit": "mm", "scope": "shared", "evaluation": "B", "dof": "inf", "source": "rule",
     "role": ""},
    {"key": "by hand: marks", "label": "marks", "distribution": {"law": "normal", "u": 0.002},
     "unit": "m", "scope": "each", "evaluation": "A", "dof": 9, "source": "", "role": ""}
  ],
  "steps": [
    {"operation": "input", "value": 0.2, "terms": [{"component": 0, "gain": 1}]},
    {"operation": "input", "value": 3},
    {"operation": "square", "inputs": [0]},
    {"operation": "input", "value": [1, 2, 3.0], "terms": [{"component": 1, "gain": [1, 1, 1]}]},
    {"operation": "total", "inputs": [3], "value": 6},
    {"operation": "divide", "inputs": [4, 1]},
    {"operation": "input", "value": 1e3, "terms": [{"component": 0, "gain": 1e3}]},
    {"operation": "take", "inputs": [3], "index": {"start": 1, "stop": 3}},
    {"operation": "log10", "inputs": [6], "value": 3}
  ],
  "about": {"remark": ["invented", {"x": null}]}
}
"""


def test_a_document_written_by_hand():
    found = from_json(BY_HAND)
    area, mean, decades = found["area"], found["mean"], found["decades"]
    # u(x^2) = 2 x u(x): 2 * 0.2 m * 1 mm = 4 cm^2
    assert (area.value, area.u) == pytest.approx((400.0, 4.0), rel=1e-14)
    # three independent errors of 2 mm: u of the mean is 2/sqrt(3) mm, dof of the three together
    assert (mean.value, mean.u) == pytest.approx((2000.0, 2.0 / math.sqrt(3.0)), rel=1e-14)
    assert mean.dof == pytest.approx(27.0, rel=1e-12)
    # u(lg x) = u(x)/(x ln 10), x = 1000 with an error of 1000 * 0.001
    assert (decades.value, decades.u) == pytest.approx((3.0, 1e-3 / math.log(10.0)), rel=1e-14)
    assert area.correlation(decades) == pytest.approx(1.0, rel=1e-14)
    assert area.covariance(mean) == 0.0
    assert str(area) == "plate: 400.0 ± 4.0 cm^2"


@pytest.mark.parametrize(
    ("old", "new", "pointer", "reason"),
    [
        ('"version": 1', '"version": 2', "/version", "version 2 of the format was given; this "
         "flowunc reads version 1: read it with a newer"),
        ('"version": 1', '"version": 0', "/version", "version 0 .* reads version 1$"),
        ('"version": 1', '"version": true', "", "no version"),
        ('"flowunc quantities"', '"other"', "", "no document of to_json"),
        ('"about"', '"abuot"', "/abuot", "unknown field"),
        ('"Area"', '"os.system"', "/quantities/0/kind", "expected one of 'Quantity', "),
        ('"Area"', '"Length"', "/quantities/0/unit", r"'cm\^2' is no unit of Length"),
        ('"cm^2"', '"cm^^2"', "/quantities/0/unit", "unit 'cm"),
        ('"step": 8', '"step": 9', "/quantities/2/step", "got 9; expected the place of a step"),
        ('"mean"', '"area"', "/quantities/1/name", "'area' stands twice"),
        ('"holds": "mapping"', '"holds": "list"', "/quantities/0/name", "unknown field"),
        ('"holds": "mapping"', '"holds": "set"', "/holds", "expected one of 'quantity'"),
        ('"law": "normal", "u": 0.001', '"law": "normal", "u": -1', "/components/0/distribution",
         "normal distribution: u is -1"),
        ('"law": "normal", "u": 0.001', '"law": "cauchy", "u": 1', "/components/0/distribution/law",
         "expected one of 'normal'"),
        ('"law": "normal", "u": 0.001', '"u": 1', "/components/0/distribution",
         "field 'law' is missing"),
        ('"dof": 9', '"dof": 0', "/components/1/dof", "degrees of freedom above 0"),
        ('"dof": 9', '"dof": [9, 9]', "/steps/3/terms/0", "degrees of freedom for 2 readings"),
        ('"by hand: side"', '""', "/components/0/key", "expected a key"),
        ('"scope": "each"', '"scope": "all"', "/components/1/scope", "got the text 'all'"),
        ('"square"', '"exec"', "/steps/2/operation", "'exec' is not known to this flowunc"),
        ('"square", "inputs": [0]', '"square", "inputs": [2]', "/steps/2/inputs/0",
         "the place of an earlier step, from 0 to 1"),
        ('"square", "inputs": [0]', '"square", "inputs": [0, 1]', "/steps/2/inputs",
         "expected 1 inputs"),
        ('"square", "inputs": [0]', '"square", "inputs": [0], "value": 0.05', "/steps/2/value",
         r"0.05\d*, but this flowunc computes 0.04"),
        ('"square", "inputs": [0]', '"square", "inputs": [0], "slope": true', "/steps/2/slope",
         "only for readings of an operation"),
        ('"value": 6', '"value": 7', "/steps/4/value", "7, but this flowunc computes 6"),
        ('"value": 6', '"value": [6]', "/steps/4/value", "expected one value"),
        ('"gain": 1e3', '"gain": 1e999', "/steps/6/terms/0/gain", "too large for floating point"),
        ('"gain": [1, 1, 1]', '"gain": [1, 1]', "/steps/3/terms/0", "gain for 2 readings"),
        ('"value": 1e3', '"value": -1e3', "/steps/8", "log10 has no finite value"),
        ('"value": 1e3', '"value": NaN', "/steps/6/value", "got NaN"),
        ('"stop": 3', '"stop": 4', "/steps/7/index/stop", "got 4"),
        ('"stop": 3', '"stop": 1', "/steps/7/index/stop", "got 1"),
        ('{"start": 1, "stop": 3}', "[0, 3]", "/steps/7/index/1", "expected a reading"),
        ('{"start": 1, "stop": 3}', "[0, -1]", "/steps/7/index/1", "expected a reading"),
        ('{"start": 1, "stop": 3}', "[]", "/steps/7/index", "expected one reading or more"),
        ('{"start": 1, "stop": 3}', "-1", "/steps/7/index", "expected a reading, from 0 to 2"),
        ('"take", "inputs": [3]', '"take", "inputs": [0]', "/steps/7/inputs", "a single value"),
        ('"log10", "inputs": [6], "value": 3', '"log10", "inputs": [6]', "/steps/8",
         "field 'value' is missing"),
        ('"unit": "m"', '"unit": {"dimension": ["1"]}', "/components/1/unit", "seven exponents"),
        ('"pools": []', '"pools": {}', "/pools", "expected a list"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named_with_its_place(old, new, pointer, reason):
    assert BY_HAND.count(old) == 1
    with pytest.raises(DocumentError, match=reason) as caught:
        from_json(BY_HAND.replace(old, new))
    assert caught.value.pointer == pointer
    assert caught.value.file == "<text>"


def test_a_temperature_below_absolute_zero_is_refused():
    document = json.loads(to_json(Temperature(5.0, "degC", standard(0.1))))
    document["steps"][0]["value"] = -5.0
    with pytest.raises(DocumentError, match="lies below absolute zero") as caught:
        from_json(json.dumps(document))
    assert caught.value.pointer == "/quantities/0"


def test_an_offset_unit_needs_a_temperature():
    document = json.loads(to_json(Quantity(5.0, "K", standard(0.1))))
    document["quantities"][0]["unit"] = "degC"
    with pytest.raises(DocumentError, match="'degC' is no unit of Quantity"):
        from_json(json.dumps(document))


# -- limits --------------------------------------------------------------------------------------
def doubled(times: int) -> str:
    document = json.loads(to_json(Length([1.0, 2.0], "m", standard(0.1))))
    for place in range(times):
        document["steps"].append({"operation": "concatenate", "inputs": [place, place]})
    document["quantities"][0]["step"] = times
    return json.dumps(document)


def test_a_short_text_cannot_ask_for_any_number_of_readings(monkeypatch):
    assert from_json(doubled(8)).size == 512
    monkeypatch.setattr("flowunc.core.exchange.json_record.MOST_VALUES", 1000)
    with pytest.raises(DocumentError, match="more than 1000 values in all") as caught:
        from_json(doubled(60))
    assert caught.value.pointer == "/steps/8"  # 2 + 4 + ... + 512 are 1022


def test_readings_need_characters():
    # 2 kB took 512 MB: each step doubles the readings of the one before
    with pytest.raises(DocumentError, match="more than 4194304 values in all"):
        from_json(doubled(60))
    for count in (1_000, 300_000):  # and what is written is read, however long the record
        x = Length(np.full(count, 1.0), "m", standard(0.1))
        q = x
        for _ in range(30):
            q = q + x
        assert from_json(to_json(q)).size == count


def test_sums_and_terms_count_with_what_they_go_through(monkeypatch):
    long = Length(np.arange(400.0), "m", standard(np.full(400, 0.1)))
    few, many = to_json(long.sum()), json.loads(to_json(long.sum()))
    monkeypatch.setattr("flowunc.core.exchange.json_record.MOST_VALUES", 1300)
    assert from_json(few).size == 1  # 400 values, 400 widths, a sum of 400
    assert to_json(from_json(few)) == few
    many["steps"] += [many["steps"][-1]] * 5
    with pytest.raises(DocumentError, match="values in all"):
        from_json(json.dumps(many))
    many["steps"] = many["steps"][:1]
    many["steps"][0]["terms"] *= 4
    with pytest.raises(DocumentError, match="values in all"):
        from_json(json.dumps(many))


def test_nothing_is_written_that_would_not_be_read(monkeypatch):
    side = Length(np.arange(50.0), "m", standard(0.1))
    monkeypatch.setattr("flowunc.core.exchange.json_record.MOST_VALUES", 40)
    with pytest.raises(PropagationError, match="more than 40 values"):
        to_json(side)
    monkeypatch.undo()
    monkeypatch.setattr("flowunc.core.exchange.json_text.MOST_CHARACTERS", 300)
    with pytest.raises(PropagationError, match="and at most 300 are read"):
        to_json(side)


def test_a_small_file_takes_little_memory(tmp_path: Path):
    # took 537 MB, as for the longest file
    path = tmp_path / "own.json"
    to_json(Length(1.0, "m", standard(0.1)), path)
    from_json(path)
    tracemalloc.start()
    try:
        from_json(path)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 1_000_000


def test_long_texts_and_files_are_not_read(monkeypatch, tmp_path: Path):
    path = tmp_path / "own.json"
    text = to_json(Length(1.0, "m", standard(0.1)), path)
    monkeypatch.setattr("flowunc.core.exchange.json_text.MOST_CHARACTERS", len(text) - 1)
    for given_ in (text, path):
        with pytest.raises(DocumentError, match="longer than"):
            from_json(given_)
