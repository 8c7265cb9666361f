"""The law of McKeon, Zagarola and Smits for a smooth wall, and its solution for f.

With x = 1/sqrt f it reads x = A ln(Re/x) + B - C (Re/x)^-0.55. Without the last term the Wright
omega function solves it; from there Newton's steps go to the root. The function of x whose root
is sought rises and is concave, so from the first step on they approach it from one side and
cannot miss it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import scipy

from flowunc.core.component import Term
from flowunc.core.kinds import Ratio
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.core.record import elementwise
from flowunc.pipe.laws.law import Floats, FrictionLaw, model_component

__all__ = ["mckeon"]

_A = 1.920 / math.log(10.0)
_B = -0.475
_C = 7.04
_POWER = 0.55
# From Re 1e4 on two steps leave a relative error of 5e-11 in f and three none (computed); the
# fourth is for draws that stray to low Re.
_STEPS = 4

_MCKEON = model_component("mckeon", "McKeon law", 0.014)


def _evaluate(reynolds: Value, out: Value | None = None) -> Value:
    log_reynolds = np.log(reynolds)
    x = _A * scipy.special.wrightomega(log_reynolds + (_B / _A - math.log(_A)))
    for _ in range(_STEPS):
        log_ratio = log_reynolds - np.log(x)
        low_term = _C * np.exp(-_POWER * log_ratio)
        gap = x - _A * log_ratio - _B + low_term
        x = x - gap / (1.0 + (_A + _POWER * low_term) / x)
    found: Value = np.divide(1.0, x * x, out=out)
    return found


def _pull(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    # of F(x, Re) = 0 : d ln f/d ln Re = -2 t/(x + t) with t = A + 0.55 C (Re/x)^-0.55
    x = 1.0 / np.sqrt(result)
    t = _A + _POWER * _C * (x / values[0]) ** _POWER
    return (weight * (-2.0 * t / (x + t) * (result / values[0])),)


MCKEON = Elementwise("MCKEON", "McKeon friction factor", _evaluate, _pull, module=__name__)


def _mckeon(re: Ratio, roughness: Ratio) -> Ratio:
    return Ratio._from_node(elementwise(MCKEON, re._node))


def _mckeon_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return (Term(_MCKEON),)


mckeon = FrictionLaw(
    name="mckeon",
    title="McKeon, smooth pipe",
    formula="1/sqrt f = 1.920 log10(Re sqrt f) - 0.475 - 7.04/(Re sqrt f)^0.55",
    reynolds_range=(1.0e4, 3.5e7),
    uncertainty="+-1.4 % (rectangular), its own claim; constants, range and claim from memory",
    source="[McKeon 2005]",
    equation=_mckeon,
    model_error=_mckeon_error,
)
