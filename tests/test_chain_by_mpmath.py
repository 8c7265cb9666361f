"""The whole chain from readings to V, Re and f, computed once more at 50 digits.

Random benches, none of them real. Values and derivatives come from mpmath: the formulas of the
water from the release [IAPWS SR6-08, eq. 2 and 7], typed as decimal numbers and held against the
iapws package, the mechanics from their definitions. Uncertainties are combined by the law of
propagation for independent inputs [JCGM 100, eq. 10]. What float64 can lose in the chain is a few
rounding errors of 1e-16; a wrong digit in a unit, a coefficient or a derivative shows.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from iapws._iapws import _Liquid
from mpmath import mp, mpf

import flowunc as fu

DIGITS = 50
VALUE, U = 1e-12, 1e-10  # relative

# [IAPWS SR6-08, eq. 2]: exponents and coefficients, as decimal numbers.
ALPHA = (
    (4, "6.74458446e3"), (5, "-2.22521604e5"), (7, "1.00231247e8"), (8, "-1.63552118e9"),
    (9, "8.32299658e9"),
)  # fmt: skip
BETA = (
    (1, "5.78545292e-3"), (2, "-1.53195665e-2"), (3, "3.11337859e-2"), (4, "-4.23546241e-2"),
    (5, "3.38713507e-2"), (6, "-1.19946761e-2"),
)  # fmt: skip
CONSTANT = "1.93763157e-2"
# [IAPWS SR6-08, eq. 7]: uPa s
VISCOSITY = (("280.68", "-1.9"), ("511.45", "-7.7"), ("61.131", "-19.6"), ("0.45903", "-40"))

# As documented of water.density and water.viscosity: relative standard uncertainties.
DENSITY_U, TAP_U, VISCOSITY_U = mpf("1e-6"), ("5e-4", 3), mpf("5e-3")


class Bench(NamedTuple):
    """Inputs by name: value, unit and standard uncertainty in that unit."""

    flow: tuple[float, str, float]
    celsius: tuple[float, str, float]
    bore: tuple[float, str, float]
    taps: tuple[float, str, float]
    high: tuple[float, str, float]
    low: tuple[float, str, float]
    zero: tuple[float, str, float]
    angle: tuple[float, str, float]
    gravity: tuple[float, str, float]
    air: tuple[float, str, float]


KINDS = {
    "flow": fu.VolumeFlowRate,
    "celsius": fu.Temperature,
    "bore": fu.Length,
    "taps": fu.Length,
    "high": fu.Length,
    "low": fu.Length,
    "zero": fu.Length,
    "angle": fu.Angle,
    "gravity": fu.Acceleration,
    "air": fu.Density,
}


def benches(count: int, seed: int) -> list[Bench]:
    rng = np.random.default_rng(seed)

    def one(low: float, high: float, unit: str, relative: float) -> tuple[float, str, float]:
        value = float(np.exp(rng.uniform(np.log(low), np.log(high))))
        return value, unit, float(value * relative * rng.uniform(0.2, 3.0))

    found = []
    for _ in range(count):
        flow = (
            one(20.0, 900.0, "L/h", 0.02) if rng.random() < 0.5 else one(0.4, 60.0, "L/min", 0.02)
        )
        found.append(
            Bench(
                flow=flow,
                celsius=one(0.5, 99.0, "degC", 0.01),
                bore=one(4.0, 60.0, "mm", 0.003),
                taps=one(0.3, 9.0, "m", 0.001),
                high=one(310.0, 690.0, "mm", 0.002),
                low=one(20.0, 290.0, "mm", 0.002),
                zero=(float(rng.uniform(-3.0, 3.0)), "mm", float(rng.uniform(0.1, 0.5))),
                angle=one(4.0, 89.0, "deg", 0.01),
                gravity=one(9.78, 9.832, "m/s^2", 1e-4),
                air=one(1.0, 1.3, "kg/m^3", 0.04),
            )
        )
    return found


# -- by flowunc ------------------------------------------------------------------------------------
def by_flowunc(bench: Bench) -> tuple[fu.Quantity, fu.Quantity, fu.Quantity]:
    of: Any = {
        name: KINDS[name](value, unit, fu.standard(u))
        for name, (value, unit, u) in bench._asdict().items()
    }
    rho, mu = fu.water.density(of["celsius"]), fu.water.viscosity(of["celsius"])
    v = fu.mean_velocity(of["flow"], of["bore"])
    re = fu.reynolds_number(v, of["bore"], rho, mu)
    manometer = fu.InclinedManometer(fu.Scale(1, "mm"), angle=of["angle"])
    drop = manometer.pressure_drop(
        high=of["high"],
        low=of["low"],
        zero=of["zero"],
        density=rho,
        gravity=of["gravity"],
        air_density=of["air"],
    )
    return v, re, fu.darcy_friction_factor(drop, rho, v, of["bore"], of["taps"])


# -- by mpmath -------------------------------------------------------------------------------------
FACTORS = {"L/h": ("1e-3", 3600), "L/min": ("1e-3", 60), "mm": ("1e-3", 1)}


def si(value: float, unit: str) -> Any:
    if unit == "deg":
        return mpf(value) * mp.pi / 180
    number, divisor = FACTORS.get(unit, ("1", 1))
    return mpf(value) * mpf(number) / divisor


def density(kelvin: Any) -> Any:
    alpha, beta = 10 / (593 - kelvin), 10 / (kelvin - 232)
    total = mpf(CONSTANT) + sum(mpf(a) * alpha**n for n, a in ALPHA)
    total += sum(mpf(b) * beta**m for m, b in BETA)
    return mpf("1e5") / (mpf("461.51805") * 10 * total)


def viscosity(kelvin: Any) -> Any:
    return mpf("1e-6") * sum(mpf(a) * (kelvin / 300) ** mpf(b) for a, b in VISCOSITY)


def results(
    flow: Any,
    celsius: Any,
    bore: Any,
    taps: Any,
    high: Any,
    low: Any,
    zero: Any,
    angle: Any,
    gravity: Any,
    air: Any,
    of_density: Any,
    of_tap_water: Any,
    of_viscosity: Any,
) -> tuple[Any, Any, Any]:
    kelvin = celsius + mpf("273.15")
    rho = density(kelvin) * (1 + of_density + of_tap_water)
    mu = viscosity(kelvin) * (1 + of_viscosity)
    v = 4 * flow / (mp.pi * bore**2)
    drop = (high - low - zero) * mp.sin(angle) * (rho - air) * gravity
    return v, rho * v * bore / mu, 2 * bore * drop / (rho * taps * v**2)


def by_mpmath(bench: Bench) -> list[tuple[Any, Any]]:
    """Return value and u of V, Re and f."""
    given = list(bench)
    at = [si(value, unit) for value, unit, _ in given] + [mpf(0)] * 3
    u = [si(size, unit) for _, unit, size in given]
    u += [DENSITY_U, mpf(TAP_U[0]) / mp.sqrt(TAP_U[1]), VISCOSITY_U]
    found = []
    for place in range(3):
        slopes = [
            mp.diff(lambda *x, place=place: results(*x)[place], tuple(at), tuple(order))
            for order in np.eye(len(at), dtype=int).tolist()
        ]
        variance = sum((c * size) ** 2 for c, size in zip(slopes, u, strict=True))
        found.append((results(*at)[place], mp.sqrt(variance)))
    return found


# -- tests -----------------------------------------------------------------------------------------
def test_water_at_50_digits_is_that_of_the_iapws_package() -> None:
    with mp.workdps(DIGITS):
        for kelvin in (273.16, 293.15, 333.15, 372.0):
            # T in K, p in MPa; density in kg/m^3, viscosity in Pa s
            package = _Liquid(kelvin, 0.1)
            assert float(density(mpf(kelvin))) == pytest.approx(package["rho"], rel=1e-12)
            assert float(viscosity(mpf(kelvin))) == pytest.approx(package["mu"], rel=1e-12)


@pytest.mark.parametrize(("count", "seed"), [(40, 1), pytest.param(200, 2, marks=pytest.mark.slow)])
def test_chain_from_readings_to_friction_factor(count: int, seed: int) -> None:
    worst: dict[str, tuple[float, float]] = {}
    with mp.workdps(DIGITS):
        for bench in benches(count, seed):
            both = zip(("V", "Re", "f"), by_flowunc(bench), by_mpmath(bench), strict=True)
            for name, found, (value, u) in both:
                errors = (
                    float(abs(mpf(found.si.value) / value - 1)),
                    float(abs(mpf(found.si.u) / u - 1)),
                )
                before = worst.get(name, (0.0, 0.0))
                worst[name] = (max(before[0], errors[0]), max(before[1], errors[1]))
    assert all(value <= VALUE and u <= U for value, u in worst.values()), worst


def test_a_change_in_the_tenth_digit_of_an_input_would_show() -> None:
    bench = benches(1, 3)[0]
    value, unit, u = bench.flow
    with mp.workdps(DIGITS):
        exact = by_mpmath(bench)
        for changed, of in (
            (bench._replace(flow=(value * (1 + 1e-11), unit, u)), 0),
            (bench._replace(flow=(value, unit, u * (1 + 1e-8))), 1),
        ):
            for quantity, expected in zip(by_flowunc(changed), exact, strict=True):
                found = (quantity.si.value, quantity.si.u)[of]
                assert abs(mpf(found) / expected[of] - 1) > (VALUE, U)[of]
