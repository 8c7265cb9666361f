"""What a note says of the dye thread, held against the regime that Re gives.

The note is read with a small vocabulary and nothing else. A clause counts if it names the dye or
goes on from one that does; a clause about the float or the columns does not. Words of doubt and
negations silence the note: "not steady" does not say which of the other regimes was seen.

====================  ============================================================
regime                words
====================  ============================================================
laminar               steady, straight, unbroken
transitional          breaks up, breaking up, broke up, broken up, wavering, wavers,
                      intermittent, puff, puffs, comes back, came back
turbulent             mixed, mixes, dispersed, disperses; disappears, disappeared,
                      spreads or spread, each with "at once" or "immediately"
====================  ============================================================

What dye looks like in each regime is common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flowunc.core.errors import DimensionError, ShapeError
from flowunc.pipe.regimes import Regimes

__all__ = ["DyeFinding", "DyeNote", "compare_dye_notes", "read_dye_note"]

REGIMES = ("laminar", "transitional", "turbulent")

_VOCABULARY: dict[str, tuple[str, ...]] = {
    "laminar": ("steady", "straight", "unbroken"),
    "transitional": (
        "breaks? up",
        "breaking up",
        "broken? up",
        "waver(?:s|ing)",
        "intermittent",
        "puffs?",
        "(?:comes|came) back",
    ),
    "turbulent": (
        "mixe[sd]",
        "disperse[sd]",
        "(?:disappears|disappeared|spreads?) (?:at once|immediately)",
    ),
}
_WORDS = {
    regime: re.compile(rf"\b(?:{'|'.join(words)})\b") for regime, words in _VOCABULARY.items()
}
_DYE = re.compile(r"\b(?:dye|thread|filament|streak)\b")
# What else on a bench may be steady or straight.
_OTHER = re.compile(
    r"\b(?:floats?|columns?|meters?|valves?|levels?|manometer|menisc\w+|zero|balance|board|scale|"
    r"temperatures?|thermometer|tank|pump|readings?|gauge|hose|air|bubbles?|pointer|flow|"
    r"bottle|needle|syringe|reservoir)\b"
)
# Negation, doubt, and anything that says the words are not plainly what was seen in this run.
_DOUBT = re.compile(
    r"\b(?:not|no|never|without|neither|nor|none|cannot|hardly|barely|scarcely|almost|nearly|less|"
    r"more|only|too|partly|partially|half|mostly|poorly|badly|slowly|slightly|sometimes|usually|"
    r"occasional|occasionally|briefly|perhaps|maybe|possibly|probably|likely|seems?|seemed|might|"
    r"may|could|would|should|if|unless|until|expected|supposed|think|guess|sure|unsure|unclear|"
    r"doubtful|new|fresh|before|after|like|as|cleaned|refilled)\b|n't\b|\?"
)
_CLAUSES = re.compile(r"[;,:.()!]+|\s-+\s|\b(?:and|but|then|while|whereas|although|though)\b")

_MOST_IMPROBABLE = 0.05
_MORE_PROBABLE_THAN_NOT = 0.5


@dataclass(frozen=True)
class DyeNote:
    """What a note says of the dye thread.

    Attributes
    ----------
    note : str
    regime : str
        "laminar", "transitional" or "turbulent"; "" where the note makes no statement.
    words : tuple of str
        The words it was read from.
    reason : str
        Why there is no statement, "" where there is one.
    names_dye : bool
        Whether the dye is named at all.
    """

    note: str
    regime: str
    words: tuple[str, ...]
    reason: str
    names_dye: bool


@dataclass(frozen=True)
class DyeFinding:
    """A note held against the probabilities of the regimes.

    Attributes
    ----------
    note : DyeNote
    reynolds : float
    probability : float
        Of the regime noted; NaN without a statement.
    computed : str
        The most probable regime.
    verdict : str
        "agrees" (the regime noted is more probable than not), "contradicts" (its probability is
        below 5 %), "undecided", or "no statement".
    sentence : str
    """

    note: DyeNote
    reynolds: float
    probability: float
    computed: str
    verdict: str
    sentence: str


def read_dye_note(note: str) -> DyeNote:
    """Read what a note says of the dye thread.

    Parameters
    ----------
    note : str
        As written on the sheet, in English.

    Returns
    -------
    DyeNote
        Without a statement where the vocabulary does not cover the note plainly.

    Raises
    ------
    DimensionError
        Something else than text.

    Examples
    --------
    >>> from flowunc.bench.checks.dye_notes import read_dye_note
    >>> read_dye_note("dye thread steady, float hardly off its seat").regime
    'laminar'
    >>> read_dye_note("dye not steady").reason
    "'not' leaves open what was seen"
    """
    if not isinstance(note, str):
        raise DimensionError(f"read_dye_note: got {type(note).__name__} {note!r}; expected text")
    about_dye, open_clauses = _about_dye(note)
    if not about_dye:
        named = _DYE.search(_plain(note)) is not None
        reason = "the dye stands beside something else" if named else "the dye is not named"
        return DyeNote(note, "", (), reason, named)
    found: dict[str, list[str]] = {}
    for clause in about_dye:
        for regime, pattern in _WORDS.items():
            matches = pattern.findall(clause)
            if matches:
                found.setdefault(regime, []).extend(matches)
    words = tuple(word for group in found.values() for word in group)
    doubts = [match.group() for clause in open_clauses if (match := _DOUBT.search(clause))]
    if not found:
        return DyeNote(note, "", (), "no word of it is in the vocabulary", True)
    if doubts:
        return DyeNote(note, "", words, f"'{doubts[0]}' leaves open what was seen", True)
    if len(found) > 1:
        return DyeNote(note, "", words, f"it has signs of {' and '.join(found)} flow", True)
    return DyeNote(note, next(iter(found)), words, "", True)


def _plain(note: str) -> str:
    return " ".join(note.casefold().replace("’", "'").split())


def _about_dye(note: str) -> tuple[list[str], list[str]]:
    """Return the clauses about the dye, and those whose doubts may bear on it.

    About the dye is a clause that names it, or goes on from one that does. One that names
    something else as well could speak of either and is left out; the next has to name the dye
    again. Doubts count in every clause that names nothing else: "not sure, thread steady".
    """
    text = _plain(note).replace("?", " ? ")
    about_dye, open_clauses, going_on = [], [], False
    for clause in (part.strip() for part in _CLAUSES.split(text)):
        if not clause:
            continue
        if _OTHER.search(clause):
            going_on = False
            continue
        open_clauses.append(clause)
        going_on = going_on or _DYE.search(clause) is not None
        if going_on:
            about_dye.append(clause)
    return about_dye, open_clauses


def compare_dye_notes(notes: Sequence[str], regimes: Regimes) -> tuple[DyeFinding, ...]:
    """Hold the notes of several runs against the regimes that their Reynolds numbers give.

    Parameters
    ----------
    notes : sequence of str
        One for each run, "" where nothing was noted.
    regimes : Regimes
        Of the same runs, from `flowunc.regime` or ``Runs.regimes()``.

    Returns
    -------
    tuple of DyeFinding
        One for each run.

    Raises
    ------
    DimensionError
        Something else than texts and `Regimes`.
    ShapeError
        Not one note for each run.

    Notes
    -----
    A note contradicts Re where the regime noted has a probability below 5 %. The probabilities
    say how well Re is known, not how calm the inlet is: a steady thread above the threshold can
    be right.

    Examples
    --------
    >>> from flowunc import ReynoldsNumber, regime, standard
    >>> from flowunc.bench.checks.dye_notes import compare_dye_notes
    >>> regimes = regime(ReynoldsNumber([1500, 2330], "1", standard(50)), seed=1)
    >>> for found in compare_dye_notes(["dye mixed", "dye thread steady"], regimes):
    ...     print(found.verdict)
    contradicts
    undecided
    """
    if isinstance(notes, str) or not isinstance(notes, Sequence):
        raise DimensionError(f"compare_dye_notes: got {notes!r}; expected one note for each run")
    if not isinstance(regimes, Regimes):
        raise DimensionError(
            f"compare_dye_notes(regimes=...): got {type(regimes).__name__}; expected the result of "
            "regime(...)"
        )
    if len(notes) != regimes.reynolds.size:
        raise ShapeError(
            f"compare_dye_notes: {len(notes)} notes for {regimes.reynolds.size} runs; expected "
            "one for each"
        )
    shares = {name: np.atleast_1d(getattr(regimes, name)) for name in REGIMES}
    values, most = np.atleast_1d(regimes.reynolds.value), np.atleast_1d(regimes.name)
    return tuple(
        _finding(
            read_dye_note(note),
            float(values[run]),
            str(most[run]),
            {name: float(share[run]) for name, share in shares.items()},
            regimes.laminar_below,
        )
        for run, note in enumerate(notes)
    )


def _finding(
    note: DyeNote, reynolds: float, computed: str, shares: dict[str, float], laminar_below: float
) -> DyeFinding:
    def made(probability: float, verdict: str, sentence: str) -> DyeFinding:
        return DyeFinding(note, reynolds, probability, computed, verdict, sentence)

    if not note.regime:
        return made(float("nan"), "no statement", f"no statement about the dye: {note.reason}")
    probability = shares[note.regime]
    said = f"noted as {note.regime} ({', '.join(dict.fromkeys(note.words))})"
    given = f"at Re = {reynolds:.4g} the probability of that is {_percent(probability)}"
    if probability < _MOST_IMPROBABLE:
        advice = "check flow, temperature and the note"
        if note.regime == "laminar":
            advice += "; with a calm inlet laminar flow lasts beyond the usual threshold"
        elif reynolds < laminar_below:
            advice += "; a disturbed inlet can also break up the thread"
        return made(
            probability,
            "contradicts",
            f"{said}, but {given}; most probable is {computed}: {advice}",
        )
    if probability > _MORE_PROBABLE_THAN_NOT:
        return made(probability, "agrees", f"{said}, and {given}")
    return made(
        probability,
        "undecided",
        f"{said}; {given}, most probable is {computed}: Re is not known well enough to say",
    )


def _percent(share: float) -> str:
    percent = 100 * share
    if 0 < percent < 0.1:
        return "below 0.1 %"
    if 99.5 <= percent < 100:
        return "above 99 %"
    return f"{percent:.2g} %" if percent < 10 else f"{percent:.0f} %"
