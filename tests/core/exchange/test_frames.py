"""Tables with units in their headers: what stands in them, and what is refused with its place."""

from __future__ import annotations

import copy
import pickle

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flowunc import (
    Angle,
    DimensionError,
    Length,
    Pressure,
    Quantity,
    RangeError,
    Ratio,
    ShapeError,
    StatementError,
    Temperature,
    UnitError,
    VolumeFlowRate,
    limits,
    shared,
    standard,
)
from flowunc.core.exchange.frames import from_frame, to_frame
from flowunc.core.unit_table import UNITS


def readings() -> dict[str, Quantity]:
    return {
        "flow": VolumeFlowRate([90.0, 120.0], "L/h", standard([1.0, 2.0])),
        "temperature": Temperature([18.0, 19.0], "degC", limits(0.3)),
        "bore": Length(19.05, "mm", limits(0.05)),
    }


# -- to a table ----------------------------------------------------------------------------------
def test_columns_have_names_and_units():
    table = to_frame(readings())
    assert list(table.columns) == [
        "flow [L/h]",
        "u(flow) [L/h]",
        "temperature [degC]",
        "u(temperature) [K]",
        "bore [mm]",
        "u(bore) [mm]",
    ]
    assert table["flow [L/h]"].tolist() == [90.0, 120.0]
    assert table["u(flow) [L/h]"].tolist() == pytest.approx([1.0, 2.0], rel=1e-14)
    # half-width over root three [JCGM 100, 4.3.7]
    assert table["u(temperature) [K]"].tolist() == pytest.approx([0.3 / 3**0.5] * 2, rel=1e-14)
    assert table["bore [mm]"].tolist() == [19.05, 19.05]
    assert (table.dtypes == np.float64).all()


def test_fahrenheit_uncertainties_are_in_kelvins():
    # 0.9 degrees Fahrenheit are 0.5 K [NIST SP 811, B.8]
    table = to_frame({"T": Temperature(68.0, "degF", standard(0.5, "K"))})
    assert list(table.columns) == ["T [degF]", "u(T) [K]"]
    assert table.iloc[0].tolist() == pytest.approx([68.0, 0.5], rel=1e-12)


def test_uncertainties_may_be_left_out():
    assert list(to_frame(readings(), uncertainty=False).columns) == [
        "flow [L/h]",
        "temperature [degC]",
        "bore [mm]",
    ]


def test_one_quantity_goes_by_its_label_or_kind():
    drop = Pressure([1.0, 2.0], "Pa", standard(0.1))
    assert list(to_frame(drop.labelled("drop")).columns) == ["drop [Pa]", "u(drop) [Pa]"]
    assert list(to_frame(drop).columns) == ["pressure [Pa]", "u(pressure) [Pa]"]
    assert len(to_frame(drop[0])) == 1


def test_tables_are_copies():
    flow = readings()["flow"]
    before = flow.value.copy(), flow.u.copy()
    table = to_frame({"flow": flow})
    table.loc[:, :] = 7.0
    table["flow [L/h]"] += 1.0
    assert flow.value.tolist() == before[0].tolist()
    assert flow.u.tolist() == before[1].tolist()
    for other in (copy.copy(table), copy.deepcopy(table), pickle.loads(pickle.dumps(table))):
        assert other.equals(table)
        other.iloc[0, 0] = -1.0
        assert table.iloc[0, 0] == 8.0


def test_lengths_must_fit():
    with pytest.raises(ShapeError, match="lengths 2 and 3"):
        to_frame({"a": Length([1.0, 2.0], "m"), "b": Length([1.0, 2.0, 3.0], "m")})


@pytest.mark.parametrize("name", ["flow [L/h]", "a]", "u(flow)", "", " flow", "flow ", 3, "u()"])
def test_names_that_a_header_cannot_hold_are_refused(name):
    with pytest.raises(RangeError, match="cannot stand in a header"):
        to_frame({name: Length(1.0, "m")})


def test_what_is_no_quantity_is_refused():
    for wrong in ([Length(1.0, "m")], 2.0, None):
        with pytest.raises(DimensionError, match="expected a quantity, or a mapping"):
            to_frame(wrong)
    with pytest.raises(DimensionError, match="'a' is a float"):
        to_frame({"a": 1.0})
    with pytest.raises(ShapeError, match="at least one"):
        to_frame({})


