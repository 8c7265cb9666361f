"""What all instruments share: one calibration for all readings, a resolution for each."""

import copy
import math
import pickle
import warnings
from typing import TypeVar

import numpy as np
import pytest

from flowunc.core.errors import (
    DimensionError,
    FlowuncWarning,
    RangeError,
    ShapeError,
    StatementError,
    UnitError,
)
from flowunc.core.kinds import Angle, Density, Length, Mass, Ratio, Volume, VolumeFlowRate
from flowunc.core.naming import named_by_role
from flowunc.core.quantity import Quantity
from flowunc.core.statements import expanded, limits, repeated, shared, standard
from flowunc.instruments import (
    Balance,
    Instrument,
    Scale,
    VariableAreaMeter,
    error_limit,
    percent_of_full_scale,
    percent_of_reading,
)

RESOLUTION = 0.05 / math.sqrt(3)  # [JCGM 100, 4.3.7], a division of 0.1
CALIBRATION = 0.02 * 4.0 / math.sqrt(3)  # 2 % of a full scale of 4.0


def small_meter(label="small meter"):
    return VariableAreaMeter(
        Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy=percent_of_full_scale(2.0), label=label
    )


def labels(quantity):
    return [component.label for component in quantity.components]


def test_the_calibration_cancels_between_readings_of_one_call():
    two = small_meter().read([2.0, 2.0])
    assert isinstance(two, VolumeFlowRate)
    assert two.unit == "L/min"
    assert two.u == pytest.approx([math.hypot(RESOLUTION, CALIBRATION)] * 2, rel=1e-12)
    assert (two[0] - two[1]).to("L/min").u == pytest.approx(math.sqrt(2) * RESOLUTION, rel=1e-12)


def test_the_calibration_cancels_between_calls_and_the_resolution_does_not():
    meter = small_meter()
    difference = (meter.read(2.0) - meter.read(2.0)).to("L/min")
    assert difference.u == pytest.approx(math.sqrt(2) * RESOLUTION, rel=1e-12)


def test_two_instruments_alike_in_every_number_are_independent():
    difference = (small_meter().read(2.0) - small_meter().read(2.0)).to("L/min")
    expected = math.sqrt(2) * math.hypot(RESOLUTION, CALIBRATION)
    assert difference.u == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    "again", [copy.copy, copy.deepcopy, lambda item: pickle.loads(pickle.dumps(item))]
)
def test_a_copy_is_the_same_instrument(again):
    meter = small_meter()
    difference = (meter.read(2.0) - again(meter).read(2.0)).to("L/min")
    assert difference.u == pytest.approx(math.sqrt(2) * RESOLUTION, rel=1e-12)


def test_pickled_readings_stay_correlated():
    meter = small_meter()
    before = meter.read([1.0, 2.0])
    after = pickle.loads(pickle.dumps(before))
    assert (after - before).u == pytest.approx([0.0, 0.0], abs=1e-20)
    assert (after[0] - meter.read(1.0)).to("L/min").u == pytest.approx(
        math.sqrt(2) * RESOLUTION, rel=1e-12
    )


def test_a_relative_calibration_scales_with_the_readings():
    meter = VariableAreaMeter(
        Scale(0.1, "L/min", span=(0.4, 4.0), read_to=1e-6), accuracy=percent_of_reading(3)
    )
    one, three = meter.read(1.0), meter.read(3.0)
    # the relative error is one and the same: three minus three times one is free of it
    assert (three - 3 * one).to("L/min").u == pytest.approx(0.0, abs=1e-6)
    assert (three - one).to("L/min").u == pytest.approx(0.06 / math.sqrt(3), rel=1e-6)


def test_components_are_named_by_the_instrument():
    assert labels(small_meter().read(2.0)) == ["small meter resolution", "small meter calibration"]
    assert labels(small_meter(label=None).read(2.0))[0] == "flow meter resolution"


