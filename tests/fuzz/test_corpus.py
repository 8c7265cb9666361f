"""Every input that a coverage-guided search found worth keeping, read again.

``python -m tests.fuzz`` searches, and with ``--keep`` puts the smallest inputs of each branch here.
Inputs named ``found-...`` were read wrongly once; they stay.
"""

from __future__ import annotations

import random
import tracemalloc
from pathlib import Path

import pytest

pytest.importorskip("resource", reason="limits of time and memory are those of POSIX")

from fuzz_mutations import mutation
from fuzz_targets import MOST_GROWTH, TARGETS, judge
from fuzz_words import seeds, words

CORPUS = Path(__file__).parent / "corpus"
LARGEST_CORPUS = 200_000  # bytes


def inputs(target: str) -> list[bytes]:
    return [path.read_bytes() for path in sorted((CORPUS / target).iterdir())]


@pytest.mark.parametrize("target", TARGETS)
def test_inputs_are_read_or_refused_with_place_and_reason(target):
    answers = []
    judge(target, seeds(target)[0])  # what is imported on first use is imported
    tracemalloc.start()
    try:
        for path in sorted((CORPUS / target).iterdir()):
            tracemalloc.reset_peak()
            before = tracemalloc.get_traced_memory()[0]
            try:
                answers.append(judge(target, path.read_bytes()))
            except Exception as error:
                error.add_note(f"at the input {path}")
                raise
            assert tracemalloc.get_traced_memory()[1] - before < MOST_GROWTH, path
    finally:
        tracemalloc.stop()
    # a corpus of refusals alone would say nothing about what is read
    assert len(answers) >= 10
    assert {True, False} <= set(answers)


@pytest.mark.parametrize("target", TARGETS)
def test_sound_inputs_are_read(target):
    assert all(judge(target, data) for data in seeds(target))


@pytest.mark.parametrize("target", TARGETS)
def test_changed_inputs_are_read_or_refused_with_place_and_reason(target):
    # the changes of the search, without its guidance
    change, source = mutation(target, words(target)), random.Random(7)
    started = [*seeds(target), *inputs(target)]
    for step in range(40):
        judge(target, change(source.choice(started), 20_000, step))


def test_the_corpus_is_small():
    files = [path for path in CORPUS.rglob("*") if path.is_file()]
    assert sum(path.stat().st_size for path in files) < LARGEST_CORPUS
