"""The Prandtl and Colebrook-White equations solved for f in closed form.

Both have the shape ``x = -c ln(a + b x)`` with x = 1/sqrt f and c = 2/ln 10. With
w = (a + b x)/(b c) that is w + ln w = a/(b c) - ln(b c), whose solution is the Wright omega
function: no iteration, no starting value, and an exact derivative omega' = omega/(1 + omega).
"""

from __future__ import annotations

import math

import numpy as np
import scipy
from numpy.typing import NDArray

from flowunc.core.kinds import Ratio
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.core.record import elementwise

__all__ = ["friction_from_implicit", "plain_friction", "wright_omega"]

_C = 2.0 / math.log(10.0)


def _pull(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return (weight * (result / (1.0 + result)),)


WRIGHT_OMEGA = Elementwise(
    "WRIGHT_OMEGA",
    "Wright omega",
    lambda x, out=None: scipy.special.wrightomega(x, out=out),
    _pull,
    module=__name__,
)


def wright_omega(z: Ratio) -> Ratio:
    """Return the solution w of w + ln w = z."""
    return Ratio._from_node(elementwise(WRIGHT_OMEGA, z._node))


def friction_from_implicit(a: Ratio | float, b: Ratio) -> Ratio:
    """Solve 1/sqrt f = -2 log10(a + b/sqrt f) for f.

    Parameters
    ----------
    a : Ratio or float
        0 or more.
    b : Ratio
        Above 0.

    Returns
    -------
    Ratio
        f.
    """
    scale = b * _C
    omega = wright_omega(a / scale - np.log(scale))
    # not x = c (omega - a/scale): at large Re and roughness two numbers near 1e6 would cancel
    # the minus sign is for speed: a power of a negative number is 40 times slower
    result: Ratio = (-_C * np.log(scale * omega)) ** -2
    return result


def plain_friction(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the f of `friction_from_implicit` for plain numbers, which nothing records."""
    scale = b * _C
    omega = scipy.special.wrightomega(a / scale - np.log(scale))
    return np.asarray((-_C * np.log(scale * omega)) ** -2)
