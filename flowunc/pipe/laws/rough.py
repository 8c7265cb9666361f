"""Laws that take the roughness of the wall: Colebrook-White and what approximates it.

The approximations carry the error of Colebrook-White itself, the *same* component, and one of
their own for the distance from it. So their difference from it has only the second.

[Moody 1944] states two errors, of smooth and of rough pipes. Which one applies is a matter of how
the wall acts, not of whether e is 0 in writing: from hydraulically smooth to fully rough the error
grows with the logarithm of the roughness Reynolds number, an interpolation of our own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from flowunc.core.component import Component, Term
from flowunc.core.kinds import Ratio
from flowunc.pipe.laws.implicit import friction_from_implicit, plain_friction
from flowunc.pipe.laws.law import Floats, FrictionLaw, JointRange, model_component

__all__ = ["churchill_1977", "colebrook_white", "haaland", "nikuradse_rough", "swamee_jain"]

_REYNOLDS = (4.0e3, 1.0e8)
_ROUGHNESS = (0.0, 0.05)

# [Moody 1944], from memory: 5 % for smooth, 10 % for rough pipes.
_COLEBROOK_SMOOTH = 0.05
_ROUGH_FACTOR = 2.0
_COLEBROOK = model_component("colebrook_white", "Colebrook-White law", _COLEBROOK_SMOOTH)
# Largest distance from Colebrook-White over _REYNOLDS and _ROUGHNESS (computed): 1.42, 3.36 and
# 3.15 %.
_HAALAND = model_component("haaland", "Haaland approximation", 0.015)
_SWAMEE_JAIN = model_component("swamee_jain", "Swamee-Jain approximation", 0.035)
# Churchill's curve in three parts (computed). Up to Re 2000 it lies within 0.14 % of 64/Re. From
# there to 4000 no curve holds, f jumps between the laminar and the turbulent value: down to 79 %
# below the curve, and up to 54 % above it in a smooth pipe.
_CHURCHILL = model_component("churchill_1977", "Churchill curve", 0.035)
_CHURCHILL_LAMINAR_END = 2000.0
_CHURCHILL_LAMINAR = 0.002
_CHURCHILL_TRANSITION = 0.80
_CHURCHILL_TURBULENT = 0.035
# Roughness Reynolds number e Re sqrt(f/8), the roughness in units of nu/u*: up to where it has no
# effect, and from where on f no longer depends on Re [Schlichting 1979]. At the latter the fully
# rough law lies up to 2.10 % below Colebrook-White (computed), at e = 0.05; 14 804 is the lowest
# Re it is reached at, there too.
_SMOOTH, _FULLY_ROUGH = 5.0, 70.0
_LOWEST_FULLY_ROUGH = 1.5e4
_NIKURADSE = model_component("nikuradse_rough", "Nikuradse fully rough law", 0.022)


def _colebrook_white(re: Ratio, roughness: Ratio) -> Ratio:
    return friction_from_implicit(roughness / 3.7, 2.51 / re)


# The minus signs keep the bases positive: a power of a negative number is 40 times slower.
def _haaland(re: Ratio, roughness: Ratio) -> Ratio:
    f: Ratio = (-1.8 * np.log10((roughness / 3.7) ** 1.11 + 6.9 / re)) ** -2
    return f


def _swamee_jain(re: Ratio, roughness: Ratio) -> Ratio:
    f: Ratio = 0.25 / np.log10(roughness / 3.7 + 5.74 / re**0.9) ** 2
    return f


def _churchill_1977(re: Ratio, roughness: Ratio) -> Ratio:
    A = (-2.457 * np.log((7 / re) ** 0.9 + 0.27 * roughness)) ** 16
    B = (37530 / re) ** 16
    f: Ratio = 8 * ((8 / re) ** 12 + (A + B) ** -1.5) ** (1 / 12)
    return f


def _nikuradse_rough(re: Ratio, roughness: Ratio) -> Ratio:
    f: Ratio = (-2.0 * np.log10(roughness / 3.7)) ** -2
    # Re has no effect, but there is one value for each of its readings
    shape = np.broadcast_shapes(re.shape, f.shape)
    return f if shape == f.shape else f * np.ones(shape)


def _is_fully_rough(reynolds: Floats, roughness: Floats) -> NDArray[np.bool_]:
    # e Re sqrt(f/8) with 1/sqrt f = -2 log10(e/3.7); e = 0 has no roughness at all
    known = np.where(roughness > 0, roughness, 1.0)
    velocity_ratio = -2.0 * np.log10(known / 3.7) * math.sqrt(8.0)
    found: NDArray[np.bool_] = roughness * reynolds >= _FULLY_ROUGH * velocity_ratio
    return found & (roughness > 0)


def _colebrook_term(reynolds: Floats, roughness: Floats, share: Floats | float = 1.0) -> Term:
    return _term(_COLEBROOK, _roughness_factor(reynolds, roughness) * share)


def _roughness_factor(reynolds: Floats, roughness: Floats) -> Floats:
    """Return by how much the error exceeds that of a smooth wall: no step where e leaves 0."""
    friction = plain_friction(np.maximum(roughness, 0.0) / 3.7, 2.51 / reynolds)
    acting = np.clip(roughness * reynolds * np.sqrt(friction / 8.0), _SMOOTH, _FULLY_ROUGH)
    share = np.log(acting / _SMOOTH) / math.log(_FULLY_ROUGH / _SMOOTH)
    return np.asarray(1.0 + (_ROUGH_FACTOR - 1.0) * share)


def _term(component: Component, gain: Floats) -> Term:
    return Term(component, float(gain) if gain.ndim == 0 else gain)


def _colebrook_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return (_colebrook_term(reynolds, roughness),)


def _haaland_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return _colebrook_term(reynolds, roughness), Term(_HAALAND)


def _swamee_jain_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return _colebrook_term(reynolds, roughness), Term(_SWAMEE_JAIN)


def _nikuradse_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return _colebrook_term(reynolds, roughness), Term(_NIKURADSE)


def _churchill_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    turbulent = reynolds >= _REYNOLDS[0]
    laminar = reynolds <= _CHURCHILL_LAMINAR_END
    width = np.where(
        laminar,
        _CHURCHILL_LAMINAR,
        np.where(turbulent, _CHURCHILL_TURBULENT, _CHURCHILL_TRANSITION),
    )
    own = _term(_CHURCHILL, width / _CHURCHILL_TURBULENT)
    if not turbulent.any():
        return (own,)
    return _colebrook_term(reynolds, roughness, turbulent.astype(np.float64)), own


colebrook_white = FrictionLaw(
    name="colebrook_white",
    title="Colebrook-White",
    formula="1/sqrt f = -2 log10(e/3.7 + 2.51/(Re sqrt f))",
    reynolds_range=_REYNOLDS,
    roughness_range=_ROUGHNESS,
    uncertainty="+-5 % smooth, +-10 % fully rough (rectangular) [Moody 1944], from memory; "
    "between, from e Re sqrt(f/8) = 5 to 70, interpolated in its logarithm",
    source="[Colebrook 1939]",
    equation=_colebrook_white,
    model_error=_colebrook_error,
)
haaland = FrictionLaw(
    name="haaland",
    title="Haaland",
    formula="1/sqrt f = -1.8 log10((e/3.7)^1.11 + 6.9/Re)",
    reynolds_range=_REYNOLDS,
    roughness_range=_ROUGHNESS,
    uncertainty="that of Colebrook-White, and +-1.5 % for the distance from it (computed)",
    source="[Haaland 1983]",
    equation=_haaland,
    model_error=_haaland_error,
)
swamee_jain = FrictionLaw(
    name="swamee_jain",
    title="Swamee-Jain",
    formula="f = 0.25/log10(e/3.7 + 5.74/Re^0.9)^2",
    reynolds_range=_REYNOLDS,
    roughness_range=_ROUGHNESS,
    uncertainty="that of Colebrook-White, and +-3.5 % for the distance from it (computed)",
    source="[Swamee-Jain 1976], who give 5e3 to 1e8 and 1e-6 to 0.01 (from memory)",
    equation=_swamee_jain,
    model_error=_swamee_jain_error,
)
nikuradse_rough = FrictionLaw(
    name="nikuradse_rough",
    title="Nikuradse, fully rough",
    formula="1/sqrt f = -2 log10(e/3.7)",
    reynolds_range=(_LOWEST_FULLY_ROUGH, _REYNOLDS[1]),
    roughness_range=_ROUGHNESS,
    joint_range=JointRange("e Re sqrt(f/8) of 70 or more: a fully rough wall", _is_fully_rough),
    uncertainty="that of Colebrook-White, and +-2.2 % for the distance from it (computed)",
    source="[Nikuradse 1933], constant as in [Colebrook 1939]",
    equation=_nikuradse_rough,
    model_error=_nikuradse_error,
)
churchill_1977 = FrictionLaw(
    name="churchill_1977",
    title="Churchill 1977",
    formula="f = 8[(8/Re)^12 + (A+B)^-1.5]^(1/12), A = [2.457 ln(1/((7/Re)^0.9+0.27e))]^16, "
    "B = (37530/Re)^16",
    reynolds_range=(1.0, _REYNOLDS[1]),
    roughness_range=_ROUGHNESS,
    uncertainty="+-0.2 % up to Re 2000; +-80 % in transition, where no curve holds; from Re 4000 "
    "that of Colebrook-White, and +-3.5 % for the distance from it (computed)",
    source="[Churchill 1977]",
    equation=_churchill_1977,
    model_error=_churchill_error,
)
