"""Progress of the draws: silent unless asked for, a bar where tqdm is, else one plain line."""

from __future__ import annotations

import re
import sys
import types
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from flowunc import (
    FlowuncError,
    FlowuncWarning,
    PropagationError,
    Ratio,
    apply,
    concatenate,
    monte_carlo,
    standard,
)
from flowunc.propagation import outcome
from flowunc.propagation.draws import BLOCK
from flowunc.propagation.progress import Progress

TRIALS = 5 * BLOCK + 100


def quantity():
    return Ratio([1.0, 2.0], "1", standard(0.1)) ** 2


def failing(x):
    """Fail in the third block of draws."""
    if x.size > 1000:
        failing.calls += 1
        if failing.calls == 3:
            raise ValueError("no root")
    return x


@pytest.fixture
def without_bars(monkeypatch):
    monkeypatch.setitem(sys.modules, "tqdm.auto", None)  # import tqdm.auto fails


class Bar:
    """Stands in for a bar of tqdm."""

    made: list[Bar] = []  # noqa: RUF012 - emptied by the fixture

    def __init__(self, total=None, **options):
        self.totals, self.options, self.steps, self.closed = [total], options, [], 0
        self.total_at_step, self.refreshed = [], 0
        Bar.made.append(self)

    @property
    def total(self):
        return self.totals[-1]

    @total.setter
    def total(self, total):
        assert not self.closed
        self.totals.append(total)

    def update(self, count=1):
        assert not self.closed
        self.steps.append(count)
        self.total_at_step.append(self.total)

    def refresh(self):
        self.refreshed += 1

    def close(self):
        self.closed += 1


@pytest.fixture
def bars(monkeypatch):
    package, module = types.ModuleType("tqdm"), types.ModuleType("tqdm.auto")
    package.auto = module
    module.tqdm = Bar
    monkeypatch.setitem(sys.modules, "tqdm", package)
    monkeypatch.setitem(sys.modules, "tqdm.auto", module)
    Bar.made.clear()
    return Bar.made


# -- silence -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "options", [{}, {"workers": 2}, {"digits": 1}, {"control": True}, {"sampler": "sobol"}]
)
def test_silent_unless_asked_for(options, bars, capfd):
    drawn = quantity().monte_carlo(TRIALS, **options)
    drawn.interval()
    drawn.samples()
    assert capfd.readouterr() == ("", "")
    assert bars == []


def test_bar_is_not_imported_unless_asked_for(without_bars):
    quantity().monte_carlo(TRIALS)


# -- a line ------------------------------------------------------------------------------------
@pytest.mark.parametrize("workers", [1, 2])
def test_line_on_standard_error_ends_complete(workers, without_bars, capfd):
    quantity().monte_carlo(TRIALS, progress=True, workers=workers)
    output, error = capfd.readouterr()
    assert output == ""
    assert error.endswith("\n")
    assert error.count("\n") == 1
    states = error.rstrip("\n").split("\r")
    assert states[0] == ""  # every state begins at the start of the line
    assert states[1].startswith(f"0 of {TRIALS:,} trials")
    assert states[-1] == f"{TRIALS:,} of {TRIALS:,} trials (100%)"


def test_line_grows_and_covers_what_stood_there(without_bars, capfd):
    with Progress(1_000_000, shown=True) as progress:
        for _ in range(10):
            progress._last = 0.0  # as if the time between two lines had gone by
            progress.advance(100_000)
    states = capfd.readouterr().err.rstrip("\n").split("\r")[1:]
    counts = [int(re.match(r"[\d,]+", state)[0].replace(",", "")) for state in states]
    assert counts == sorted(counts)
    assert counts[0] == 0
    assert counts[-1] == 1_000_000
    assert len(counts) >= 11
    lengths = [len(state) for state in states]
    assert lengths == sorted(lengths)  # a shorter state would leave the end of a longer one


