"""`Runs`: the analysed runs of a lab sheet as a table and as a printed report."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flowunc.bench.checks.consistency import alarms_of
from flowunc.bench.nearest_name import nearest
from flowunc.bench.run_decisions import RunDecisions
from flowunc.bench.run_results import TRIALS
from flowunc.bench.run_text import run_text
from flowunc.core.display.frames import rounded_table
from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import RangeError

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = ["Runs"]


class Runs(RunDecisions):
    """The analysed runs of a lab sheet, with what can be asked about them.

    Results are quantities in the order of the sheet: ``flow``, ``temperature``, ``density``,
    ``viscosity``, ``velocity``, ``reynolds``, ``pressure_drop``, ``friction``; ``labels`` are
    those of the runs. What is computed from draws is kept, so asking twice costs nothing.
    """

    def table(self, *, level: float = 0.95, seed: int = 0, trials: int = TRIALS) -> pd.DataFrame:
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
        agreed = self.agreement(trials=trials, seed=seed) if compared else None
        alarms = tuple(alarm.sentence for alarm in alarms_of(self, trials, seed))
        return run_text(self.sheet, self.bench, lines, self.flow, check, agreed, alarms)

    def chart(self, kind: str = "friction", *, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw a chart; needs the extra ``plot``, ``pip install "flowunc[plot]"``.

        Parameters
        ----------
        kind : {"friction", "budget", "agreement", "zero", "distribution"}
            f against Re with the laws; shares of the variance of each run; E_n of each run;
            the balance of the columns over the sheet; the draws of one result (give ``run=``).
        ax : matplotlib Axes, optional
            To draw on; a new figure if left out.
        **options
            Of the function of that name in `flowunc.bench.charts`, such as ``laws=`` for
            "friction_chart" or ``by=`` for "budget_chart".

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        RangeError
            Another kind.
        """
        from flowunc.bench import charts

        kinds: dict[str, Callable[..., Axes]] = {
            "agreement": charts.agreement_chart,
            "budget": charts.budget_chart,
            "distribution": charts.distribution_chart,
            "friction": charts.friction_chart,
            "zero": charts.zero_chart,
        }
        if kind not in kinds:
            raise RangeError(
                f"chart({kind!r}): {nearest(kind, kinds)}expected one of {', '.join(kinds)}"
            )
        return kinds[kind](self, ax=ax, **options)

    def report(
        self,
        path: str | PathLike[str],
        *,
        level: float = 0.95,
        seed: int = 0,
        trials: int = TRIALS,
        title: str | None = None,
        same_flow: Sequence[Sequence[str | int]] = (),
        run: str | int | None = None,
        charts: bool = True,
    ) -> Path:
        """Write an error-analysis section that can be handed in and audited.

        Readings, results, budgets, cross-check, agreement, consistency, fits, charts, the method
        in words with its sources, versions, seed and the checksums of both files.

        Parameters
        ----------
        path : str or path
            Ends in ``.html``, ``.md`` or ``.tex``; the same content in each.
        level, seed, trials
            As for `table`.
        title : str, optional
        same_flow : sequence of sequences of str
            As for `consistency`.
        run : str or int, optional
            Label of the run whose budget is shown in full.
        charts : bool
            Draw charts; they need the extra ``plot``.

        Returns
        -------
        Path
            Of the report. Charts of ``.md`` and ``.tex`` lie beside it in ``<name>_files``.

        Raises
        ------
        RangeError, ReportError
            As `flowunc.bench.report.write_report`.
        """
        from flowunc.bench.report.document import TITLE
        from flowunc.bench.report.report import write_report

        return write_report(
            self,
            path,
            level=level,
            seed=seed,
            trials=trials,
            title=TITLE if title is None else title,
            same_flow=same_flow,
            run=run,
            charts=charts,
        )

    def to_json(self, path: str | PathLike[str] | None = None, *, indent: int | None = None) -> str:
        """Write all results as one JSON document, correlations kept; `from_json` reads it.

        Parameters
        ----------
        path : str or path, optional
            File to be written as well.
        indent : int, optional
            For people; one line if left out.
        """
        from flowunc.bench.json_runs import runs_to_json

        return runs_to_json(self, path, indent=indent)

    def __str__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        frame = self.table()
        spreads: dict[str, Any] = {}
        for name in ("Re", "f"):
            low, high = f"{name} low", f"{name} high"
            width = (frame[high] - frame[low]) / 2  # U is NaN where the draws give the interval
            spreads |= dict.fromkeys((name, low, high), width)
        return rounded_table(
            frame,
            uncertainty_of=spreads | {"f by law": spreads["f"]},
            formats={"U(Re)": 2, "U(f)": 2, "probability": ".1%"},
        )._repr_html_()

    _repr_mimebundle_ = mimebundle
