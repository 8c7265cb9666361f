"""`RunResults`: what was computed for the runs of a lab sheet, and single results asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from flowunc.bench.description.bench import Bench
from flowunc.bench.law_choice import LawChoice, choose_laws
from flowunc.bench.nearest_name import nearest
from flowunc.bench.sheets.sheet import Sheet
from flowunc.core.arguments import check_level
from flowunc.core.errors import RangeError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    FrictionFactor,
    Pressure,
    ReynoldsNumber,
    Temperature,
    Velocity,
    VolumeFlowRate,
)
from flowunc.core.quantity import Quantity
from flowunc.pipe.regimes import Regimes
from flowunc.pipe.shares import shares_of_draws
from flowunc.propagation.cross_check import CrossCheck, compare
from flowunc.propagation.monte_carlo import JointResult, monte_carlo, monte_carlo_joint

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["RESULTS", "TRIALS", "RunResults"]

T = TypeVar("T")

RESULTS = (
    "flow",
    "temperature",
    "density",
    "viscosity",
    "velocity",
    "reynolds",
    "pressure_drop",
    "friction",
)
TRIALS = 200_000  # random: loading what makes Sobol points takes longer than drawing these
_JOINT = ("reynolds", "friction")  # what every report needs is drawn together


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class RunResults:
    """The results of a lab sheet, one quantity per result, in the order of the sheet.

    What is computed from draws is kept, so asking twice costs nothing.

    Attributes
    ----------
    labels : tuple of str
        Of the runs.
    bench : Bench
    sheet : Sheet
    flow : VolumeFlowRate, shape (n,)
    temperature : Temperature, shape (n,)
    density : Density, shape (n,)
    viscosity : DynamicViscosity, shape (n,)
    velocity : Velocity, shape (n,)
    reynolds : ReynoldsNumber, shape (n,)
    pressure_drop : Pressure, shape (n,)
        Piezometric, between the taps.
    friction : FrictionFactor, shape (n,)
        Darcy's.
    """

    labels: tuple[str, ...]
    bench: Bench
    sheet: Sheet
    flow: VolumeFlowRate
    temperature: Temperature
    density: Density
    viscosity: DynamicViscosity
    velocity: Velocity
    reynolds: ReynoldsNumber
    pressure_drop: Pressure
    friction: FrictionFactor
    _kept: dict[Any, Any] = field(default_factory=dict, init=False)

    def __len__(self) -> int:
        return len(self.labels)

    def __repr__(self) -> str:
        sets = len(self.sheet.sets)
        return f"<{type(self).__name__} {self.sheet.file!r}: {len(self)} runs in {sets} sets>"

    def __getstate__(self) -> dict[str, Any]:
        return self.__dict__ | {"_kept": {}}  # draws are made again where they are asked for

    def _keep(self, key: tuple[Any, ...], make: Callable[[], T]) -> T:
        if key not in self._kept:
            self._kept[key] = make()
        found: T = self._kept[key]
        return found

    # -- questions about single results --------------------------------------------------------
    def position(self, run: str | int) -> int:
        """Return where a run stands in the quantities, by its label.

        Raises
        ------
        RangeError
            No run of that label.
        """
        label = str(run)
        if label not in self.labels:
            raise RangeError(
                f"no run {label!r}; {nearest(label, self.labels)}expected one of "
                f"{', '.join(self.labels[:30])}{' ...' if len(self) > 30 else ''}"
            )
        return self.labels.index(label)

    def result(self, of: str) -> Quantity:
        """Return a result by its name, such as "friction"."""
        if of not in RESULTS:
            raise RangeError(f"no result {of!r}; expected one of {', '.join(RESULTS)}")
        quantity: Quantity = getattr(self, of)
        return quantity

    def budget(self, run: str | int, of: str = "friction") -> pd.DataFrame:
        """Return the uncertainty budget of one result of one run.

        Parameters
        ----------
        run : str or int
            Label of the run.
        of : str
            "friction", "reynolds", "pressure_drop", "velocity", "flow", ...

        Returns
        -------
        pandas.DataFrame
            As `Quantity.budget`.
        """
        return self.result(of).budget(self.position(run))

    @property
    def _names(self) -> tuple[str, ...]:
        """What messages call the runs."""
        return tuple(f"run {label}" for label in self.labels)

    def cross_check(
        self,
        of: str = "friction",
        *,
        level: float = 0.95,
        digits: int = 1,
        trials: int = TRIALS,
        seed: int = 0,
    ) -> CrossCheck:
        """Hold the linear method against draws for one result of all runs.

        Parameters
        ----------
        of : str
            As for `budget`.
        level, digits, trials, seed
            As for `flowunc.cross_check`.
        """
        quantity = self.result(of)

        def check() -> CrossCheck:
            drawn = (
                self.draw(trials=trials, seed=seed)[_JOINT.index(of)]
                if of in _JOINT
                else monte_carlo(quantity, trials, seed=seed, names=self._names)
            )
            found = compare(quantity, drawn, level=level, digits=digits, kind="symmetric")
            return replace(found, names=self.labels)

        check_level(level)
        return self._keep(("cross-check", of, level, digits, trials, seed), check)

    def draw(self, *, trials: int = TRIALS, seed: int = 0, progress: bool = False) -> JointResult:
        """Draw Re and f of all runs together; whatever needs these draws later finds them made.

        Parameters
        ----------
        trials, seed : int
        progress : bool
            Show how far the draws are, on standard error.

        Returns
        -------
        JointResult
            Of Re and f.
        """
        return self._keep(
            ("drawn", trials, seed),
            lambda: monte_carlo_joint(
                [self.reynolds, self.friction],
                trials,
                seed=seed,
                progress=progress,
                names=self._names,
            ),
        )

    # -- conclusions ---------------------------------------------------------------------------
    def regimes(self, *, trials: int = TRIALS, seed: int = 0) -> Regimes:
        """Return the probabilities of laminar, transitional and turbulent flow in each run.

        As `flowunc.regime` with the thresholds of the bench, from the draws that the other
        conclusions come from.
        """
        return self._keep(("regimes", trials, seed), lambda: self._regimes(trials, seed))

    def _regimes(self, trials: int, seed: int) -> Regimes:
        low, high = self.bench.laminar_below, self.bench.turbulent_above
        shares = np.empty((3, len(self)))
        # one run at a time, for memory
        for run, draws in self.draw(trials=trials, seed=seed)[0]._rows():
            shares[:, [run]] = shares_of_draws(
                draws[:, np.newaxis],
                low,
                high,
                runs=[self.labels[run]],
                function="regimes",
                name="Re",
            )
        shares.setflags(write=False)
        laminar, transitional, turbulent = shares
        return Regimes(
            self.reynolds,
            laminar,
            transitional,
            turbulent,
            low,
            high,
            trials,
            seed,
            self.labels,
        )

    def laws(self, *, trials: int = TRIALS, seed: int = 0) -> LawChoice:
        """Return the law that each run is held against, and what it gives there."""
        return self._keep(
            ("laws", trials, seed),
            lambda: choose_laws(self.reynolds, self.regimes(trials=trials, seed=seed), self.bench),
        )
