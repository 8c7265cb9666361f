"""Which law each run is held against: by its most probable regime, if the law covers it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.agreement import agreement
from flowunc.bench.description.bench import Bench
from flowunc.core.kinds import FrictionFactor, ReynoldsNumber
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate
from flowunc.pipe import laws
from flowunc.pipe.laws import FrictionLaw
from flowunc.pipe.regimes import Regimes

__all__ = ["LawChoice", "choose_laws", "normalised_errors"]


class LawChoice(NamedTuple):
    """The law of every run.

    Attributes
    ----------
    names : tuple of str
        In `flowunc.laws`; "-" where there is none.
    reasons : tuple of str
        Why there is none, "" where there is one.
    compared : ndarray of int, shape (m,)
        Runs that have a law.
    expected : FrictionFactor, shape (m,), or None
        What the laws give for those runs.
    """

    names: tuple[str, ...]
    reasons: tuple[str, ...]
    compared: NDArray[np.intp]
    expected: FrictionFactor | None


def choose_laws(reynolds: ReynoldsNumber, regimes: Regimes, bench: Bench) -> LawChoice:
    """Choose the law of every run and evaluate it there.

    Laminar runs are held against 64/Re, turbulent ones against the law of the bench,
    transitional ones against none: no law holds there.
    """
    count = len(reynolds)
    names, reasons = ["-"] * count, ["transitional flow has no law"] * count
    regime = np.asarray(regimes.name)
    rows, parts = [], []
    for word, law in (("laminar", laws.laminar), ("turbulent", bench.law)):
        mine = np.flatnonzero(regime == word)
        if not mine.size:
            continue
        roughness = None if law.roughness_range is None else bench.relative_roughness
        inside = np.asarray(law.covers(reynolds[mine], roughness))
        low, high = law.reynolds_range
        held = f"Re {low:g} to {high:g} only"
        if law.joint_range is not None:
            held += f", {law.joint_range.text}"
        for run, covered in zip(mine, inside, strict=True):
            names[run] = law.name if covered else "-"
            reasons[run] = "" if covered else f"{law.title} holds for {held}"
        chosen = mine[inside]
        if chosen.size:
            rows.append(chosen)
            parts.append(_value(law, reynolds[chosen], bench))
    if not rows:
        return LawChoice(tuple(names), tuple(reasons), np.zeros(0, dtype=np.intp), None)
    joined = np.concatenate(rows)
    order = np.argsort(joined)
    expected: FrictionFactor = concatenate(parts)[order]
    return LawChoice(
        tuple(names), tuple(reasons), joined[order], expected.labelled("friction factor by law")
    )


def _value(law: FrictionLaw, reynolds: ReynoldsNumber, bench: Bench) -> FrictionFactor:
    if law.roughness_range is None:
        return law(reynolds)
    return law(reynolds, bench.relative_roughness)


def normalised_errors(friction: Quantity, choice: LawChoice) -> NDArray[np.float64]:
    """Return E_n of every run, NaN where it has no law."""
    result = np.full(len(friction), np.nan)
    expected = choice.expected
    if expected is None:
        return result
    result[choice.compared] = agreement(friction[choice.compared], expected).normalised_error
    return result