def test_line_is_not_written_for_every_block(without_bars, capfd):
    with Progress(1_000_000, shown=True) as progress:
        for _ in range(1_000):
            progress.advance(1_000)
    assert capfd.readouterr().err.count("\r") < 10


@pytest.mark.parametrize("workers", [1, 2])
def test_line_of_interrupted_draws_ends_where_it_was(workers, without_bars, capfd):
    failing.calls = 0
    with pytest.raises(PropagationError):
        apply(failing, Ratio(1.0, "1", standard(0.1))).monte_carlo(
            TRIALS, progress=True, workers=workers
        )
    error = capfd.readouterr().err
    assert error.endswith("\n")
    assert "100%" not in error


# -- a bar -------------------------------------------------------------------------------------
@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("trials", [50, BLOCK, TRIALS])
def test_bar_is_advanced_to_the_total_and_closed(workers, trials, bars, capfd):
    monte_carlo(quantity(), trials, progress=True, workers=workers)
    (bar,) = bars
    assert bar.total == trials
    assert sum(bar.steps) == trials
    assert len(bar.steps) == -(-trials // BLOCK)  # block by block, not all at the end
    assert bar.closed == 1
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt])
def test_bar_is_closed_when_an_error_interrupts(workers, error, bars):
    def interrupted(x):
        if x.size > 1000 and len(bars[0].steps) >= 2:
            raise error("stopped")
        return x

    with pytest.raises((PropagationError, KeyboardInterrupt)):
        apply(interrupted, Ratio(1.0, "1", standard(0.1))).monte_carlo(
            100 * BLOCK, progress=True, workers=workers
        )
    (bar,) = bars
    assert bar.closed == 1
    assert 0 < sum(bar.steps) < 100 * BLOCK


# -- several passes ----------------------------------------------------------------------------
def test_adaptive_draws_show_one_bar(bars):
    # each sequence of 16 384 trials opened a bar of its own, and closed it as complete
    drawn = Ratio(5.0, "1", standard(3.0)).monte_carlo(digits=2, progress=True, seed=1)
    assert drawn.trials > 4 * BLOCK
    (bar,) = bars
    assert sum(bar.steps) == bar.total == drawn.trials
    assert bar.totals[0] == 2 * BLOCK  # two sequences at least
    assert bar.refreshed == len(bar.totals) - 1
    assert bar.closed == 1


def test_adaptive_draws_never_claim_to_be_complete_before_they_are(bars):
    Ratio(5.0, "1", standard(3.0)).monte_carlo(digits=2, progress=True, seed=1)
    (bar,) = bars
    done = np.cumsum(bar.steps)
    # bar.total as it stood when the next block came
    assert all(d < total for d, total in zip(done[:-1], bar.total_at_step[1:], strict=True))


def test_adaptive_draws_expect_no_more_than_their_ceiling(bars):
    with pytest.warns(FlowuncWarning, match="max_trials"):
        drawn = Ratio(5.0, "1", standard(1.0)).monte_carlo(
            digits=5, max_trials=5 * BLOCK + 1, progress=True, seed=1
        )
    (bar,) = bars
    assert max(bar.totals) == sum(bar.steps) == bar.total == drawn.trials == 5 * BLOCK


def test_adaptive_draws_show_one_line(without_bars, capfd):
    drawn = Ratio(5.0, "1", standard(3.0)).monte_carlo(digits=2, progress=True, seed=1)
    error = capfd.readouterr().err
    assert error.count("\n") == 1
    states = error.rstrip("\n").split("\r")[1:]
    assert states[0].startswith(f"0 of {2 * BLOCK:,} trials")
    assert states[-1].rstrip() == f"{drawn.trials:,} of {drawn.trials:,} trials (100%)"