# -- from a table --------------------------------------------------------------------------------
def test_headers_give_name_unit_and_kind():
    table = pd.DataFrame(
        {
            "flow [L/h]": [90, 120],
            "u(flow) [L/min]": [0.05, 0.1],
            " water temperature  [degC] ": [18.0, 19.0],
            "drop [K]": [0.5, -0.5],
            "ratio [1]": [0.1, 0.2],
            "power [W]": [1.0, 2.0],
        }
    )
    found = from_frame(table)
    assert list(found) == ["flow", "water temperature", "drop", "ratio", "power"]
    kinds = [VolumeFlowRate, Temperature, Quantity, Ratio, Quantity]
    assert [type(quantity) for quantity in found.values()] == kinds
    assert [quantity.label for quantity in found.values()] == list(found)
    assert found["flow"].unit == "L/h"
    assert found["flow"].value.tolist() == [90.0, 120.0]
    assert found["flow"].u.tolist() == pytest.approx([3.0, 6.0], rel=1e-14)  # 60 min in an hour
    assert (found["flow"][0] - found["flow"][1]).u == pytest.approx(45**0.5 / 3.6e6, rel=1e-12)
    assert found["water temperature"].u.tolist() == [0.0, 0.0]


def test_statements_come_on_top_of_columns():
    table = pd.DataFrame({"flow [L/h]": [90.0, 120.0], "u(flow) [L/h]": [3.0, 0.0]})
    flow = from_frame(table, {"flow": shared(standard(4.0))})["flow"]
    assert flow.u.tolist() == pytest.approx([5.0, 4.0], rel=1e-14)  # 3, 4, 5
    assert flow.covariance(flow)[0, 1] == pytest.approx(16.0, rel=1e-14)
    several = from_frame(table, {"flow": (standard(4.0), standard(12.0))})["flow"]
    assert several.u[0] == pytest.approx(13.0, rel=1e-14)  # 3, 4, 12, 13


def test_kinds_settle_what_a_dimension_leaves_open():
    table = pd.DataFrame({"T [K]": [290.0], "angle [deg]": [8.0]})
    assert [type(q) for q in from_frame(table).values()] == [Quantity, Ratio]
    found = from_frame(table, kinds={"T": Temperature, "angle": Angle})
    assert [type(q) for q in found.values()] == [Temperature, Angle]
    with pytest.raises(UnitError, match=r"column 'angle \[deg\]': Length in 'deg'"):
        from_frame(table, kinds={"angle": Length})
    with pytest.raises(DimensionError, match="'angle' is 'Angle'; expected a kind"):
        from_frame(table, kinds={"angle": "Angle"})


def test_a_table_comes_back_from_its_quantities():
    old = readings()
    new = from_frame(to_frame(old))
    for name, quantity in old.items():
        assert type(new[name]) is type(quantity)
        assert new[name].unit == quantity.unit
        assert new[name].value == pytest.approx(np.broadcast_to(quantity.value, 2), rel=1e-15)
        assert new[name].u == pytest.approx(np.broadcast_to(quantity.u, 2), rel=1e-14)


@given(
    st.sampled_from(sorted(UNITS)),
    st.lists(st.tuples(st.floats(-1e3, 1e3), st.floats(0.0, 1e3)), min_size=1, max_size=4),
)
def test_every_unit_survives_a_header(unit, rows):
    values, widths = zip(*rows, strict=True)
    old = Quantity(values, unit, standard(widths))
    new = from_frame(to_frame({"q": old}))["q"]
    assert new.unit == old.unit
    assert new.value == pytest.approx(old.value, rel=1e-14, abs=0.0)
    assert new.u == pytest.approx(old.u, rel=1e-14, abs=0.0)


def test_quantities_keep_nothing_of_the_table():
    table = pd.DataFrame({"a [m]": [1.0, 2.0], "u(a) [m]": [0.1, 0.2]})
    a = from_frame(table)["a"]
    table.loc[:, :] = 9.0
    assert (a.value.tolist(), a.u.tolist()) == ([1.0, 2.0], [0.1, 0.2])
    assert table.iloc[0].tolist() == [9.0, 9.0]  # and did not make it read-only
    back = pickle.loads(pickle.dumps(a))
    assert (back - a).u.tolist() == [0.0, 0.0]
    assert copy.deepcopy(a) is a


@pytest.mark.parametrize("kind", ["Int64", "Float64", "int32", "float32", "uint8", object])
def test_columns_of_any_numbers_are_read(kind):
    table = pd.DataFrame({"a [m]": pd.Series([1, 2], dtype=kind)})
    assert from_frame(table)["a"].value.tolist() == [1.0, 2.0]


