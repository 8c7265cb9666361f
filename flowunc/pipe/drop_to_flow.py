"""The flow that a known pressure drop drives through a pipe, without iteration.

Re sqrt f holds the pressure drop but not the flow. It gives f in closed form: by f = 64/Re in
laminar flow, and by Colebrook-White, which is implicit only if Re is given.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowunc.core.errors import RangeError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    Length,
    Pressure,
    Ratio,
    VolumeFlowRate,
)
from flowunc.core.naming import named_argument
from flowunc.fluids.model_error import one_within
from flowunc.pipe.laws.rough import colebrook_white
from flowunc.pipe.laws.smooth import laminar
from flowunc.pipe.signs import require_not_negative, require_positive

__all__ = ["flow_from_drop"]

_NAME = "flow_from_drop"


def flow_from_drop(
    pressure_drop: Pressure,
    bore: Length,
    tap_spacing: Length,
    density: Density,
    viscosity: DynamicViscosity,
    roughness: Length | None = None,
) -> VolumeFlowRate:
    """Find the flow that a pressure drop drives through a pipe.

    Parameters
    ----------
    pressure_drop : Pressure, scalar or shape (n,)
        Piezometric pressure upstream minus downstream, above 0.
    bore : Length, scalar or shape (n,)
        Inside diameter. Bore, tap spacing and roughness are all lengths: nothing notices a swap.
    tap_spacing : Length, scalar or shape (n,)
        Distance between the taps along the pipe.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.
    viscosity : DynamicViscosity, scalar or shape (n,)
        Of the flowing liquid.
    roughness : Length, scalar or shape (n,), optional
        Equivalent roughness of the wall; a smooth wall without it. It has no effect in laminar
        flow.

    Returns
    -------
    VolumeFlowRate
        In m^3/s. In turbulent flow it carries the error of the Colebrook-White law.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A value not above 0 (a roughness below 0), a relative roughness or a Reynolds number
        beyond the range of the law, or a pressure drop for which neither a laminar flow up to
        Re 2300 nor a turbulent one from Re 4000 on exists: no law holds between.

    Notes
    -----
    With G = Re sqrt f = D^1.5 sqrt(2 dp rho/L)/mu:

    - laminar, G^2/64 = Re up to 2300: Q = pi D^4 dp/(128 mu L) [White 2003, ch. 6];
    - turbulent, G x = Re from 4000 on: x = 1/sqrt f = -2 log10(eps/(3.7 D) + 2.51/G)
      [Colebrook 1939], Q = (pi D^2/4) sqrt(2 D dp/(rho L)) x.

    No pressure drop allows both. The values choose the regime; all draws of a simulation then
    follow it. Laminar flow is sometimes found above Re 2300; this function does not assume it.

    Examples
    --------
    >>> from flowunc import Density, DynamicViscosity, Length, Pressure, flow_from_drop
    >>> flow = flow_from_drop(
    ...     Pressure([15.3, 400.0], "Pa"), Length(20, "mm"), Length(2.4, "m"),
    ...     Density(998.2, "kg/m^3"), DynamicViscosity(1.0016, "mPa*s"),
    ... )
    >>> flow.to("L/min").value.round(3)
    array([1.5  , 8.664])
    """
    dp = named_argument(pressure_drop, Pressure, _NAME, "pressure_drop")
    D = named_argument(bore, Length, _NAME, "bore")
    L = named_argument(tap_spacing, Length, _NAME, "tap_spacing")
    rho = named_argument(density, Density, _NAME, "density")
    mu = named_argument(viscosity, DynamicViscosity, _NAME, "viscosity")
    require_positive(dp, _NAME, "pressure_drop")
    require_positive(D, _NAME, "bore")
    require_positive(L, _NAME, "tap_spacing")
    require_positive(rho, _NAME, "density")
    require_positive(mu, _NAME, "viscosity")
    e = _relative(roughness, D)

    slope = 2 * dp * D / L
    squared = slope * rho * D**2 / mu**2  # (Re sqrt f)^2
    shape = np.broadcast_shapes(squared.shape, e.shape)
    # an error of the law is a factor of f, and so 1/sqrt(error) one of x and of G in the law
    error = np.sqrt(one_within(*colebrook_white.model_error(np.ones(()), e._node.value)))
    x: Any = -2 * np.log10(e / 3.7 + 2.51 * error / np.sqrt(squared)) / error
    is_turbulent = _regimes(squared, x, e)

    if not is_turbulent.any():
        Q = math.pi / 128 * D**4 * dp / (mu * L)
    elif is_turbulent.all():
        Q = math.pi / 4 * D**2 * np.sqrt(slope / rho) * x
    else:
        chosen = is_turbulent.astype(np.float64)
        Q = (1.0 - chosen) * (math.pi / 128 * D**4 * dp / (mu * L))
        Q = Q + chosen * (math.pi / 4 * D**2 * np.sqrt(slope / rho) * x)
    if Q.shape != shape:  # the density has no effect in laminar flow, but one value for each run
        Q = Q * np.ones(shape)
    return VolumeFlowRate._from_node(Q._node, label="flow from pressure drop")


def _relative(roughness: Length | None, bore: Length) -> Ratio:
    if roughness is None:
        return Ratio(0.0, "1")
    eps = named_argument(roughness, Length, _NAME, "roughness")
    require_not_negative(eps, _NAME, "roughness")
    e: Ratio = eps / bore
    assert colebrook_white.roughness_range is not None
    roughest = colebrook_white.roughness_range[1]
    bad = np.atleast_1d(e._node.value) > roughest
    if bad.any():
        run = int(np.argmax(bad))
        place = "" if e.ndim == 0 else f" at reading {run}"
        raise RangeError(
            f"{_NAME}(roughness=...): {np.atleast_1d(e._node.value)[run]:.3g} of the bore{place}; "
            f"expected at most {roughest:g}, the range of {colebrook_white.title}: check the unit"
        )
    return e


def _regimes(squared: Ratio, x: Ratio, e: Ratio) -> NDArray[np.bool_]:
    """Tell which runs are turbulent; refuse those that no law holds for."""
    if_laminar = squared._node.value / 64.0
    if_turbulent = np.sqrt(squared._node.value) * x._node.value
    if_laminar = np.broadcast_to(if_laminar, if_turbulent.shape)
    low, (high, highest) = laminar.reynolds_range[1], colebrook_white.reynolds_range
    is_turbulent = if_laminar > low
    between = np.atleast_1d(is_turbulent & (if_turbulent < high))
    beyond = np.atleast_1d(is_turbulent & (if_turbulent > highest))
    bad = between | beyond
    if bad.any():
        run = int(np.argmax(bad))
        place = "" if if_turbulent.ndim == 0 else f" at reading {run}"
        reynolds = float(np.atleast_1d(if_turbulent)[run])
        if beyond[run]:
            raise RangeError(
                f"{_NAME}(pressure_drop=...): turbulent flow would have Re = {reynolds:.4g}"
                f"{place}; expected {highest:g} at most, the range of {colebrook_white.title}: "
                "check units"
            )
        raise RangeError(
            f"{_NAME}(pressure_drop=...): laminar flow would have Re = "
            f"{float(np.atleast_1d(if_laminar)[run]):.4g}, turbulent flow {reynolds:.4g}{place}; "
            f"expected {low:g} at most or {high:g} and more: between them, in transitional flow, "
            "no law gives the flow; measure it, or leave out the run"
        )
    return is_turbulent
