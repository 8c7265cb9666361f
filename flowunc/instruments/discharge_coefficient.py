"""The discharge coefficient of an orifice plate, and the Reynolds number that goes with it.

The coefficient C of [ISO 5167-2] depends on the Reynolds number, and that on the flow, which
is proportional to C. With Phi, the Reynolds number that the pressure drop would give if C were
1, the pair is the solution of C = C(Phi C, beta, D): one recorded operation finds it by Newton's
method, and its derivatives follow from the equation itself,

    dC = (C_beta dbeta + C_D dD + C_Re C dPhi) / (1 - Phi C_Re).
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from flowunc.core.kinds import Length, Ratio
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.core.record import elementwise

__all__ = ["TAPS", "Taps", "coefficient_percent", "orifice_coefficient", "reader_harris_gallagher"]

Taps = Literal["corner", "D and D/2", "flange"]
TAPS: tuple[Taps, ...] = ("corner", "D and D/2", "flange")

_INCH = 0.0254  # m
_SMALL = 2.8 * _INCH  # m, bore below which a term for small pipes is added (71.12 mm)
_MOST_STEPS, _ENOUGH = 60, 4e-16


def reader_harris_gallagher(
    reynolds: Value, beta: Value, bore: Value, taps: Taps
) -> tuple[Value, Value, Value, Value]:
    """Return C and its derivatives to Reynolds number, diameter ratio and bore.

    Parameters
    ----------
    reynolds, beta, bore : ndarray
        Reynolds number of the pipe, ratio of orifice to bore, bore in m.
    taps : {"corner", "D and D/2", "flange"}

    Returns
    -------
    tuple of ndarray
        C, dC/dRe, dC/dbeta, dC/dbore.

    Notes
    -----
    C = 0.5961 + 0.0261 b^2 - 0.216 b^8 + 0.000521 (1e6 b/Re)^0.7
    + (0.0188 + 0.0063 A) b^3.5 (1e6/Re)^0.3
    + (0.043 + 0.080 e^(-10 L1) - 0.123 e^(-7 L1)) (1 - 0.11 A) b^4/(1 - b^4)
    - 0.031 (M2 - 0.8 M2^1.1) b^1.3, below D = 71.12 mm + 0.011 (0.75 - b)(2.8 - D/25.4 mm);
    A = (19000 b/Re)^0.8, M2 = 2 L2/(1 - b); L1 = L2 = 0 for corner taps, L1 = 1 and
    L2 = 0.47 for D and D/2, both 25.4 mm/D for flange taps. [ISO 5167-2, 5.3.2.1, eq. 4].
    """
    b, b4 = beta, beta**4
    # each term with its logarithmic derivatives: d/dRe = -p T/Re, d/db = p T/b
    A = (19000.0 * b / reynolds) ** 0.8
    dA_re, dA_b = -0.8 * A / reynolds, 0.8 * A / b
    wall = 0.000521 * (1e6 * b / reynolds) ** 0.7
    slow = b**3.5 * (1e6 / reynolds) ** 0.3
    width = 0.0188 + 0.0063 * A

    if taps == "flange":
        L1 = L2 = _INCH / bore
        dL = -L1 / bore
    else:
        L1, L2 = (np.asarray(0.0),) * 2 if taps == "corner" else (np.asarray(1.0), np.asarray(0.47))
        dL = np.asarray(0.0)
    e10, e7 = 0.080 * np.exp(-10.0 * L1), 0.123 * np.exp(-7.0 * L1)
    upstream, d_upstream = 0.043 + e10 - e7, (-10.0 * e10 + 7.0 * e7) * dL
    dam, d_dam = b4 / (1.0 - b4), 4.0 * b**3 / (1.0 - b4) ** 2
    M2 = 2.0 * L2 / (1.0 - b)
    downstream = -0.031 * (M2 - 0.8 * M2**1.1)
    to_M2 = -0.031 * (1.0 - 0.88 * M2**0.1)

    C = (
        0.5961
        + 0.0261 * b**2
        - 0.216 * b4**2
        + wall
        + width * slow
        + upstream * (1.0 - 0.11 * A) * dam
        + downstream * b**1.3
    )
    C_re = (
        -0.7 * wall / reynolds
        + (0.0063 * dA_re - 0.3 * width / reynolds) * slow
        - 0.11 * upstream * dA_re * dam
    )
    C_b = (
        0.0522 * b
        - 1.728 * b**7
        + 0.7 * wall / b
        + (0.0063 * dA_b + 3.5 * width / b) * slow
        + upstream * ((1.0 - 0.11 * A) * d_dam - 0.11 * dA_b * dam)
        + (to_M2 * M2 / (1.0 - b) + 1.3 * downstream / b) * b**1.3
    )
    C_D = (
        d_upstream * (1.0 - 0.11 * A) * dam + to_M2 * 2.0 * dL / (1.0 - b) * b**1.3
        if taps == "flange"
        else np.zeros_like(C)
    )
    narrow = bore < _SMALL
    rest = np.where(narrow, 2.8 - bore / _INCH, 0.0)
    C = C + 0.011 * (0.75 - b) * rest
    C_b = C_b - 0.011 * rest
    C_D = C_D - np.where(narrow, 0.011 * (0.75 - b) / _INCH, 0.0)
    return C, C_re, C_b, C_D


def _solution(taps: Taps) -> Elementwise:
    """Make the operation C(Phi, beta, D) for one kind of taps."""

    def evaluate(phi: Value, beta: Value, bore: Value, out: Value | None = None) -> Value:
        C = 0.6 + 0.0 * (phi * beta * bore)  # of the shape of all three, jets included
        more = 1  # the derivatives that jets carry are right one step after the value
        with np.errstate(all="ignore"):  # draws beyond the domain come out as NaN
            for _ in range(_MOST_STEPS):
                found, slope, _, _ = reader_harris_gallagher(phi * C, beta, bore, taps)
                step = (found - C) / (1.0 - phi * slope)
                C = C + step
                if not np.any(abs(step) > _ENOUGH * abs(C)):
                    if not more:
                        break
                    more -= 1
        return np.asarray(np.positive(C, out=out))

    def pull(
        weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
    ) -> tuple[Weight, ...]:
        phi, beta, bore = values
        _, to_re, to_beta, to_bore = reader_harris_gallagher(phi * result, beta, bore, taps)
        carried = weight / (1.0 - phi * to_re)
        return carried * to_re * result, carried * to_beta, carried * to_bore

    name = f"{taps.replace(' ', '_').replace('/', '_').upper()}_TAPS"
    return Elementwise(name, "discharge coefficient", evaluate, pull, module=__name__)


CORNER_TAPS = _solution("corner")
D_AND_D_2_TAPS = _solution("D and D/2")
FLANGE_TAPS = _solution("flange")
_OPERATIONS = dict(zip(TAPS, (CORNER_TAPS, D_AND_D_2_TAPS, FLANGE_TAPS), strict=True))


def orifice_coefficient(phi: Ratio, beta: Ratio, bore: Length, taps: Taps) -> Ratio:
    """Return C at the flow that a pressure drop makes.

    Parameters
    ----------
    phi : Ratio
        Reynolds number of the pipe if C were 1.
    beta : Ratio
        Orifice over bore.
    bore : Length
        Of the pipe.
    taps : {"corner", "D and D/2", "flange"}

    Returns
    -------
    Ratio
        Solution of C = C(phi C, beta, bore).
    """
    node = elementwise(_OPERATIONS[taps], phi._node, beta._node, bore._node)
    return Ratio._from_node(node, label="discharge coefficient")


def coefficient_percent(reynolds: Value, beta: Value, bore: Value) -> Value:
    """Return the expanded uncertainty (k = 2) of C in per cent.

    Notes
    -----
    (0.7 - b) below b = 0.2, 0.5 up to 0.6, then (1.667 b - 0.5); plus 0.9 (0.75 - b)
    (2.8 - D/25.4 mm) below D = 71.12 mm; plus 0.5 for b > 0.5 and Re < 10 000
    [ISO 5167-2, 5.3.3.1].
    """
    percent = np.where(beta < 0.2, 0.7 - beta, np.where(beta > 0.6, 1.667 * beta - 0.5, 0.5))
    small = np.where(bore < _SMALL, 0.9 * (0.75 - beta) * (2.8 - bore / _INCH), 0.0)
    slow = np.where((beta > 0.5) & (reynolds < 1e4), 0.5, 0.0)
    return np.asarray(percent + small + slow)
