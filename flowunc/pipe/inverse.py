"""From a measured friction factor or pressure drop back to the wall or the liquid.

Both are explicit, so that nothing iterates. Errors in common with the measurement stay in
common: a law at the roughness found here gives back the friction factor it was found from,
uncertainty included.
"""

from __future__ import annotations

import math

import numpy as np

from flowunc.core.errors import RangeError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    FrictionFactor,
    Length,
    Pressure,
    Ratio,
    ReynoldsNumber,
    VolumeFlowRate,
)
from flowunc.core.naming import named_argument
from flowunc.core.record import common_size
from flowunc.fluids.model_error import one_within
from flowunc.pipe.laws.rough import colebrook_white
from flowunc.pipe.laws.smooth import laminar
from flowunc.pipe.signs import require_positive

__all__ = ["roughness_from_friction", "viscosity_from_laminar_drop"]

_HALF_LOG_10 = math.log(10.0) / 2.0


def roughness_from_friction(reynolds: ReynoldsNumber, friction: FrictionFactor) -> Ratio:
    """Find the relative roughness with which Colebrook-White gives a friction factor.

    Parameters
    ----------
    reynolds : ReynoldsNumber, scalar or shape (n,)
        Of turbulent runs, within the range of `laws.colebrook_white`.
    friction : FrictionFactor, scalar or shape (n,)
        Darcy's, of the same runs.

    Returns
    -------
    Ratio
        eps/D, above 0; times the bore it is the equivalent roughness.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A friction factor not above 0; a Reynolds number outside the range of the law; a friction
        factor at or below that of a smooth wall, which no roughness explains; or above that of
        the roughest wall of the law, eps/D = 0.05.

    Notes
    -----
    The law solved for eps/D = 3.7 (10^(-x/2) - 2.51 x/Re), x = 1/sqrt f [Colebrook 1939]. The
    error of the law itself is in it, as large as the law states it at the roughness found, and
    is the same component: ``laws.colebrook_white(re, roughness_from_friction(re, f))`` is f, not
    more uncertain.

    A single run often says little: near a smooth wall the uncertainty exceeds the roughness. Draws
    below 0 are kept, they mean that a smooth wall is not excluded. Runs at several Reynolds
    numbers say more together.

    Examples
    --------
    >>> from flowunc import FrictionFactor, ReynoldsNumber, roughness_from_friction
    >>> found = roughness_from_friction(ReynoldsNumber(20_000, "1"), FrictionFactor(0.0411, "1"))
    >>> round(found.value, 4)
    0.0104
    """
    name = "roughness_from_friction"
    re = named_argument(reynolds, ReynoldsNumber, name, "reynolds")
    f = named_argument(friction, FrictionFactor, name, "friction")
    require_positive(f, name, "friction")
    _require_covered(re, name)

    best = _solved(Ratio(f._node.value, "1"), Ratio(re._node.value, "1"))
    _require_explained(best, f, re, name)
    # an error of the law is a factor of f, as large as the law states it for this wall
    law_error = one_within(*colebrook_white.model_error(re._node.value, best._node.value))
    e = _solved(f / law_error, re)

    return Ratio._from_node(e._node, label="relative roughness")


def _solved(f: Ratio, re: Ratio | ReynoldsNumber) -> Ratio:
    x = f**-0.5
    e: Ratio = 3.7 * (np.exp(-_HALF_LOG_10 * x) - 2.51 * x / re)
    return e


def _require_covered(re: ReynoldsNumber, name: str) -> None:
    covered = np.atleast_1d(colebrook_white.covers(re))
    if not covered.all():
        run = int(np.argmin(covered))
        low, high = colebrook_white.reynolds_range
        raise RangeError(
            f"{name}(reynolds=...): {np.atleast_1d(re.value)[run]:.6g}{_place(re, run)}; expected "
            f"{low:g} to {high:g}, the range of {colebrook_white.title} "
            f"{colebrook_white.source}: choose rows with laws.colebrook_white.covers(...)"
        )


