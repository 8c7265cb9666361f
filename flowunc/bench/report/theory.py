"""Sections on what the results say: agreement with the laws, and what can be fitted to them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
import scipy

from flowunc.analysis.agreement import MOST_TOGETHER, Agreement
from flowunc.analysis.common_bias import CommonBias
from flowunc.analysis.drawn_agreement import DrawnAgreement
from flowunc.analysis.laminar_constant import LaminarConstant
from flowunc.analysis.law_comparison import LawComparison
from flowunc.analysis.power_law import PowerLawFit
from flowunc.analysis.residual_pattern import ResidualPattern
from flowunc.analysis.roughness_fit import RoughnessFit
from flowunc.bench.report.asked import MOST_ROWS, Asked, K
from flowunc.bench.report.content import (
    Block,
    Formula,
    Listing,
    Paragraph,
    Section,
    Subheading,
    table,
)
from flowunc.bench.report.wording import (
    NONE,
    estimate,
    interval,
    number,
    pair,
)
from flowunc.core.kinds import ReynoldsNumber
from flowunc.core.quantity import Quantity

__all__ = ["agreement_section", "fits_section"]

_MOST_BIASES = 8
_FEWEST_FOR_SCATTER = 3  # runs from which a law with two constants leaves something to test


def agreement_section(asked: Asked, charts: tuple[Block, ...]) -> Section:
    """Hold f against the laws: run by run, by draws, all together, for a pattern, for a cause."""
    found = asked.agreement
    if not isinstance(found, Agreement):
        return Section("Agreement with the laws", (Paragraph(found),))
    drawn = asked.attempt(lambda: asked.runs.drawn_agreement(level=asked.level, **asked.draws))
    blocks: list[Block] = [
        Paragraph(
            "f less f by the law, with U = 2 u of that difference. E_n if independent is what E_n "
            "would be if measured and expected had no error in common, which is wrong and often "
            "taken for granted. The last two columns come from draws of the difference: its "
            f"{100 * asked.level:g} % interval, and whether 0 lies inside."
        ),
        _differences(asked, found, drawn),
        Paragraph(f"All runs: {found.sentence}."),
        Paragraph(f"By draws: {drawn.sentence}." if isinstance(drawn, DrawnAgreement) else drawn),
        *charts,
    ]
    if asked.compared > MOST_TOGETHER:
        blocks.append(
            Paragraph(
                f"Tests of all runs together, for a pattern and for a cause, are not part of a "
                f"report of more than {MOST_TOGETHER} runs that have a law."
            )
        )
    else:
        blocks += [*_pattern(asked, found), *_bias(asked)]
    blocks += _comparison(asked)
    return Section("Agreement with the laws", tuple(blocks))


def _differences(asked: Asked, found: Agreement, drawn: DrawnAgreement | str) -> Block:
    labels = [asked.runs.labels[row] for row in asked.runs.laws(**asked.draws).compared]
    rows = []
    numbers = (
        found.difference,
        found.expanded,
        found.normalised_error,
        found.independent_normalised_error,
    )
    columns = [np.atleast_1d(np.asarray(part, dtype=np.float64)) for part in numbers]
    for row, label in enumerate(labels[:MOST_ROWS]):
        difference, expanded, error, independent = (float(column[row]) for column in columns)
        by_draws, verdict = NONE, NONE
        if isinstance(drawn, DrawnAgreement):
            ends = (float(np.atleast_1d(end)[row]) for end in (drawn.low, drawn.high))
            by_draws, verdict = interval(*ends), drawn.verdicts[row]
        rows.append(
            [
                label,
                pair(difference, expanded),
                f"{error:.2f}",
                f"{independent:.2f}",
                by_draws,
                verdict,
            ]
        )
    head = ["run", "f − law ± U", "E_n", "E_n if independent", "f − law, drawn", "verdict of draws"]
    return table("Differences from the laws", head, rows, "lrrrrl")


def _pattern(asked: Asked, found: Agreement) -> Iterator[Block]:
    yield Subheading("Is there a pattern?")
    if np.atleast_1d(found.difference).size < 2:
        yield Paragraph("One run alone shows no pattern.")
        return
    pattern = asked.attempt(lambda: asked.runs.residual_pattern(**asked.draws))
    if not isinstance(pattern, ResidualPattern):
        yield Paragraph(pattern)
        return
    yield Paragraph(
        "Errors in common give deviations of one sign, so signs alone say nothing. The deviations "
        "are first made independent, in the order of Re; then their signs have to be mixed as "
        f"those of coins are, without a trend [Wald 1940]. Found: {pattern.sentence}."
    )


def _bias(asked: Asked) -> Iterator[Block]:
    bias = asked.attempt(lambda: asked.runs.common_bias(k=K, **asked.draws))
    if not isinstance(bias, CommonBias):
        yield Paragraph(bias)
        return
    if not bias.disagree:
        yield Paragraph("There is no disagreement that a single error in common would explain.")
        return
    yield Subheading("Which single error could explain the disagreement?")
    yield Paragraph(f"{bias.sentence}.")
    if not bias.explanations:
        return
    rows = [
        [
            each.label,
            estimate(each.offset),
            each.stated,
            number(each.after.value, 3),
            "yes" if each.removes else "no",
            "yes" if each.plausible else "no",
        ]
        for each in bias.explanations[:_MOST_BIASES]
    ]
    head = ["error taken as unknown", "offset", "stated", "χ² left", "removes it", "plausible"]
    yield table("Single errors, the best explanation first", head, rows, "wrrrll")


def _comparison(asked: Asked) -> Iterator[Block]:
    turbulent = len(asked.regime_rows("turbulent"))
    if not 0 < turbulent <= MOST_TOGETHER:
        return
    found = asked.attempt(lambda: asked.runs.compare_laws(**asked.draws))
    yield Subheading("Which law of turbulent flow explains the runs?")
    if not isinstance(found, LawComparison):
        yield Paragraph(found)
        return
    rows = []
    for each in found.laws:
        chi_square = NONE if each.goodness is None else number(each.goodness.value, 3)
        fitted = "*" if each.fitted else ""
        rows.append(
            [
                each.law.title,
                f"{number(each.relative_roughness, 2)}{fitted}",
                chi_square,
                NONE if each.goodness is None else str(each.goodness.dof),
                number(each.difference, 3) if each.goodness is not None else NONE,
                each.verdict,
                each.reason or NONE,
            ]
        )
    head = ["law", "e = eps/D", "χ²", "dof", "difference", "verdict", "why not compared"]
    yield table("Laws against the turbulent runs", head, rows, "lrrrrlw")
    yield Paragraph(
        f"{found.sentence}. The difference is that of −2 ln likelihood from the best law, with 2 "
        "added for a fitted roughness (marked *) [Akaike 1974]."
    )


# -- fits ------------------------------------------------------------------------------------------
def fits_section(asked: Asked) -> Section:
    """Fit the constant of laminar flow, a power law and the roughness, where there are runs."""
    blocks: list[Block] = [Subheading("Constant of laminar flow"), *_laminar(asked)]
    blocks += [Subheading("Power law of turbulent flow"), *_power_law(asked)]
    blocks += [Subheading("Roughness of the wall"), *_roughness(asked)]
    return Section("Fits", tuple(blocks))


def _few_or_many(asked: Asked, regime: str, least: int, what: str) -> str:
    """Return why a fit is not made, "" where it is."""
    count = len(asked.regime_rows(regime))
    if not count:
        return f"No run is {regime}, so {what} is not fitted."
    if count < least:
        return (
            f"{count} of the runs {'is' if count == 1 else 'are'} {regime}; {what} needs {least}."
        )
    if count > MOST_TOGETHER:
        return f"With {count} runs, {what} is not part of a report."
    return ""


def _fitted(
    asked: Asked, regime: str, least: int, what: str, ask: Callable[[], object]
) -> object | str:
    return _few_or_many(asked, regime, least, what) or asked.attempt(ask)


def _laminar(asked: Asked) -> Iterator[Block]:
    found = _fitted(
        asked,
        "laminar",
        1,
        "the constant C of f = C/Re",
        lambda: asked.runs.laminar_constant(k=K, **asked.draws),
    )
    if not isinstance(found, LaminarConstant):
        yield Paragraph(str(found))
        return
    yield Paragraph(
        "C of f = C/Re from all laminar runs, weighed with the full covariance of f Re, relative "
        f"to it [Agostini 1994]: C = {estimate(found.constant)}. {found.sentence}."
    )
    yield Paragraph(
        f"{100 * found.shared_share:.0f} % of the variance of C is from errors that all runs "
        "share, which more runs do not reduce."
    )


def _power_law(asked: Asked) -> Iterator[Block]:
    found = _fitted(
        asked,
        "turbulent",
        _FEWEST_FOR_SCATTER,
        "a power law with a test of its fit",
        lambda: asked.runs.power_law("turbulent", **asked.draws),
    )
    if not isinstance(found, PowerLawFit):
        yield Paragraph(str(found))
        return
    values = np.asarray(found.reynolds.value)
    middle = float(np.exp(np.mean(np.log(values))))
    at_middle = asked.attempt(lambda: found.predict(ReynoldsNumber(middle, "1")))
    yield Formula("f = a Re^b", r"f = a\,\mathrm{Re}^b")
    items = [
        f"a = {estimate(found.coefficient)} and b = {estimate(found.exponent)}, "
        f"correlation of both {number(found.correlation, 4)}, for Re {number(values.min())} to "
        f"{number(values.max())}.",
        f"Of the fit: {found.sentence}.",
    ]
    if isinstance(at_middle, Quantity):
        items.insert(1, f"In the middle, at Re = {number(middle)}: f = {estimate(at_middle)}.")
    yield Listing(tuple(items))


def _roughness(asked: Asked) -> Iterator[Block]:
    found = _fitted(
        asked,
        "turbulent",
        2,
        "the roughness",
        lambda: asked.runs.roughness(level=asked.level, **asked.draws),
    )
    if not isinstance(found, RoughnessFit):
        yield Paragraph(str(found))
        return
    text = f"By the law of {found.law.title} {found.law.source}"
    if found.relative_roughness is not None and found.roughness is not None:
        text += (
            f", the relative roughness is eps/D = {estimate(found.relative_roughness)} and the "
            f"roughness eps = {estimate(found.roughness)}"
        )
    text += f". {found.sentence[:1].upper()}{found.sentence[1:]}."
    if not found.smooth_excluded and math.isfinite(found.upper_limit):
        growth = number(float(scipy.special.ndtri(found.level)) ** 2, 3)
        text += (
            f" The upper limit is where χ² has grown by {growth}, the square of the one-sided "
            f"normal quantile for {100 * found.level:g} % [Cowan 2011]."
        )
    yield Paragraph(text)
