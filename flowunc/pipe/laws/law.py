"""`FrictionLaw`: an equation for f together with where it holds and how well."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import read_values
from flowunc.core.component import Component, Term
from flowunc.core.display.tables import mimebundle, paragraphs
from flowunc.core.distributions import Rectangular
from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.kinds import FrictionFactor, Ratio, ReynoldsNumber, require_kind
from flowunc.core.record import common_size
from flowunc.fluids.model_error import PERCENT, one_within

__all__ = ["FrictionLaw", "JointRange", "model_component"]

Floats = NDArray[np.float64]
Equation = Callable[[Ratio, Ratio], Ratio]
ModelError = Callable[[Floats, Floats], Sequence[Term]]


def model_component(law: str, label: str, half_width: float) -> Component:
    """Make the relative error of a law: rectangular, shared by everything computed with it."""
    return Component(
        label=label,
        distribution=Rectangular(half_width),
        unit=PERCENT,
        source=f"law {law}",
        key=f"flowunc.law.{law}",
    )


def _exact(reynolds: Floats, roughness: Floats) -> Sequence[Term]:
    return ()


@dataclass(frozen=True)
class JointRange:
    """A condition that Reynolds number and relative roughness have to meet together.

    Attributes
    ----------
    text : str
        The condition in words.
    holds : callable
        ``holds(reynolds, roughness)`` on arrays tells for each run whether it is met.
    """

    text: str
    holds: Callable[[Floats, Floats], NDArray[np.bool_]] = field(repr=False)


@dataclass(frozen=True)
class FrictionLaw:
    """A law for the Darcy friction factor; call it with a Reynolds number.

    Attributes
    ----------
    name : str
        Name in `flowunc.laws`.
    title : str
        Name in texts.
    formula : str
        The equation; ``e`` is the relative roughness eps/D.
    reynolds_range : tuple of float
        Lowest and highest Reynolds number, both included (0 is not).
    uncertainty : str
        Relative uncertainty of the law itself, in words.
    source : str
    roughness_range : tuple of float or None
        Lowest and highest relative roughness; None for a law that takes none.
    joint_range : JointRange or None
        What Reynolds number and roughness have to meet together, if anything.

    Examples
    --------
    >>> from flowunc import ReynoldsNumber, laws
    >>> laws.blasius(ReynoldsNumber(10_000, "1")).value
    0.03164
    >>> laws.blasius.covers(ReynoldsNumber([1500, 5000], "1")).tolist()
    [False, True]
    """

    name: str
    title: str
    formula: str
    reynolds_range: tuple[float, float]
    uncertainty: str
    source: str
    equation: Equation = field(repr=False)
    model_error: ModelError = field(repr=False, default=_exact)
    roughness_range: tuple[float, float] | None = None
    joint_range: JointRange | None = None

    def __call__(
        self, reynolds: ReynoldsNumber, relative_roughness: Ratio | ArrayLike | None = None
    ) -> FrictionFactor:
        """Compute the Darcy friction factor by this law.

        Parameters
        ----------
        reynolds : ReynoldsNumber, scalar or shape (n,)
        relative_roughness : Ratio or float, scalar or shape (n,)
            eps/D, 0 for a smooth wall; only for laws with a `roughness_range`.

        Returns
        -------
        FrictionFactor
            Darcy's. It carries the error of the law itself as a shared relative component.

        Raises
        ------
        DimensionError
            Another kind of quantity; roughness missing, or given to a law that takes none.
        RangeError
            A value outside the range of the law: choose rows with `covers`.

        Notes
        -----
        Values are checked, draws of a simulation are not: those that stray past the end of the
        range are evaluated by the law.
        """
        re, roughness = self._arguments(reynolds, relative_roughness)
        self._refuse_outside(re, roughness)
        friction = self.equation(re, roughness)
        errors = self.model_error(re._node.value, roughness._node.value)
        if errors:
            friction = friction * one_within(*errors)
        return FrictionFactor._from_node(friction._node, label=f"friction factor, {self.title}")

    def covers(
        self, reynolds: ReynoldsNumber, relative_roughness: Ratio | ArrayLike | None = None
    ) -> bool | NDArray[np.bool_]:
        """Tell for each run whether it lies in the range of the law.

        Parameters
        ----------
        reynolds, relative_roughness
            As for the call; the roughness may be left out to ask about Re alone.

        Returns
        -------
        bool or ndarray of bool, shape (n,)
            Ready for indexing: ``law(re[law.covers(re)])``.
        """
        smooth = 0.0 if self.roughness_range and relative_roughness is None else relative_roughness
        re, roughness = self._arguments(reynolds, smooth)
        inside = self._reynolds_inside(re._node.value) & self._roughness_inside(
            roughness._node.value
        )
        if relative_roughness is not None:
            inside = inside & self._jointly_inside(re._node.value, roughness._node.value)
        return bool(inside) if np.ndim(inside) == 0 else np.asarray(inside)

    def summary(self) -> dict[str, object]:
        """Return name, equation, ranges, uncertainty and source: one line of `laws.table`."""
        smoothest, roughest = self.roughness_range or (None, None)
        return {
            "name": self.name,
            "formula": self.formula,
            "Re from": self.reynolds_range[0],
            "Re to": self.reynolds_range[1],
            "eps/D from": smoothest,
            "eps/D to": roughest,
            "condition": self.joint_range.text if self.joint_range else "",
            "uncertainty": self.uncertainty,
            "source": self.source,
        }

    def __str__(self) -> str:
        low, high = self.reynolds_range
        lines = [f"{self.title}: {self.formula}", f"  Re {low:g} to {high:g}"]
        if self.roughness_range is not None:
            smoothest, roughest = self.roughness_range
            lines.append(f"  e = eps/D {smoothest:g} to {roughest:g}")
        if self.joint_range is not None:
            lines.append(f"  {self.joint_range.text}")
        return "\n".join([*lines, f"  {self.uncertainty}", f"  {self.source}"])

    def _repr_html_(self) -> str:
        return paragraphs([line.strip() for line in str(self).splitlines()])

    _repr_mimebundle_ = mimebundle

    def _arguments(
        self, reynolds: ReynoldsNumber, roughness: Ratio | ArrayLike | None
    ) -> tuple[Ratio, Ratio]:
        function = f"laws.{self.name}"
        re = require_kind(reynolds, ReynoldsNumber, function, "reynolds")
        if self.roughness_range is None:
            if roughness is not None:
                raise DimensionError(
                    f"{function}: got a relative roughness; this law takes none: leave it "
                    "out, or use laws.colebrook_white"
                )
            return Ratio._from_node(re._node), Ratio(0.0, "1")
        if roughness is None:
            raise DimensionError(
                f"{function}: no relative roughness; expected roughness / bore, or 0 for a smooth "
                "wall, as second argument"
            )
        if isinstance(roughness, (int, float, list, tuple, np.ndarray, np.number)):
            values = read_values(roughness, f"{function}(relative_roughness=...)")
            found = Ratio(values, "1")
        else:
            found = require_kind(roughness, Ratio, function, "relative_roughness")
        common_size((re._node, found._node))
        return Ratio._from_node(re._node), found

    def _reynolds_inside(self, values: Floats) -> NDArray[np.bool_]:
        low, high = self.reynolds_range
        inside: NDArray[np.bool_] = (values >= low) & (values <= high) & (values > 0)
        return inside

    def _roughness_inside(self, values: Floats) -> NDArray[np.bool_]:
        low, high = self.roughness_range or (0.0, 0.0)
        inside: NDArray[np.bool_] = (values >= low) & (values <= high)
        return inside

    def _jointly_inside(self, reynolds: Floats, roughness: Floats) -> NDArray[np.bool_]:
        if self.joint_range is None:
            return np.ones(np.broadcast_shapes(reynolds.shape, roughness.shape), dtype=np.bool_)
        return self.joint_range.holds(reynolds, roughness)

    def _refuse_outside(self, re: Ratio, roughness: Ratio) -> None:
        low, high = self.reynolds_range
        inside = self._reynolds_inside(re._node.value)
        self._refuse("Reynolds number", re._node.value, inside, low, high)
        low, high = self.roughness_range or (0.0, 0.0)
        inside = self._roughness_inside(roughness._node.value)
        self._refuse("relative roughness", roughness._node.value, inside, low, high)
        inside = self._jointly_inside(re._node.value, roughness._node.value)
        self._refuse_together(re._node.value, roughness._node.value, inside)

    def _refuse_together(
        self, reynolds: Floats, roughness: Floats, inside: NDArray[np.bool_]
    ) -> None:
        outside = np.flatnonzero(~np.atleast_1d(inside))
        if outside.size and self.joint_range is not None:
            first = int(outside[0])
            re, e = (np.broadcast_to(v, inside.shape).flat[first] for v in (reynolds, roughness))
            raise RangeError(
                f"laws.{self.name}: Reynolds number {re:.6g} with relative roughness {e:.6g}"
                f"{_place(inside, outside)}; expected {self.joint_range.text}, {self.source}: "
                f"choose rows with laws.{self.name}.covers(re, roughness), or another law"
            )

    def _refuse(
        self, what: str, values: Floats, inside: NDArray[np.bool_], low: float, high: float
    ) -> None:
        outside = np.flatnonzero(~np.atleast_1d(inside))
        if outside.size:
            value = np.atleast_1d(values)[int(outside[0])]
            raise RangeError(
                f"laws.{self.name}: {what} {value:.6g}{_place(inside, outside)}; "
                f"expected {low:g} to {high:g}, the range of the law, {self.source}: choose rows "
                f"with laws.{self.name}.covers(...), or another law"
            )


def _place(inside: NDArray[np.bool_], outside: NDArray[np.intp]) -> str:
    place = "" if inside.ndim == 0 else f" at reading {int(outside[0])}"
    return place if outside.size == 1 else f"{place} (and {outside.size - 1} more)"
