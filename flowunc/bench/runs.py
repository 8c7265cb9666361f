"""`Runs`: the analysed runs of a lab sheet as a table and as a printed report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from flowunc.bench.conclusions import RunLine, run_lines
from flowunc.bench.run_decisions import RunDecisions
from flowunc.bench.run_results import TRIALS
from flowunc.bench.run_text import run_text

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Runs"]

_LARGEST_AGREEMENT = 500  # runs; beyond, the joint test of all runs takes minutes


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Runs(RunDecisions):
    """The analysed runs of a lab sheet, with what can be asked about them.

    Results are quantities in the order of the sheet: ``flow``, ``temperature``, ``density``,
    ``viscosity``, ``velocity``, ``reynolds``, ``pressure_drop``, ``friction``; ``labels`` are
    those of the runs. What is computed from draws is kept, so asking twice costs nothing.
    """

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

    def table(self, level: float = 0.95, seed: int = 0, *, trials: int = TRIALS) -> pd.DataFrame:
        """Return one line per run: readings, Re, f, regime, law, E_n, what limits f.

        Parameters
        ----------
        level : float
            Coverage probability.
        seed, trials : int
            Of the draws behind regime, cross-check and intervals.

        Returns
        -------
        pandas.DataFrame
            ``Re``, ``U(Re)``, ``Re low``, ``Re high`` and likewise for f. Where the linear method
            does not hold to one digit of u, U is NaN and the interval comes from the draws.
            ``E_n`` is NaN and ``law`` "-" where no law applies.
        """
        import pandas as pd

        rows = []
        for line in self.lines(level=level, trials=trials, seed=seed):
            re, f = line.reynolds, line.friction
            rows.append(
                {
                    "run": line.run,
                    "meter": line.meter,
                    "flow": line.flow,
                    "flow unit": line.flow_unit,
                    "temperature": line.temperature,
                    "temperature unit": line.temperature_unit,
                    "repeats": line.repeats,
                    "Re": re.value,
                    "U(Re)": re.expanded,
                    "Re low": re.low,
                    "Re high": re.high,
                    "f": f.value,
                    "U(f)": f.expanded,
                    "f low": f.low,
                    "f high": f.high,
                    "regime": line.regime,
                    "probability": line.probability,
                    "law": line.law,
                    "f by law": line.friction_by_law,
                    "E_n": line.normalised_error,
                    "limited by": line.limited_by,
                    "share": line.share,
                    "linear method": f.verdict,
                    "digits": f.digits,
                }
            )
        return pd.DataFrame(rows)

    def text(self, *, level: float = 0.95, seed: int = 0, trials: int = TRIALS) -> str:
        """Return the printed report: the tables, and what follows from them in sentences.

        Parameters
        ----------
        level, seed, trials
            As for `table`.
        """
        check = self.cross_check("friction", level=level, trials=trials, seed=seed)
        lines = self.lines(level=level, trials=trials, seed=seed)
        compared = self.laws(trials=trials, seed=seed).compared.size
        together = 0 < compared <= _LARGEST_AGREEMENT
        agreed = self.agreement(trials=trials, seed=seed) if together else None
        return run_text(self.sheet, self.bench, lines, self.flow, check, agreed)

    def __str__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        return str(self.table().to_html(escape=True, index=False))
