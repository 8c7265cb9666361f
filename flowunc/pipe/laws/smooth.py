"""Laws for laminar flow and for turbulent flow along a smooth wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from flowunc.core.component import Term
from flowunc.core.kinds import Ratio
from flowunc.pipe.laws.implicit import friction_from_implicit
from flowunc.pipe.laws.law import Floats, FrictionLaw, model_component

__all__ = ["blasius", "filonenko", "laminar", "prandtl_smooth"]

# Compared with [McKeon 2005], extended form, and with each other over the whole range (computed).
# Blasius lies 3.2 % below to 1.7 % above McKeon, 1.1 % below to 2.8 % above Prandtl; Prandtl 2.9 %
# to 0.9 % below McKeon, which itself claims 1.4 %; Filonenko 2.4 % below to 0.3 % above McKeon,
# 0.4 % below to 1.8 % above Prandtl. Limits are taken to cover the disagreement.
_BLASIUS = model_component("blasius", "Blasius law", 0.035)
_PRANDTL = model_component("prandtl_smooth", "Prandtl smooth-pipe law", 0.03)
_FILONENKO = model_component("filonenko", "Filonenko law", 0.025)


def _laminar(re: Ratio, roughness: Ratio) -> Ratio:
    f: Ratio = 64 / re
    return f


def _blasius(re: Ratio, roughness: Ratio) -> Ratio:
    f: Ratio = 0.3164 * re**-0.25
    return f


def _prandtl_smooth(re: Ratio, roughness: Ratio) -> Ratio:
    # 2 log10(Re sqrt f) - 0.8 = -2 log10(10^0.4 / (Re sqrt f))
    return friction_from_implicit(0.0, math.pow(10.0, 0.4) / re)


def _filonenko(re: Ratio, roughness: Ratio) -> Ratio:
    log_reynolds: Any = np.log10(re)
    f: Ratio = (1.82 * log_reynolds - 1.64) ** -2
    return f


def _blasius_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return (Term(_BLASIUS),)


def _prandtl_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return (Term(_PRANDTL),)


def _filonenko_error(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return (Term(_FILONENKO),)


laminar = FrictionLaw(
    name="laminar",
    title="laminar flow",
    formula="f = 64/Re",
    reynolds_range=(0.0, 2300.0),
    uncertainty="exact for developed flow; 2300 is where laminar flow is usually taken to end",
    source="[White 2003, ch. 6]: Hagen-Poiseuille, solution of the equations of motion",
    equation=_laminar,
)
blasius = FrictionLaw(
    name="blasius",
    title="Blasius",
    formula="f = 0.3164 Re^-0.25",
    reynolds_range=(4.0e3, 1.0e5),
    uncertainty="+-3.5 % (rectangular): covers [McKeon 2005] and Prandtl over the range, computed",
    source="[Blasius 1913]",
    equation=_blasius,
    model_error=_blasius_error,
)
prandtl_smooth = FrictionLaw(
    name="prandtl_smooth",
    title="Prandtl, smooth pipe",
    formula="1/sqrt f = 2 log10(Re sqrt f) - 0.8",
    reynolds_range=(4.0e3, 3.4e6),
    uncertainty="+-3 % (rectangular): covers [McKeon 2005] and Blasius over the range, computed",
    source="[Prandtl 1933], range from memory",
    equation=_prandtl_smooth,
    model_error=_prandtl_error,
)
filonenko = FrictionLaw(
    name="filonenko",
    title="Filonenko, smooth pipe",
    formula="f = (1.82 log10 Re - 1.64)^-2",
    reynolds_range=(1.0e4, 5.0e6),
    uncertainty="+-2.5 % (rectangular): covers [McKeon 2005], Prandtl and Blasius over the range, "
    "computed",
    source="[Filonenko 1954], range by [Petukhov 1970], from memory",
    equation=_filonenko,
    model_error=_filonenko_error,
)
