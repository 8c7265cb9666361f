"""The coefficient of an orifice plate against the `fluids` package and numerical derivatives."""

from __future__ import annotations

import math
import pickle

import mpmath
import numpy as np
import pytest
from fluids.flow_meter import C_Reader_Harris_Gallagher, differential_pressure_meter_solver

from flowunc import second_order
from flowunc.core.kinds import Length, Ratio
from flowunc.core.statements import standard
from flowunc.instruments.discharge_coefficient import (
    CORNER_TAPS,
    D_AND_D_2_TAPS,
    FLANGE_TAPS,
    TAPS,
    coefficient_percent,
    orifice_coefficient,
    reader_harris_gallagher,
)

IN_FLUIDS = dict(zip(TAPS, ("corner", "D", "flange"), strict=True))
CASES = [
    (taps, bore, beta, reynolds)
    for taps in TAPS
    for bore in (0.055, 0.2)  # below and above 71.12 mm
    for beta in (0.15, 0.4, 0.6, 0.74)
    for reynolds in (1.2e4, 1e5, 3e6)
]


def outside(taps, bore, beta, reynolds):
    """C by the `fluids` package [C]; water, so the mass flow gives the Reynolds number."""
    return C_Reader_Harris_Gallagher(
        D=bore,
        Do=beta * bore,
        rho=1000.0,
        mu=1e-3,
        m=reynolds * math.pi * bore * 1e-3 / 4,
        taps=IN_FLUIDS[taps],
    )


@pytest.mark.parametrize(("taps", "bore", "beta", "reynolds"), CASES)
def test_coefficient(taps, bore, beta, reynolds) -> None:
    found = reader_harris_gallagher(reynolds, beta, bore, taps)[0]
    assert found == pytest.approx(outside(taps, bore, beta, reynolds), rel=1e-12)


@pytest.mark.parametrize(("taps", "bore", "beta", "reynolds"), CASES)
def test_derivatives(taps, bore, beta, reynolds) -> None:
    found = reader_harris_gallagher(reynolds, beta, bore, taps)[1:]
    point = [bore, beta, reynolds]
    for slope, place in zip(found, (2, 1, 0), strict=True):
        h = 1e-4 * point[place]

        def along(x, place=place):
            moved = [*point[:place], float(x), *point[place + 1 :]]
            return mpmath.mpf(outside(taps, *moved))

        # five-point differences of the other implementation
        x = point[place]
        numeric = (8 * (along(x + h) - along(x - h)) - (along(x + 2 * h) - along(x - 2 * h))) / (
            12 * h
        )
        scale = abs(float(slope)) + 1e-7 / x
        assert abs(float(slope) - float(numeric)) < 1e-6 * scale + 3e-12 / h


@pytest.mark.parametrize("taps", TAPS)
def test_the_pair_of_coefficient_and_reynolds_number(taps) -> None:
    # [C] `fluids` solves the same pair for a drop of 5 kPa
    D, d, drop = 0.1, 0.06, 5e3
    mass = differential_pressure_meter_solver(
        D=D,
        D2=d,
        P1=2e5,
        P2=2e5 - drop,
        rho=998.0,
        mu=1e-3,
        meter_type="ISO 5167 orifice",
        taps=IN_FLUIDS[taps],
        epsilon_specified=1.0,
    )
    ideal = math.pi / 4 * d**2 * math.sqrt(2 * drop * 998.0 / (1 - (d / D) ** 4))
    phi = 4 * ideal / (math.pi * 1e-3 * D)
    found = orifice_coefficient(Ratio(phi, "1"), Ratio(d / D, "1"), Length(D, "m"), taps)
    assert found.value == pytest.approx(mass / ideal, rel=1e-9)


@pytest.mark.parametrize("taps", TAPS)
def test_derivatives_of_the_solution(taps) -> None:
    at = (3e4, 0.7, 0.06)

    def solved(phi, beta, bore):
        given = Ratio(phi, "1"), Ratio(beta, "1"), Length(bore, "m")
        return orifice_coefficient(*given, taps).value

    for place in range(3):
        u = [0.0, 0.0, 0.0]
        u[place] = 1e-3 * at[place]
        given = (
            Ratio(at[0], "1", standard(u[0])),
            Ratio(at[1], "1", standard(u[1])),
            Length(at[2], "m", standard(u[2])),
        )
        linear = orifice_coefficient(*given, taps).u
        up, down = (solved(*(x + sign * s for x, s in zip(at, u, strict=True))) for sign in (1, -1))
        # a central difference is off by the third derivative, here below 1e-5 of it
        assert linear == pytest.approx(abs(up - down) / 2, rel=1e-4)


def test_readings_and_draws_are_solved_alike() -> None:
    phi = Ratio([2e4, 2e5, 2e6], "1", standard([400, 4000, 40000]))
    found = orifice_coefficient(phi, Ratio(0.6, "1"), Length(0.1, "m"), "flange")
    single = [
        orifice_coefficient(one, Ratio(0.6, "1"), Length(0.1, "m"), "flange").value for one in phi
    ]
    assert found.value == pytest.approx(single, rel=1e-14)
    drawn = found.monte_carlo(20_000, seed=4)
    assert drawn.u == pytest.approx(found.u, rel=0.03)


@pytest.mark.parametrize("taps", TAPS)
def test_second_order_follows_the_solution(taps) -> None:
    # curvature shifts the mean by f'' u^2 / 2; f'' from differences of the solution itself
    phi, u = 8e3, 400.0

    def solved(value, *statements):
        given = Ratio(value, "1", *statements), Ratio(0.7, "1"), Length(0.06, "m")
        return orifice_coefficient(*given, taps)

    shift = second_order(solved(phi, standard(u))).shift
    h = 40.0
    curvature = solved(phi + h).value - 2 * solved(phi).value + solved(phi - h).value
    assert shift == pytest.approx(curvature / h**2 * u**2 / 2, rel=1e-3)


def test_operations_pickle_by_name() -> None:
    for operation in (CORNER_TAPS, D_AND_D_2_TAPS, FLANGE_TAPS):
        assert pickle.loads(pickle.dumps(operation)) is operation


# [ISO 5167-2, 5.3.3.1], from memory [M]: U in per cent.
@pytest.mark.parametrize(
    ("beta", "bore", "reynolds", "percent"),
    [
        (0.1, 0.2, 1e5, 0.6),
        (0.2, 0.2, 1e5, 0.5),
        (0.6, 0.2, 1e5, 0.5),
        (0.75, 0.2, 1e5, 0.75025),
        (0.6, 0.2, 9e3, 1.0),
        (0.5, 0.2, 9e3, 0.5),
        (0.5, 0.0508, 1e5, 0.5 + 0.9 * 0.25 * 0.8),  # D = 2 inches
    ],
)
def test_uncertainty_of_the_coefficient(beta, bore, reynolds, percent) -> None:
    found = coefficient_percent(np.asarray(reynolds), np.asarray(beta), np.asarray(bore))
    assert found == pytest.approx(percent, rel=1e-9)
