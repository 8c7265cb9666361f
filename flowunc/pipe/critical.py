"""The Reynolds number up to which flow stayed laminar, from runs with notes of what was seen."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flowunc.core.display.tables import WIDTH, mimebundle, paragraphs
from flowunc.core.errors import RangeError, ShapeError
from flowunc.core.kinds import Ratio, ReynoldsNumber
from flowunc.core.naming import named_argument
from flowunc.core.statements import limits

__all__ = ["CriticalReynolds", "critical_reynolds"]

_NAME = "critical_reynolds"
_NOTES = ("laminar", "transitional", "turbulent")


@dataclass(frozen=True, eq=False)
class CriticalReynolds:
    """Where laminar flow ended in a series of runs.

    Attributes
    ----------
    reynolds : ReynoldsNumber, scalar
        Anywhere between the two runs with equal probability, and their own uncertainty on top.
    highest_laminar, lowest_other : ReynoldsNumber, scalar
        The run of the highest Re noted as laminar and that of the lowest Re noted otherwise.
    highest_laminar_run, lowest_other_run : int
        Which runs these are, counted from 0.
    overlap : bool
        Whether a run noted as laminar has a higher Re than one noted otherwise.
    explained : bool
        Whether the overlap is within the expanded uncertainty (k = 2) of the difference of the
        two; True without an overlap.
    laminar_above, other_below : tuple of int
        Runs inside the overlap: laminar ones above the lowest other run, other ones below the
        highest laminar run, each with that run itself; empty without an overlap.
    without_note : int
        Runs that were left out because nothing was noted.
    """

    reynolds: ReynoldsNumber
    highest_laminar: ReynoldsNumber
    lowest_other: ReynoldsNumber
    highest_laminar_run: int
    lowest_other_run: int
    overlap: bool
    explained: bool
    laminar_above: tuple[int, ...]
    other_below: tuple[int, ...]
    without_note: int

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        laminar = f"Re {self.highest_laminar.value:.5g} (run {self.highest_laminar_run})"
        other = f"Re {self.lowest_other.value:.5g} (run {self.lowest_other_run})"
        text = f"laminar still at {laminar}, no longer at {other}"
        if self.overlap:
            runs = [*self.laminar_above, *self.other_below]
            text += f": the notes overlap (runs {', '.join(map(str, sorted(runs)))})"
            if self.explained:
                text += ", which the uncertainty of their Re explains"
            else:
                text += (
                    ", by more than the uncertainty of their Re explains: how calm the inlet was, "
                    "or whether the flow was rising or falling, decides there; check the notes"
                )
        if self.without_note:
            text += f"; {self.without_note} without a note left out"
        return text

    def __str__(self) -> str:
        return "\n".join([str(self.reynolds), *textwrap.wrap(self.sentence, WIDTH)])

    def _repr_html_(self) -> str:
        return paragraphs([str(self.reynolds), self.sentence])

    _repr_mimebundle_ = mimebundle


def critical_reynolds(reynolds: ReynoldsNumber, regimes_noted: Sequence[str]) -> CriticalReynolds:
    """Locate the end of laminar flow between runs of which the dye told the regime.

    Parameters
    ----------
    reynolds : ReynoldsNumber, shape (n,)
        In any order.
    regimes_noted : sequence of str
        For each run "laminar", "transitional" or "turbulent", or "" where nothing was noted.

    Returns
    -------
    CriticalReynolds
        Its ``reynolds`` is the located value.

    Raises
    ------
    DimensionError
        Something else than Reynolds numbers.
    ShapeError
        A single Reynolds number, or not one note for each run.
    RangeError
        Another word; no run noted as laminar, or none noted otherwise.

    Notes
    -----
    With the highest laminar run a and the lowest other run b it is (a + b)/2 + (b - a) s, s
    rectangular from -1/2 to 1/2 [JCGM 100, 4.3.7]: all that is known is that it lies between.
    Errors in common, such as that of the bore, move both ends together. Where the notes overlap,
    a above b, both regimes were seen between the two, and the same formula spans that zone.

    The value holds for this pipe with this inlet. It says where flow stopped being laminar, not
    that flow below any such value must be laminar.

    Examples
    --------
    >>> from flowunc import ReynoldsNumber, critical_reynolds, standard
    >>> re = ReynoldsNumber([1500, 2100, 2400, 5200], "1", standard(20))
    >>> found = critical_reynolds(re, ["laminar", "laminar", "transitional", "turbulent"])
    >>> print(found)
    between laminar and other runs: 2250 ± 88
    laminar still at Re 2100 (run 1), no longer at Re 2400 (run 2)
    """
    re = named_argument(reynolds, ReynoldsNumber, _NAME, "reynolds")
    notes = _checked_notes(regimes_noted, re)
    values = np.asarray(re._node.value)
    laminar = np.flatnonzero(notes == "laminar")
    other = np.flatnonzero((notes == "transitional") | (notes == "turbulent"))
    if not laminar.size or not other.size:
        missing = "laminar" if not laminar.size else "transitional or turbulent"
        raise RangeError(
            f"{_NAME}: none of {notes.size} runs is noted as {missing}; expected at least one "
            "laminar run and one other: add runs at a "
            f"{'lower' if not laminar.size else 'higher'} flow"
        )
    last = int(laminar[np.argmax(values[laminar])])
    first = int(other[np.argmin(values[other])])
    highest, lowest = re[last], re[first]
    overlap = bool(values[last] >= values[first])
    place = Ratio(0.0, "1", limits(0.5), label="place between the runs")
    critical = (highest + lowest) / 2 + (lowest - highest) * place
    return CriticalReynolds(
        ReynoldsNumber._from_node(critical._node, label="between laminar and other runs"),
        highest,
        lowest,
        last,
        first,
        overlap,
        not overlap or abs((highest - lowest).value) <= 2 * (highest - lowest).u,
        tuple(int(run) for run in laminar if overlap and values[run] >= values[first]),
        tuple(int(run) for run in other if overlap and values[run] <= values[last]),
        int(np.count_nonzero(notes == "")),
    )


def _checked_notes(given: Sequence[str], re: ReynoldsNumber) -> np.ndarray[tuple[int], np.dtype]:
    if re.ndim == 0:
        raise ShapeError(f"{_NAME}(reynolds=...): a single value; expected one for each run")
    if isinstance(given, str) or not isinstance(given, (Sequence, np.ndarray)):
        raise ShapeError(f"{_NAME}(regimes_noted={given!r}): expected one note for each run")
    if len(given) != re.size:
        raise ShapeError(
            f"{_NAME}: {len(given)} notes for {re.size} Reynolds numbers; expected one for each "
            'run, "" where nothing was noted'
        )
    for run, note in enumerate(given):
        if note not in (*_NOTES, ""):
            raise RangeError(
                f"{_NAME}(regimes_noted=...): {note!r} at run {run}; expected one of "
                f'{", ".join(_NOTES)}, or "" where nothing was noted'
            )
    return np.array([str(note) for note in given])
