"""Worked examples of [JCGM 100] and [JCGM 101] through the public interface.

Numbers: printed ones from memory [M], checked by computing them from the stated inputs [C].
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from flowunc import (
    Density,
    Length,
    Mass,
    Quantity,
    Ratio,
    arcsine,
    cross_check,
    expanded,
    limits,
    monte_carlo,
    standard,
)


# -- [JCGM 100, H.1]: end-gauge calibration --------------------------------------------------
def end_gauge():
    standard_length = Length(50.000623, "mm", standard(25, "nm", dof=18), label="standard")
    difference = Length(
        215,
        "nm",
        standard(13 / math.sqrt(5), dof=24, label="repeatability"),
        expanded(0.01, "um", level=0.95, dof=5, label="comparator random"),
        expanded(0.02, "um", k=3, dof=8, label="comparator systematic"),
        label="difference",
    )
    expansion_difference = Quantity(0, "1/K", limits(1e-6, dof=50), label="dalpha")
    temperature_difference = Quantity(0, "K", limits(0.05, dof=2), label="dtheta")
    expansion = Quantity(11.5e-6, "1/K", limits(2e-6), label="alpha")
    deviation = Quantity(
        -0.1, "K", standard(0.2, label="mean"), arcsine(0.5, label="cycle"), label="theta"
    )
    length = (
        standard_length
        + difference
        - standard_length * (expansion_difference * deviation + expansion * temperature_difference)
    )
    return length.labelled("length"), difference


def test_end_gauge_value_and_first_order_uncertainty():
    length, _ = end_gauge()
    assert length.to("mm").value == pytest.approx(50.000838, abs=5e-7)  # printed
    assert length.to("nm").u == pytest.approx(31.658, abs=5e-4)  # computed; printed 32
    assert round(length.to("nm").u) == 32


def test_end_gauge_contributions():
    length, _ = end_gauge()
    table = length.to("nm").budget().set_index("component")["contribution"]
    assert table["standard"] == pytest.approx(25.0, abs=1e-3)
    parts = ("repeatability", "comparator random", "comparator systematic")
    # computed 9.664 (with t = 2.57 for 95 %), 2.887, 16.599 nm; printed 9.7, 2.9, 16.6
    assert math.hypot(*(table[part] for part in parts)) == pytest.approx(9.664, abs=1e-3)
    assert table["dalpha"] == pytest.approx(2.887, abs=5e-4)
    assert table["dtheta"] == pytest.approx(16.599, abs=5e-4)
    assert table["comparator random"] == pytest.approx(3.890, abs=5e-4)
    # alpha and theta do not enter at first order
    assert all(table.get(name, 0.0) == 0.0 for name in ("alpha", "mean", "cycle"))
    assert (length.budget()["share"].sum()) == pytest.approx(1.0, rel=1e-12)


def test_end_gauge_degrees_of_freedom_and_expanded_uncertainty():
    length, difference = end_gauge()
    assert difference.dof == pytest.approx(25.63, abs=0.01)  # computed; printed 25.6
    assert length.dof == pytest.approx(16.74, abs=5e-3)  # computed; printed 16.7
    wide, factor = length.to("nm").expanded(0.99)
    assert 91.5 < wide < 93.5  # printed 93
    assert wide == pytest.approx(91.93, abs=0.02)  # computed, dof not truncated
    assert factor == pytest.approx(wide / 31.658, rel=1e-4)


def test_end_gauge_draws_hold_the_second_order_terms():
    # second-order terms 11.726 and 1.667 nm [C]; a scaled t has n/(n - 2) times the variance
    length, _ = end_gauge()
    spreads = [(25.0, 18), (13 / math.sqrt(5), 24), (3.8902, 5), (20 / 3, 8)]
    variance = sum(u**2 * n / (n - 2) for u, n in spreads)
    variance += 2.887**2 + 16.599**2 + 11.726**2 + 1.667**2
    drawn = monte_carlo(length.to("nm"), 1_000_000, seed=1)
    assert drawn.u == pytest.approx(math.sqrt(variance), rel=4e-3)
    assert math.sqrt(variance) > 1.1 * length.to("nm").u  # so the draws could tell


# -- [JCGM 101, 9.2]: additive model, 95 % ---------------------------------------------------
ROOT3 = math.sqrt(3)


def additive(*statements):
    return sum(Ratio(0.0, "1", statement) for statement in statements)


@pytest.mark.parametrize(
    ("model", "u", "linear_end", "true_end", "holds"),
    [
        # 9.2.2: four normal; delta 0.05 at two digits
        (additive(*[standard(1.0)] * 4), 2.0, 3.919928, 3.919928, (True, True)),
        # 9.2.3: four rectangular, end 2 sqrt3 (2 - (3/5)^(1/4)); d = 0.0406 against 0.05
        (additive(*[limits(ROOT3)] * 4), 2.0, 3.919928, 3.879407, (True, True)),
        # 9.2.4: one of them ten times as wide; d = 2.88 against 5 and 0.5
        (
            additive(*[limits(ROOT3)] * 3, limits(10 * ROOT3)),
            math.sqrt(103),
            19.8915,
            17.015814,
            (True, False),
        ),
    ],
    ids=["9.2.2", "9.2.3", "9.2.4"],
)
def test_additive_model(model, u, linear_end, true_end, holds):
    assert model.u == pytest.approx(u, rel=1e-14)
    assert model.interval(0.95)[1] == pytest.approx(linear_end, abs=5e-5)
    check = cross_check(model, digits=2, trials=4_000_000, seed=1)
    drawn = check.drawn
    assert drawn.u == pytest.approx(u, rel=2.5e-3)
    for kind in ("symmetric", "shortest"):
        low, high = drawn.interval(0.95, kind)
        # a shortest interval wanders more: its position is flat in the width
        slack = 0.006 * u if kind == "symmetric" else 0.03 * u
        assert (low, high) == pytest.approx((-true_end, true_end), abs=slack)
    at_one = cross_check(model, digits=1, seed=1)
    assert (at_one.verdicts[0] == "holds", check.verdicts[0] == "holds") == holds
    assert "undecided" not in (at_one.verdicts[0], check.verdicts[0])
    distance = abs(linear_end - true_end)
    assert check.d_high[0] == pytest.approx(distance, abs=0.006 * u)


def test_four_rectangular_inputs_do_not_hold_to_three_digits():
    # 9.2.3: delta = 0.005 < d = 0.0406
    check = cross_check(additive(*[limits(ROOT3)] * 4), digits=3, trials=1_000_000, seed=1)
    assert check.tolerance[0] == pytest.approx(0.005)
    assert check.verdicts == ("fails",)


# -- [JCGM 101, 9.3]: mass calibration ------------------------------------------------------
def mass_difference():
    reference = Mass(100_000.000, "mg", standard(0.050))
    indicated = Mass(1.234, "mg", standard(0.020))
    air = Density(1.20, "kg/m^3", limits(0.10))
    weight = Density(8000, "kg/m^3", limits(1000))
    material = Density(8000, "kg/m^3", limits(50))
    buoyancy = 1 + (air - Density(1.2, "kg/m^3")) * (1 / weight - 1 / material)
    return ((reference + indicated) * buoyancy - Mass(100, "g")).to("mg")


def test_mass_calibration_linear():
    difference = mass_difference()
    assert difference.value == pytest.approx(1.2340, abs=5e-8)
    assert difference.u == pytest.approx(0.053852, abs=5e-7)
    low, high = difference.interval(0.95)
    assert (low, high) == pytest.approx((1.12845, 1.33955), abs=5e-6)


def test_mass_calibration_by_draws():
    drawn = monte_carlo(mass_difference(), 1_000_000, seed=1)
    assert drawn.mean == pytest.approx(1.2340, abs=5 * 0.0755e-3)  # 5 standard errors
    # exact by quadrature [C]; relative standard error of s about 1/sqrt(2M) times the kurtosis
    assert drawn.u == pytest.approx(0.0754797, rel=5e-3)
    # printed [1.0834, 1.3825], own 8e6 trials [1.0846, 1.3839]: they wander by about 0.001
    assert drawn.interval(0.95, "shortest") == pytest.approx((1.0846, 1.3839), abs=0.003)
    assert drawn.interval(0.95, "symmetric") == pytest.approx((1.08439, 1.38369), abs=0.003)


def test_mass_calibration_linear_is_not_validated():
    check = cross_check(mass_difference(), kind="shortest", trials=1_000_000, seed=1)
    assert check.tolerance[0] == pytest.approx(0.005, rel=1e-12)
    assert check.verdicts == ("fails",)
    assert not check.holds[0]
    assert check.supported_digits[0] == 0
    # printed d_low 0.0451, d_high 0.0430
    assert check.d_low[0] == pytest.approx(0.0451, abs=0.003)
    assert check.d_high[0] == pytest.approx(0.0430, abs=0.003)


def test_mass_calibration_second_order_terms_would_be_validated():
    # printed: u 0.0750 with the higher-order terms, d_low 0.0036, d_high 0.0015, delta 0.005.
    # The second-order term of a and rhoW stated as an error of its own brings it in at first order
    term = 1e5 * (0.1 / ROOT3) * (1000 / ROOT3) / 8000**2
    second = 1e5 * (0.1 / ROOT3) * (50 / ROOT3) / 8000**2
    difference = Mass(1.234, "mg", standard(math.hypot(0.053852, term, second)))
    assert difference.u == pytest.approx(0.074963, abs=5e-6)
    low, high = difference.interval(0.95)
    drawn = monte_carlo(mass_difference(), 1_000_000, seed=1).interval(0.95, "shortest")
    assert np.all(np.abs(np.subtract((low, high), drawn)) < 0.0075)


# -- bore counted once -------------------------------------------------------------------------
def test_bore_enters_the_friction_factor_to_the_fifth_power():
    # f = pi^2 D^5 dp / (8 rho L Q^2): 1 % in D is 5 % in f, and -1 % in Re = 4 rho Q/(pi mu D)
    bore = Length(0.02, "m", standard(2e-4))
    flow = Quantity(1e-4, "m^3/s")
    velocity = flow / (math.pi / 4 * bore**2)
    factor = 2 * bore * Quantity(100, "Pa") / (Quantity(998, "kg/m^3") * velocity**2)
    reynolds = velocity * bore
    assert factor.u / factor.value == pytest.approx(0.05, rel=1e-13)
    assert reynolds.u / reynolds.value == pytest.approx(0.01, rel=1e-13)
    assert factor.correlation(reynolds) == pytest.approx(-1.0, abs=1e-14)
    product = factor * reynolds  # f Re of a laminar flow goes with D^4
    assert product.u / product.value == pytest.approx(0.04, rel=1e-13)