def test_line_of_a_smaller_total_covers_what_stood_there(without_bars, capfd):
    with Progress(100, shown=True) as progress:
        for total in (1_000_000, 200):
            progress._last = 0.0
            progress.expect(total)
        progress.advance(200)
    states = capfd.readouterr().err.rstrip("\n").split("\r")[1:]
    assert [state.split(" trials")[0] for state in states] == [
        "0 of 100",
        "0 of 1,000,000",
        "0 of 200",
        "200 of 200",
    ]
    lengths = [len(state) for state in states]
    assert lengths == sorted(lengths)


@pytest.mark.parametrize("kept", [1 << 25, 0], ids=["kept", "drawn again"])
def test_control_shows_one_bar(kept, bars, monkeypatch):
    # where draws are too many to keep, every row opened one more
    monkeypatch.setattr(outcome, "KEPT_VALUES", kept)
    quantity().monte_carlo(TRIALS, control=True, progress=True)
    (bar,) = bars
    assert sum(bar.steps) == bar.total == TRIALS
    assert bar.closed == 1


@pytest.mark.parametrize("kept", [1 << 25, 0], ids=["kept", "drawn again"])
def test_sobol_points_show_that_they_are_drawn(kept, bars, monkeypatch):
    # progress=True was accepted, and nothing shown
    monkeypatch.setattr(outcome, "KEPT_VALUES", kept)
    drawn = concatenate(quantity(), Ratio(1.0, "1")).monte_carlo(
        TRIALS, sampler="sobol", progress=True
    )
    (bar,) = bars
    assert bar.total == drawn.trials == 8 * BLOCK
    assert sum(bar.steps) == bar.total
    assert bar.closed == 1


def test_redraws_are_silent(bars, monkeypatch, capfd):
    monkeypatch.setattr(outcome, "KEPT_VALUES", 0)
    drawn = quantity().monte_carlo(TRIALS, progress=True)
    drawn.interval()
    drawn.samples()
    assert len(bars) == 1
    assert capfd.readouterr() == ("", "")


def test_executor_shows_one_bar(bars):
    with ThreadPoolExecutor(1) as pool:
        quantity().monte_carlo(TRIALS, executor=pool, progress=True)
    (bar,) = bars
    assert sum(bar.steps) == bar.total == TRIALS
    assert bar.closed == 1


@pytest.mark.parametrize(
    "options", [{"digits": 1}, {"control": True}, {"sampler": "sobol"}, {"workers": 2}]
)
def test_bar_of_every_way_to_draw_is_closed_when_an_error_interrupts(options, bars):
    def failing_when_drawn(x):
        if bars and x.size > 100:
            raise ValueError("stopped")
        return x

    quantity = apply(failing_when_drawn, Ratio(1.0, "1", standard(0.1)))
    with pytest.raises(PropagationError, match="stopped"):
        quantity.monte_carlo(TRIALS, progress=True, **options)
    (bar,) = bars
    assert bar.closed == 1


@pytest.mark.parametrize(
    "options", [{"digits": 9}, {"level": 2}, {"sampler": "sobol", "workers": 2}]
)
def test_refused_options_show_nothing(options, bars):
    with pytest.raises(FlowuncError):
        quantity().monte_carlo(TRIALS, progress=True, **options)
    assert bars == []


def test_bar_of_tqdm_itself(capfd):
    drawn = Ratio(5.0, "1", standard(3.0)).monte_carlo(digits=2, progress=True, seed=1)
    error = capfd.readouterr().err
    assert error.endswith("\n")
    last = error.rstrip("\n").split("\r")[-1]
    assert "100%" in last
    assert f"{drawn.trials / 1000:.0f}k/{drawn.trials / 1000:.0f}k" in last


def test_progress_changes_no_bit(bars):
    for options in ({}, {"digits": 1}, {"control": True}, {"sampler": "sobol"}):
        silent = quantity().monte_carlo(TRIALS, **options)
        shown = quantity().monte_carlo(TRIALS, progress=True, **options)
        np.testing.assert_array_equal(silent.samples(), shown.samples())
        np.testing.assert_array_equal(silent.u, shown.u)
