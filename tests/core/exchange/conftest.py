"""Quantities of every sort that a document holds, for the tests of documents (invented data)."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from flowunc import (
    Angle,
    Density,
    DynamicViscosity,
    Length,
    Mass,
    Quantity,
    Ratio,
    TabulatedLiquid,
    Temperature,
    VolumeFlowRate,
    arcsine,
    concatenate,
    darcy_friction_factor,
    expanded,
    exponential,
    laws,
    limits,
    mean_velocity,
    percent_of_reading,
    repeated,
    reynolds_number,
    shared,
    standard,
    trapezoidal,
    triangular,
    water,
)
from flowunc.core.component import Component, Pool, Term
from flowunc.core.distributions import Normal
from flowunc.core.exchange.json_text import to_json
from flowunc.core.units import parse_unit


def bench_results() -> dict[str, Quantity]:
    """Readings through water, Re and a law, with a shared bore."""
    bore = Length(19.05, "mm", limits(0.05), label="bore")
    flow = VolumeFlowRate(
        [90.0, 240.0, 410.0], "L/h", percent_of_reading(1.5), shared(standard(0.7)), label="flow"
    )
    temperature = Temperature([18.2, 18.4, 19.1], "degC", shared(limits(0.3)), label="thermometer")
    velocity = mean_velocity(flow, bore)
    density, viscosity = water.density(temperature), water.viscosity(temperature)
    reynolds = reynolds_number(velocity, bore, density, viscosity)
    return {
        "temperature": temperature,
        "density": density,
        "reynolds": reynolds,
        "log": np.log10(reynolds),
        "power": velocity**1.75,
    }


def statements() -> list[Quantity]:
    """One quantity for each law of the error, scalars and readings."""
    every = (
        standard(0.2),
        standard(0.2, dof=7),
        expanded(0.4, level=0.95, dof=12),
        limits(0.3),
        limits(0.3, inexact=0.1, dof=5),
        triangular(0.3),
        trapezoidal(0.3, top=0.4),
        arcsine(0.3),
        exponential(-0.3),
        repeated([1.9, 2.0, 2.2, 2.1, 2.0]),
    )
    listed: list[Quantity] = [
        Length(2.0 + i, "mm", statement, label=f"case {i}") for i, statement in enumerate(every)
    ]
    listed.append(Mass([1.0, 2.0, 3.0], "kg", standard([0.1, 0.0, 0.3])))
    return listed


def readings() -> list[Quantity]:
    """Choices, sums and joins of readings."""
    long = Length([1.0, 2.0, 3.0, 4.0, 5.0], "m", limits(0.1), shared(standard(0.02)))
    return [
        long[3],
        long[1:4] * 2.0,
        long[[4, 0, 0]],
        long.mean(),
        (long * long).sum(),
        concatenate(long[2], long * 0.5, Length(7.0, "m", standard(0.5))),
        long[1:2] + long[[2]],
    ]


def pooled() -> list[Quantity]:
    """Components of one sample, with one dof and with one for each reading."""
    pool = Pool(8.0, label="points of a fit")
    slope, intercept = (
        Component(name, Normal(u), parse_unit("1"), evaluation="A", dof=8.0, pool=pool)
        for name, u in (("slope", 0.02), ("intercept", 0.1))
    )
    one = parse_unit("1")
    x = Ratio([1.0, 2.0, 4.0], "1", standard(0.01))
    line = Ratio._from_terms(2.0, [Term(slope, 1.0)], one) * x + Ratio._from_terms(
        1.0, [Term(intercept, 1.0), Term(slope, -0.3)], one
    )
    dof = np.array([2.0, 5.0, math.inf])
    each = Component(
        "own", Normal(0.3), one, scope="each", evaluation="A", dof=dof, role="calibration"
    )
    several = Pool(np.array([4.0, 5.0, 6.0]))
    repeats = Component("repeats", Normal(1.0), one, scope="each", pool=several, source="repeats")
    gain = np.array([0.1, 0.2, -0.3])
    return [line, Ratio._from_terms([1.0, 2.0, 3.0], [Term(each), Term(repeats, gain)], one)]


def functions() -> list[Quantity]:
    """Elementary functions, with repeated use of one node."""
    angle = Angle(8.0, "deg", limits(0.2), label="inclination")
    side = Ratio([0.3, 0.6], "1", standard(0.01))
    both = np.arctan2(np.sin(angle) * side, np.hypot(side, 2.0)) ** 1.5
    return [both, both / np.sqrt(side) - np.exp(-side), 1.0 / (1.0 + side**-2.0), abs(-side)]


def formulas() -> dict[str, Quantity]:
    """What the formulas of the other layers record."""
    reynolds = bench_results()["reynolds"] * 20.0
    found = {"mckeon": laws.mckeon(reynolds), "prandtl": laws.prandtl_smooth(reynolds)}
    found["f"] = darcy_friction_factor(
        pressure_drop=Quantity([80.0, 500.0], "Pa", standard(2.0)),
        velocity=Quantity([0.2, 0.6], "m/s", standard(0.002)),
        density=water.density(Temperature(20.0, "degC", limits(0.5))),
        bore=Length(19.05, "mm", limits(0.05)),
        tap_spacing=Length(1.5, "m", limits(1.0, "mm")),
    )
    return found


def tables() -> dict[str, Quantity]:
    """What a liquid from a data sheet records: curves through its entries."""
    oil = TabulatedLiquid(
        Temperature([10, 20, 30, 40], "degC"),
        Density([871, 864, 857, 850], "kg/m^3", shared(limits(2))),
        DynamicViscosity([61, 37, 24, 16.4], "mPa*s", limits(0.5)),
        label="test oil",
    )
    readings = Temperature([14.0, 23.0, 37.5], "degC", shared(limits(0.3)), standard(0.1))
    return {"density": oil.density(readings[1]), "viscosity": oil.viscosity(readings)}


Several = list[Quantity] | dict[str, Quantity]
GALLERY: dict[str, Callable[[], Several]] = {
    made.__name__: made
    for made in (bench_results, statements, readings, pooled, functions, formulas, tables)
}


@pytest.fixture(params=GALLERY)
def several(request: pytest.FixtureRequest) -> Several:
    """Some quantities of one record."""
    return GALLERY[request.param]()


@pytest.fixture(scope="session")
def documents() -> list[dict[str, Any]]:
    """The documents of all of them, parsed; not to be changed."""
    return [json.loads(to_json(make())) for make in GALLERY.values()]