def _require_explained(e: Ratio, f: FrictionFactor, re: ReynoldsNumber, name: str) -> None:
    found = np.atleast_1d(e._node.value)
    assert colebrook_white.roughness_range is not None
    roughest = colebrook_white.roughness_range[1]
    bad = ~((found > 0) & (found <= roughest))
    if not bad.any():
        return
    run = int(np.argmax(bad))
    friction, reynolds = (float(np.resize(q._node.value, run + 1)[run]) for q in (f, re))
    given = f"{name}: f = {friction:.6g} at Re = {reynolds:.6g}{_place(e, run)}"
    if found[run] > 0:
        limit = colebrook_white(ReynoldsNumber(reynolds, "1"), roughest).value
        raise RangeError(
            f"{given} needs eps/D = {found[run]:.3g}; expected at most {roughest:g}, where the law "
            f"of {colebrook_white.title} ends at f = {limit:.6g}: check bore and tap spacing, and "
            "that f is Darcy's"
        )
    limit = colebrook_white(ReynoldsNumber(reynolds, "1"), 0).value
    u = float(np.resize(f._u_si(), run + 1)[run])
    uncertain = f"u(f) = {u:.2g}" if u > 0 else "no uncertainty is stated for f"
    raise RangeError(
        f"{given} is not above the {limit:.6g} of a smooth wall by {colebrook_white.title} "
        f"({uncertain}), so no roughness explains it; expected f above that: take the wall as "
        "smooth, leave out the run, or check the bore, which enters f as D^5, and that f is Darcy's"
    )


def _place(quantity: Ratio | ReynoldsNumber, run: int) -> str:
    return "" if quantity.ndim == 0 else f" at reading {run}"


def viscosity_from_laminar_drop(
    pressure_drop: Pressure,
    flow: VolumeFlowRate,
    bore: Length,
    tap_spacing: Length,
    *,
    density: Density | None = None,
) -> DynamicViscosity:
    """Find the viscosity of a liquid from the pressure drop of its laminar flow.

    Parameters
    ----------
    pressure_drop : Pressure, scalar or shape (n,)
        Piezometric pressure upstream minus downstream, above 0.
    flow : VolumeFlowRate, scalar or shape (n,)
        Above 0.
    bore : Length, scalar or shape (n,)
        Inside diameter. Bore and tap spacing are both lengths: nothing notices a swap.
    tap_spacing : Length, scalar or shape (n,)
        Distance between the taps along the pipe.
    density : Density, optional
        Of the liquid. It is not in the formula: given, it serves to refuse runs whose Reynolds
        number, with the viscosity found, is beyond that of laminar flow.

    Returns
    -------
    DynamicViscosity
        In Pa s.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A value not above 0; a Reynolds number above 2300, where ``density`` is given.

    Notes
    -----
    mu = pi D^4 dp/(128 Q L), Hagen-Poiseuille solved for the viscosity; developed laminar flow
    [White 2003, ch. 6]. 1 % in the bore is 4 % in the viscosity.

    Examples
    --------
    >>> from flowunc import Density, Length, Pressure, VolumeFlowRate, viscosity_from_laminar_drop
    >>> mu = viscosity_from_laminar_drop(
    ...     Pressure(15.3, "Pa"), VolumeFlowRate(1.5, "L/min"), Length(20, "mm"), Length(2.4, "m"),
    ...     density=Density(998.2, "kg/m^3"),
    ... )
    >>> round(mu.to("mPa*s").value, 4)
    1.0014
    """
    name = "viscosity_from_laminar_drop"
    dp = named_argument(pressure_drop, Pressure, name, "pressure_drop")
    Q = named_argument(flow, VolumeFlowRate, name, "flow")
    D = named_argument(bore, Length, name, "bore")
    L = named_argument(tap_spacing, Length, name, "tap_spacing")
    require_positive(dp, name, "pressure_drop")
    require_positive(Q, name, "flow")
    require_positive(D, name, "bore")
    require_positive(L, name, "tap_spacing")

    mu = math.pi * D**4 * dp / (128 * Q * L)

    if density is not None:
        rho = named_argument(density, Density, name, "density")
        require_positive(rho, name, "density")
        common_size((mu._node, rho._node))
        _require_laminar(4 * rho * Q / (math.pi * mu * D), name)
    return DynamicViscosity._from_node(mu._node, label="viscosity from laminar drop")


def _require_laminar(re: Ratio, name: str) -> None:
    highest = laminar.reynolds_range[1]
    bad = np.atleast_1d(re._node.value) > highest
    if bad.any():
        run = int(np.argmax(bad))
        raise RangeError(
            f"{name}: with the viscosity found Re is {np.atleast_1d(re.value)[run]:.5g}"
            f"{_place(re, run)}; expected {highest:g} at most, laminar flow: leave out the run"
        )
