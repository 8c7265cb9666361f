"""`RunDecisions`: what limits the results of a sheet, what they agree with, what to change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.agreement import Agreement, agreement
from flowunc.analysis.budget_table import budget_table
from flowunc.analysis.common_bias import CommonBias, common_bias
from flowunc.analysis.drawn_agreement import DrawnAgreement, drawn_agreement
from flowunc.analysis.improvement import improvements
from flowunc.analysis.laminar_constant import LaminarConstant, fit_laminar_constant
from flowunc.analysis.law_comparison import LawComparison, compare_laws
from flowunc.analysis.power_law import PowerLawFit, fit_power_law
from flowunc.analysis.residual_pattern import ResidualPattern, residual_pattern
from flowunc.analysis.roughness_fit import RoughnessFit, fit_roughness
from flowunc.analysis.shortcuts import shortcuts
from flowunc.bench.checks.consistency import Consistency, consistency
from flowunc.bench.conclusions import RunLine, run_lines
from flowunc.bench.law_choice import LawChoice
from flowunc.bench.run_results import TRIALS, RunResults
from flowunc.core.errors import RangeError
from flowunc.core.quantity import Quantity
from flowunc.pipe.laws import FrictionLaw

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["RunDecisions"]

# Which results a result is computed from.
_ENTERS = {
    "velocity": ("flow",),
    "reynolds": ("velocity", "density", "viscosity"),
    "pressure_drop": ("density",),
    "friction": ("velocity", "density", "pressure_drop"),
    "viscosity": ("temperature",),
    "density": ("temperature",),
}


class RunDecisions(RunResults):
    """Results of a lab sheet with the questions that decide what to do next."""

    # -- conclusions ----------------------------------------------------------------------------
    def lines(
        self, *, level: float = 0.95, trials: int = TRIALS, seed: int = 0
    ) -> tuple[RunLine, ...]:
        """Return what is concluded for each run; `table` shows it as a table."""
        return self._keep(
            ("lines", level, trials, seed),
            lambda: run_lines(
                self.sheet,
                self.cross_check("reynolds", level=level, trials=trials, seed=seed),
                self.cross_check("friction", level=level, trials=trials, seed=seed),
                self.regimes(trials=trials, seed=seed),
                self.laws(trials=trials, seed=seed),
            ),
        )

    # -- what limits -----------------------------------------------------------------------------
    def budgets(
        self,
        of: str = "friction",
        *,
        by: Literal["component", "source", "scope", "evaluation"] = "component",
        level: float = 0.95,
    ) -> pd.DataFrame:
        """Return the budgets of one result of all runs as one table.

        Parameters
        ----------
        of : str
            As for `budget`.
        by : {"component", "source", "scope", "evaluation"}
            What makes a line: a component, an instrument, shared or each, Type A or B.
        level : float
            Of the expanded uncertainty whose gain is told.

        Returns
        -------
        pandas.DataFrame
            As `flowunc.budget_table`, with the label of the ``run`` first.
        """
        return self._with_labels(budget_table(self.result(of), by=by, level=level))

    def improvements(
        self,
        run: str | int,
        of: str = "friction",
        *,
        target: float | None = None,
        relative_target: float | None = None,
        level: float = 0.95,
        by: Literal["component", "source"] = "source",
    ) -> pd.DataFrame:
        """Return what to improve first, and by how much, for a target U of one run.

        Parameters
        ----------
        run : str or int
            Label of the run.
        of : str
            As for `budget`.
        target, relative_target, level, by
            As for `flowunc.improvements`.
        """
        return improvements(
            self.result(of),
            target=target,
            relative_target=relative_target,
            row=self.position(run),
            level=level,
            by=by,
        )

    def shortcuts(
        self, run: str | int | None = None, of: str = "friction", *, level: float = 0.95
    ) -> pd.DataFrame:
        """Return what the usual shortcuts make of U, beside the correct one.

        Parameters
        ----------
        run : str or int, optional
            Label of one run; all runs if left out.
        of : str
            As for `budget`. Velocity, density, viscosity and pressure drop are the
            intermediates that a shortcut takes as independent, where they enter it.
        level : float
            Coverage probability.

        Returns
        -------
        pandas.DataFrame
            As `flowunc.shortcuts`, with the label of the ``run`` first.
        """
        quantity = self.result(of)
        behind = [self.result(name) for name in _ENTERS.get(of, ())]
        row = None if run is None else self.position(run)
        return self._with_labels(shortcuts(quantity, independent=behind, row=row, level=level))

    def _with_labels(self, table: pd.DataFrame) -> pd.DataFrame:
        """Put the labels of the runs in the place of the number of the reading."""
        labels = np.asarray(self.labels, dtype=object)[table["reading"].to_numpy()]
        labelled = table.drop(columns="reading")
        labelled.insert(0, "run", labels)
        return labelled

    # -- whether readings and theory agree ---------------------------------------------------------
    def consistency(
        self,
        *,
        same_flow: Sequence[Sequence[str | int]] = (),
        k: float = 2,
        trials: int = TRIALS,
        seed: int = 0,
    ) -> Consistency:
        """Hold the readings of the sheet against each other; see `flowunc.consistency`."""
        return consistency(self, same_flow=same_flow, k=k, trials=trials, seed=seed)

    def agreement(self, *, k: float = 2, trials: int = TRIALS, seed: int = 0) -> Agreement:
        """Hold the friction factors against the laws, for the runs that have one.

        Returns
        -------
        Agreement
            Of the runs ``laws().compared``, in the order of the sheet, each against the law of
            its most probable regime, with the errors in common cancelled.

        Raises
        ------
        RangeError
            No run has a law.
        """
        choice = self.laws(trials=trials, seed=seed)
        expected = self._expected(choice, "agreement")
        return self._keep(
            ("agreement", k, trials, seed),
            lambda: replace(
                agreement(self.friction[choice.compared], expected, k=k),
                names=self._names_of(choice),
            ),
        )

    def drawn_agreement(
        self, *, level: float = 0.95, trials: int = TRIALS, seed: int = 0
    ) -> DrawnAgreement:
        """Hold the friction factors against the laws by draws, for skewed results near zero flow.

        As `agreement`, by `flowunc.drawn_agreement`.
        """
        choice = self.laws(trials=trials, seed=seed)
        expected = self._expected(choice, "drawn_agreement")
        found = drawn_agreement(
            self.friction[choice.compared], expected, level=level, trials=trials, seed=seed
        )
        return replace(found, names=self._names_of(choice))

    def common_bias(self, *, k: float = 2, trials: int = TRIALS, seed: int = 0) -> CommonBias:
        """Find which single error in common could explain a disagreement with the laws."""
        return common_bias(self.agreement(k=k, trials=trials, seed=seed), k=k)

    def residual_pattern(self, *, trials: int = TRIALS, seed: int = 0) -> ResidualPattern:
        """Test whether the deviations from the laws are random in sign and without a trend."""
        found = self.agreement(trials=trials, seed=seed)
        choice = self.laws(trials=trials, seed=seed)
        return residual_pattern(found, self.reynolds[choice.compared])

    def compare_laws(
        self, laws: Sequence[FrictionLaw] | None = None, *, trials: int = TRIALS, seed: int = 0
    ) -> LawComparison:
        """Compare how well laws explain the turbulent runs; see `flowunc.compare_laws`.

        Parameters
        ----------
        laws : sequence of FrictionLaw, optional
            Every law that needs no roughness, and the others too where the bench states one.
        trials, seed : int
            Of the draws behind the regimes.
        """
        rows = self._rows_of("turbulent", trials, seed)
        ratio = None
        if self.bench.roughness is not None:
            ratio = self.bench.roughness / self.bench.bore
        return compare_laws(self.reynolds[rows], self.friction[rows], laws, ratio)

    # -- fits --------------------------------------------------------------------------------------
    def laminar_constant(
        self, *, k: float = 2, trials: int = TRIALS, seed: int = 0
    ) -> LaminarConstant:
        """Fit C in f = C/Re to the laminar runs, and hold it against 64."""
        rows = self._rows_of("laminar", trials, seed)
        return fit_laminar_constant(self.reynolds[rows], self.friction[rows], k=k)

    def roughness(
        self, *, level: float = 0.95, trials: int = TRIALS, seed: int = 0
    ) -> RoughnessFit:
        """Fit the roughness of the wall to the turbulent runs."""
        rows = self._rows_of("turbulent", trials, seed)
        return fit_roughness(self.reynolds[rows], self.friction[rows], self.bench.bore, level=level)

    def power_law(
        self,
        regime: Literal["laminar", "turbulent"] = "turbulent",
        *,
        scatter: bool = False,
        trials: int = TRIALS,
        seed: int = 0,
    ) -> PowerLawFit:
        """Fit f = coefficient Re^exponent to the runs of one regime."""
        if regime not in ("laminar", "turbulent"):
            raise RangeError(f"power_law({regime!r}): expected 'laminar' or 'turbulent'")
        rows = self._rows_of(regime, trials, seed)
        return fit_power_law(self.reynolds[rows], self.friction[rows], scatter=scatter)

    def _rows_of(self, regime: str, trials: int, seed: int) -> NDArray[np.intp]:
        """Return the runs whose most probable regime it is."""
        names = np.asarray(self.regimes(trials=trials, seed=seed).name)
        rows = np.flatnonzero(names == regime)
        if not rows.size:
            shown = ", ".join(
                f"{label} {name}" for label, name in zip(self.labels, names, strict=True)
            )
            raise RangeError(f"no {regime} run in {self.sheet.file}: {shown}")
        return rows

    def _names_of(self, choice: LawChoice) -> tuple[str, ...]:
        return tuple(self.labels[run] for run in choice.compared)

    def _expected(self, choice: LawChoice, method: str) -> Quantity:
        if choice.expected is None:
            reasons = "; ".join(dict.fromkeys(choice.reasons))
            raise RangeError(f"{method}: no run has a law to be held against: {reasons}")
        return choice.expected