def test_several_accuracies_add_up_and_keep_their_names_apart():
    scale = Scale(0.1, "L/min", span=(0.4, 4.0))
    meter = VariableAreaMeter(
        scale,
        accuracy=(
            percent_of_reading(1),
            percent_of_full_scale(2, label="adjustment"),
            limits(0.03),
        ),
    )
    flow = meter.read(2.0)
    assert labels(flow) == [
        "flow meter resolution",
        "flow meter calibration, percent of reading",
        "adjustment",
        "flow meter calibration, limits",
    ]
    parts = np.array([0.05, 0.02, 0.08, 0.03]) / math.sqrt(3)
    assert flow.u == pytest.approx(np.sqrt(np.sum(parts**2)), rel=1e-12)
    assert {component.source for component in flow.components} == {"flow meter"}


def test_an_accuracy_is_shared_whatever_the_statement():
    # a certificate's uncertainty is one error of the instrument, not one for each reading
    balance = Balance(Scale(1, "g", kind="digital"), accuracy=expanded(4, k=2))
    masses = balance.read([100.0, 200.0])
    assert [c.scope for c in masses.components] == ["each", "shared"]
    assert (masses[1] - masses[0]).to("g").u == pytest.approx(0.5 * math.sqrt(2 / 3), rel=1e-12)


def test_statements_at_a_reading_are_new_at_each():
    balance = Balance(Scale(1, "g", kind="digital"))
    one = balance.read(100.0, standard(3), label="bucket")
    two = balance.read(100.0, standard(3))
    assert labels(one) == ["balance resolution, bucket", "bucket"]
    assert labels(two) == ["balance resolution", "balance reading"]
    assert one.label == "bucket"
    assert two.label == "balance"
    variance = 2 * (0.25 / 3 + 9)
    assert (one - two).to("g").u == pytest.approx(math.sqrt(variance), rel=1e-12)


def test_the_scatter_of_repeats_is_of_type_a():
    # [JCGM 100, 4.2.3]: s / sqrt(n) of 99, 100, 101 is 1 / sqrt(3), dof 2
    readings = [99.0, 100.0, 101.0]
    mass = Balance(Scale(1, "g", kind="digital")).read(np.mean(readings), repeated(readings))
    scatter = mass.components[1]
    assert (scatter.evaluation, scatter.dof, scatter.source) == ("A", 2.0, "balance")
    assert mass.u == pytest.approx(math.sqrt(1 / 3 + 0.25 / 3), rel=1e-12)


def test_a_shared_statement_at_a_reading_is_one_for_that_call():
    mass = Balance(Scale(1, "g", kind="digital")).read([100.0, 200.0], shared(standard(3)))
    assert (mass[1] - mass[0]).to("g").u == pytest.approx(0.5 * math.sqrt(2 / 3), rel=1e-12)


def test_shape_of_the_reading():
    balance = Balance(Scale(1, "g", kind="digital"))
    assert isinstance(balance.read(100.0).value, float)
    assert balance.read([100.0]).value.shape == (1,)
    with pytest.raises(ShapeError):
        balance.read([[100.0]])


@pytest.mark.parametrize("value", ["100", None, math.nan, [1.0, math.inf], True])
def test_what_is_no_reading_is_refused(value):
    with pytest.raises(RangeError, match="balance in 'g'"):
        Balance(Scale(1, "g")).read(value)


def test_a_quantity_is_no_reading():
    with pytest.raises(DimensionError, match="plain numbers"):
        Balance(Scale(1, "g")).read(Mass(100, "g"))


def test_a_scale_in_another_unit_is_refused_at_construction():
    with pytest.raises(UnitError, match=r"bucket: scale in 'mm'; expected a unit of mass .*'g'"):
        Balance(Scale(1, "mm"), label="bucket")