@pytest.mark.parametrize(
    ("entries", "reason"),
    [
        ([1.0, np.nan], r"missing \(NaN\)"),
        ([1.0, None], r"missing \(NaN\)"),
        (pd.array([1, None], dtype="Int64"), r"missing \(NaN\)"),
        ([1.0, np.inf], "infinity"),
        ([1.0, "2.0"], "got '2.0'"),
        (["1", "2"], "got '1'"),
        ([1.0, True], "got True"),
        ([1.0, 2j], "got .*j"),
        (pd.to_datetime(["2024-01-01", "2024-01-02"]), "got Timestamp"),
        ([True, False], "got True"),
    ],
)
def test_entries_that_are_no_number_name_row_and_column(entries, reason):
    table = pd.DataFrame({"a [m]": entries}, index=["run 1", "run 2"])
    with pytest.raises(RangeError, match=r"^column 'a \[m\]', row 'run [12]': .*" + reason):
        from_frame(table)
    width = pd.DataFrame({"a [m]": [1.0, 1.0], "u(a) [m]": entries}, index=["run 1", "run 2"])
    with pytest.raises(RangeError, match=r"^column 'u\(a\) \[m\]', row 'run [12]': .*" + reason):
        from_frame(width)


@pytest.mark.parametrize("header", ["run", "flow L/h", "[m]", " [m]", "a [m", "a [[m]]", 3, "a]m["])
def test_headers_without_a_unit_are_refused(header):
    table = pd.DataFrame([[1.0, 1.0]], columns=["a [m]", header])
    with pytest.raises(RangeError, match="has no unit; expected"):
        from_frame(table)
    assert list(from_frame(table, skip=[header])) == ["a"]


def test_units_are_checked():
    for header, advice in (("flow [lph]", "'lph' is not a known unit"), ("a []", "empty")):
        with pytest.raises(UnitError, match=r"^column '.*': .*" + advice):
            from_frame(pd.DataFrame({header: [1.0]}))
    table = pd.DataFrame({"flow [L/h]": [90.0], "u(flow) [L]": [1.0]})
    with pytest.raises(UnitError, match=r"'u\(flow\) \[L\]': 'L' is no unit of an uncertainty of"):
        from_frame(table)


def test_values_without_meaning_name_the_column():
    with pytest.raises(RangeError, match=r"column 'T \[degC\]': temperature -300 degC"):
        from_frame(pd.DataFrame({"T [degC]": [20.0, -300.0]}))
    with pytest.raises(StatementError, match=r"column 'u\(a\) \[m\]': .*-0.1"):
        from_frame(pd.DataFrame({"a [m]": [1.0], "u(a) [m]": [-0.1]}))


def test_names_must_be_there_once():
    twice = pd.DataFrame([[1.0, 2.0]], columns=["a [m]", "a [mm]"])
    with pytest.raises(RangeError, match=r"'a \[m\]' and 'a \[mm\]': both are 'a'"):
        from_frame(twice)
    same = pd.DataFrame([[1.0, 2.0]], columns=["a [m]", "a [m]"])
    with pytest.raises(RangeError, match="both are 'a'"):
        from_frame(same)
    alone = pd.DataFrame({"u(a) [m]": [1.0]})
    with pytest.raises(StatementError, match="uncertainties for 'a', but no column"):
        from_frame(alone)
    for options in ({"statements": {"b": limits(1)}}, {"kinds": {"b": Length}}):
        with pytest.raises(StatementError, match=r"for 'b', but no column .* one of 'a'"):
            from_frame(pd.DataFrame({"a [m]": [1.0]}), **options)


def test_what_is_no_table_is_refused():
    for wrong in ({"a [m]": [1.0]}, pd.Series([1.0]), None):
        with pytest.raises(DimensionError, match="expected a pandas DataFrame"):
            from_frame(wrong)
    table = pd.DataFrame({"a [m]": [1.0], "b": ["x"]})
    with pytest.raises(ShapeError, match="no rows"):
        from_frame(table[:0], skip=["b"])
    with pytest.raises(RangeError, match="no column 'c'"):
        from_frame(table, skip=["c"])
    with pytest.raises(RangeError, match=r"expected a list of headers, such as \['b'\]"):
        from_frame(table, skip="b")
    for wrong in (0.5, "limits", [0.5]):
        with pytest.raises(StatementError, match="expected a statement"):
            from_frame(table, {"a": wrong}, skip=["b"])
