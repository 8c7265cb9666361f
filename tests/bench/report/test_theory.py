"""What the sections on laws and fits say of the level, and of more runs than can be tested."""

from __future__ import annotations

import re
import sys

import pytest

from flowunc.bench.report import theory
from flowunc.bench.report.asked import Asked
from flowunc.bench.report.content import Paragraph, Section, Subheading
from flowunc.bench.report.theory import agreement_section, fits_section
from flowunc.bench.runs import Runs


def asked(runs: Runs, level: float = 0.95) -> Asked:
    return Asked(runs=runs, level=level, trials=2_000, seed=0)


def told(section: Section) -> str:
    kinds = (Paragraph, Subheading)
    return " ".join(block.text for block in section.blocks if isinstance(block, kinds))


# the square of the one-sided normal quantile, that is chi-square of 1 dof at 2 level - 1 [C]
@pytest.mark.parametrize(("level", "growth"), [(0.95, "2.71"), (0.9, "1.64"), (0.99, "5.41")])
def test_the_upper_limit_of_the_roughness_has_the_level_that_was_asked_for(
    runs: Runs, level: float, growth: str
) -> None:
    text = told(fits_section(asked(runs, level)))
    found = re.search(r"χ² has grown by (\S+), the square of .* quantile for (\S+) %", text)
    assert found is not None
    assert found.groups() == (growth, f"{100 * level:g}")


def test_too_many_runs_are_shown_one_by_one(runs: Runs, monkeypatch: pytest.MonkeyPatch) -> None:
    usual = told(agreement_section(asked(runs), ()))
    assert "Is there a pattern?" in usual
    assert "together chi-square" in usual
    # by name: the package of the second has a function of the same name
    for module in (theory, sys.modules["flowunc.analysis.agreement"]):
        monkeypatch.setattr(module, "MOST_TOGETHER", 5)
    section = agreement_section(asked(runs), ())
    text = told(section)
    assert "not tested together, as these are more than 5" in text
    assert "not part of a report of more than 5 runs that have a law" in text
    assert "Is there a pattern?" not in text