@pytest.mark.parametrize(
    ("make", "error", "match"),
    [
        (lambda: Balance(0.1), DimensionError, r"got float 0\.1; expected a Scale"),
        (lambda: Balance(Scale(1, "g"), 0.1), StatementError, r"got 0\.1; expected a statement"),
        (lambda: Balance(Scale(1, "g"), (limits(1), 2)), StatementError, "got 2"),
        (lambda: Balance(Scale(1, "g"), label=""), RangeError, "label=''"),
        (lambda: Balance(Scale(1, "g"), label=7), RangeError, "label=7"),
        (
            lambda: Balance(Scale(1, "g"), percent_of_full_scale(1)),
            StatementError,
            "1 % .percent of full scale. on balance: no full scale",
        ),
        (
            lambda: Balance(Scale(1, "g"), error_limit(1, linearity_limit=50)),
            StatementError,
            "on balance: no full scale",
        ),
        (lambda: Balance(Scale(1, "g"), limits(1, "mm")), StatementError, "'mm' on balance in 'g'"),
        (lambda: Balance(Scale(1, "g"), limits([1, 2])), StatementError, "balance: 2 uncertain"),
        (lambda: Balance(Scale(1, "g")).read(1.0, 0.5), StatementError, r"0\.5 on balance reading"),
    ],
)
def test_misuse_is_named(make, error, match):
    with pytest.raises(error, match=match):
        make()


def test_what_an_instrument_is_made_of_cannot_be_exchanged():
    balance = Balance(Scale(1, "g"), limits(1))
    for name in ("scale", "accuracy", "label", "calibration"):
        with pytest.raises(AttributeError):
            setattr(balance, name, None)
    assert balance.accuracy == (limits(1),)
    assert len(balance.calibration) == 1
    assert "Balance 'balance'" in repr(balance)


def test_a_warning_points_to_the_users_line():
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        VariableAreaMeter(Scale(0.1, "L/min", span=(0.4, 4.0)))
    assert [(w.category, w.filename) for w in caught] == [(FlowuncWarning, __file__)]


# -- names by role -------------------------------------------------------------------------------
def test_an_unlabelled_input_gets_the_name_of_its_role_and_stays_itself():
    angle = Angle(10, "deg", limits(0.25), standard(0.1, label="level"))
    named = named_by_role(angle, "manometer angle")
    assert named.label == "manometer angle"
    assert isinstance(named, Angle)
    assert named.unit == "deg"
    assert labels(named) == ["manometer angle limits", "level"]
    assert (named - angle).u == 0.0
    assert named.u == angle.u


def test_a_plain_quantity_and_a_ratio_are_named_too():
    for made in (Quantity(0.17, "rad", limits(0.01)), Ratio(0.17, "1", limits(0.01))):
        assert labels(named_by_role(made, "manometer angle")) == ["manometer angle"]


def test_a_labelled_input_keeps_its_name():
    angle = Angle(10, "deg", limits(0.25), label="incline")
    assert named_by_role(angle, "manometer angle") is angle


def test_a_result_keeps_the_names_of_its_components():
    density = Mass(1, "kg", standard(0.1)) / Volume(1, "L", standard(0.01))
    named = named_by_role(density, "oil density")
    assert isinstance(named, Density)
    assert (named.label, labels(named)) == ("oil density", ["mass", "volume"])


def test_a_component_whose_name_only_starts_alike_is_not_renamed():
    length = Length(1, "m", standard(0.1, label="lengthwise play"))
    assert labels(named_by_role(length, "bore")) == ["lengthwise play"]


def test_a_subclass_without_a_kind_is_refused_where_it_is_written():
    with pytest.raises(TypeError, match=r"class Gauge\(Instrument\).*such as _kind = Length"):

        class Gauge(Instrument):
            pass


def test_subclasses_with_a_kind_and_generic_bases_are_accepted():
    kinds = TypeVar("kinds", bound=Quantity)

    class Base(Instrument[kinds]):
        pass

    class Gauge(Base[Length]):
        _kind = Length

    assert type(Gauge(Scale(1, "mm")).read(3.0)) is Length
