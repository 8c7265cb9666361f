"""Whether one column of a manometer is the mirror image of the other, as far as a sheet shows it.

Where high + low stays the same, high is rounded up when low is rounded down. With S = high + low
and c the distance of the true sum from a whole number of steps d, the rounding error of
high - low lies anywhere within +-(1 - c) d where S comes out as the lower of its two values, which
it does in 1 - c of the rows, and within +-c d where it comes out as the upper one (computed). So it
has the variance ((1 - c)^3 + c^3) d^2/3: a third of d^2 where S never changes, a twelfth where both
values come equally often. Two independent rounding errors have a sixth, which is too little where
one value of S comes in less than 21 % of the rows.

What could be chance is measured against columns that share each change of the difference in any
proportion: with n steps of change there are n + 1 ways to share it, of which one keeps the sum (of
an odd n, two keep it within a step, the same way for all).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.bench.description.bench import Bench
from flowunc.bench.sheets.sheet import RunSet, Sheet
from flowunc.core.errors import warn_user
from flowunc.instruments.columns import ColumnManometer

__all__ = ["MirrorFinding", "mirror_findings", "warn_of_mirrored_columns"]

Floats = NDArray[np.float64]

_FEWEST = 3  # different deflections
_CHANCE = 0.01
_SELDOM = 0.21  # root of (1 - c)^3 + c^3 = 1/2
_SLACK = 1e-6  # of a step: rounding of numbers such as 3 * 0.1
_APART = 3.0  # steps by which the sum of mirrored columns cannot vary by rounding


class MirrorFinding(NamedTuple):
    """What the sums of the columns of some sets say.

    Attributes
    ----------
    runs : tuple of str
        Labels of the runs.
    verdict : str
        "mirrored", "mirrored as stated", or "not as stated".
    sentence : str
    """

    runs: tuple[str, ...]
    verdict: str
    sentence: str


class _Columns(NamedTuple):
    """Different readings of one set, in steps of the scale."""

    found: RunSet
    high: Floats
    low: Floats

    @property
    def difference(self) -> Floats:
        return self.high - self.low

    @property
    def total(self) -> Floats:
        return self.high + self.low

    @property
    def rounded(self) -> bool:
        """Whether all readings lie on steps of the scale."""
        both = np.concatenate([self.high, self.low])
        return bool(np.max(np.abs(both - np.rint(both))) <= _SLACK)

    @property
    def keeps(self) -> bool:
        """Whether the sum stays within one step."""
        return bool(np.ptp(self.total) <= 1.0 + 2 * _SLACK)

    @property
    def chance(self) -> float:
        """Probability of that for columns that share a change in any proportion."""
        changes = np.unique(np.rint(self.difference - self.difference.min()))[1:]
        ways = 2.0 if np.any(changes % 2 == 1) else 1.0
        return min(1.0, ways / float(np.prod(changes + 1.0)))

    @property
    def deflections(self) -> int:
        return int(np.unique(np.rint(self.difference)).size)


def mirror_findings(sheet: Sheet, bench: Bench) -> tuple[MirrorFinding, ...]:
    """Look whether high + low stays the same in the sets of a sheet.

    Parameters
    ----------
    sheet : Sheet
    bench : Bench

    Returns
    -------
    tuple of MirrorFinding
        Empty where the columns move apart from each other, or nothing can be said.

    Notes
    -----
    Asked of all rows of a set, zero rows included: the sum within one step, three different
    deflections or more, and a chance of 1 % at most, over all sets together where all of them
    keep their sum. No alarm where both values of the sum come in more than 21 % of the rows, as
    the rounding errors then cancel in part; none either where readings lie between the steps of
    the scale, as it is not known to what they were rounded.
    """
    manometer = bench.manometer
    if not isinstance(manometer, ColumnManometer):
        return ()
    sets = [_columns(found, 2 * manometer.scale.half_width) for found in sheet.sets]
    if manometer.mirrored:
        return _as_stated(sets, manometer)
    telling = [one for one in sets if one.rounded and one.deflections >= _FEWEST]
    groups = [[one] for one in telling if one.keeps]
    several = max(len(telling), 1)  # one of so many sets may keep its sum by chance
    if telling and len(groups) == len(telling):
        groups, several = [telling], 1
    return tuple(
        _mirrored(group, chance, manometer)
        for group in groups
        if (chance := several * float(np.prod([one.chance for one in group]))) <= _CHANCE
        and not _cancels(group)
    )


def warn_of_mirrored_columns(sheet: Sheet, bench: Bench) -> None:
    """Warn of columns that are rounded together, of which the bench does not say so.

    Warns
    -----
    FlowuncWarning
        One column is the mirror image of the other.
    """
    for found in mirror_findings(sheet, bench):
        if found.verdict == "mirrored":
            warn_user(f"{sheet.file}: {found.sentence}")


def _columns(found: RunSet, step: float) -> _Columns:
    rows = [*found.before, *(row for run in found.runs for row in run.rows), *found.after]
    different = np.array(list(dict.fromkeys((row.high, row.low) for row in rows))) / step
    return _Columns(found, different[:, 0], different[:, 1])


def _cancels(group: Sequence[_Columns]) -> bool:
    """Tell whether the sum comes out as either of two values about as often."""
    for one in group:
        upper = int(np.count_nonzero(one.total > one.total.min() + 0.5))
        if min(upper, one.total.size - upper) <= _SELDOM * one.total.size:
            return False
    return True


def _mirrored(
    group: Sequence[_Columns], chance: float, manometer: ColumnManometer
) -> MirrorFinding:
    labels, named = _named(group)
    step, unit = 2 * manometer.scale.half_width, manometer.scale.unit
    count = sum(one.total.size for one in group)
    share = f"{100 * chance:.1g} %" if chance >= 1e-5 else "below 0.001 %"
    each = "" if len(group) == 1 else " in each set"
    return MirrorFinding(
        labels,
        "mirrored",
        f"{named}: high + low stays within {step:g} {unit}{each}, the step to which the scale is "
        f"read, over {count} different readings; by chance {share}. One column is the mirror image "
        "of the other, so both are rounded together: their difference is off by up to "
        f"{step:g} {unit}, and its resolution counts too little by a factor of up to 1.4. Say so "
        "with mirrored = true in [manometer]; or read one column only and double it, as that is "
        "all there is to know; or shift the scale of one column by half a step, so that rounding "
        "errors cancel in part.",
    )


def _as_stated(sets: Sequence[_Columns], manometer: ColumnManometer) -> tuple[MirrorFinding, ...]:
    labels, named = _named(sets)
    widest = max(float(np.ptp(one.total)) for one in sets)
    if widest <= _APART + _SLACK:
        return (
            MirrorFinding(
                labels,
                "mirrored as stated",
                f"{named}: the columns mirror each other, as the bench states; one resolution "
                "error stands behind both.",
            ),
        )
    shown = f"{widest * 2 * manometer.scale.half_width:.4g} {manometer.scale.unit}"
    return (
        MirrorFinding(
            labels,
            "not as stated",
            f"{named}: the bench states that the columns mirror each other, but high + low varies "
            f"by {shown} within a set. Leave out mirrored = true, which makes U too large here, "
            "or look for a misread column.",
        ),
    )


def _named(group: Sequence[_Columns]) -> tuple[tuple[str, ...], str]:
    labels = tuple(run.label for one in group for run in one.found.runs)
    if len(labels) == 1:
        return labels, f"Run {labels[0]}"
    return labels, f"Runs {', '.join(labels[:-1])} and {labels[-1]}"
