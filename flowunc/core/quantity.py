"""`Quantity`: a value with its unit and the recorded model behind it.

The class holds four things: a node of the record, a unit to show values in, a label, and the
uncertainty once it has been asked for. It computes nothing itself: operators are in
`arithmetic`, readings in `readings`, the engines behind `engine`, text in `display`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core import engine
from flowunc.core.arguments import read_values
from flowunc.core.dimensions import TEMPERATURE, Dimension
from flowunc.core.display.expanded import Expanded
from flowunc.core.engine import Drawn, Numbers
from flowunc.core.errors import DimensionError, RangeError, UnitError
from flowunc.core.readings import Readings
from flowunc.core.record import (
    FlatRecord,
    Input,
    Node,
    from_flat,
    input_node,
    to_flat,
    topological_order,
)
from flowunc.core.shown import Shown
from flowunc.core.statements import Reference, Statement, terms_of
from flowunc.core.units import Unit, coherent_unit, parse_unit

if TYPE_CHECKING:
    import pandas as pd

    from flowunc.core.component import Component, Term

__all__ = ["Expanded", "Numbers", "Quantity"]


class Quantity(Shown, Readings):
    """A value, or readings, with unit, uncertainty and the model that led to it.

    Parameters
    ----------
    value : float or array_like, shape (n,)
        Number or readings in ``unit``.
    unit : str
        Any product of powers of known units, such as "kg*m^2/s^3". The unit of a pure
        number is "1".
    *statements : Statement
        What is known of the uncertainty; several add up as independent errors.
    label : str
        Name shown in budgets.

    Raises
    ------
    UnitError
        Unknown unit, or one of another dimension than the kind has.
    RangeError
        NaN, infinity, text, or a value without meaning for the kind.
    ShapeError
        More than one axis, or no reading at all.
    StatementError
        A statement that does not fit the value.

    Notes
    -----
    Arithmetic records the model; results come out in coherent SI and as the typed quantity
    of their dimension. Two results are correlated as far as they share components.

    Examples
    --------
    >>> from flowunc import Quantity, standard
    >>> power = Quantity(12.0, "kg*m^2/s^3", standard(0.5), label="pump power")
    >>> print(power)
    pump power: 12.00 ± 0.50 kg*m^2/s^3
    """

    __slots__ = ("_label", "_node", "_u", "_unit")

    dimension: ClassVar[Dimension | None] = None  # fixed for a typed quantity
    _by_dimension: ClassVar[dict[Dimension, type[Quantity]]] = {}

    _node: Node
    _unit: Unit
    _label: str
    _u: NDArray[np.float64] | None

    def __init__(
        self, value: ArrayLike, unit: str, *statements: Statement, label: str = ""
    ) -> None:
        """Make a quantity from what was read or is known.

        Parameters
        ----------
        value : float or array_like, shape (n,)
            Number or readings in ``unit``.
        unit : str
            Such as "mm", "L/min" or "degC"; "1" for a pure number.
        *statements : Statement
            What is known of the uncertainty, such as ``limits(0.05)``; several add up.
        label : str
            Name shown in budgets.
        """
        kind = type(self).__name__
        parsed = self._parsed_unit(unit)
        _check_label(label, kind)
        given = read_values(value, f"{kind}{f' {label!r}' if label else ''} in '{parsed}'")
        with np.errstate(over="ignore"):
            values = np.asarray(parsed.to_si(given), dtype=np.float64)
        if not np.isfinite(values).all():
            raise RangeError(f"{kind}: {value!r} {parsed} is too large for SI numbers")
        self._check_values(values, parsed)
        reference = Reference(
            label or self._word(), parsed, None if values.ndim == 0 else values.shape[0]
        )
        self._assign(input_node(values, terms_of(statements, values, reference)), parsed, label)

    def _assign(self, node: Node, unit: Unit, label: str) -> None:
        self._node, self._unit, self._label, self._u = node, unit, label, None

    @classmethod
    def _word(cls) -> str:
        """Return the kind in words: "volume flow rate"."""
        letters = [f" {c.lower()}" if c.isupper() else c for c in cls.__name__]
        return "".join(letters).strip()

    @classmethod
    def _parsed_unit(cls, unit: Any) -> Unit:
        parsed = parse_unit(unit)
        if cls.dimension is not None and parsed.dimension is not cls.dimension:
            raise UnitError(
                f"{cls.__name__} in '{parsed}': expected a unit of the same dimension as "
                f"'{coherent_unit(cls.dimension)}'"
            )
        if parsed.is_offset and not cls._absolute:
            raise UnitError(
                f"{cls.__name__} in '{parsed}': a temperature is made with Temperature(...); "
                "a difference is in 'K'"
            )
        return parsed

    @classmethod
    def _check_values(cls, values: NDArray[np.float64], unit: Unit) -> None:
        """Refuse values without meaning for the kind; subclasses add their own rule."""

    @classmethod
    def _from_node(cls, node: Node, unit: Unit | None = None, label: str = "") -> Self:
        """Make a quantity of this kind on top of an existing record."""
        made = object.__new__(cls)
        if unit is None:
            if cls.dimension is None:
                raise UnitError(f"{cls.__name__} on a record needs a unit")
            unit = coherent_unit(cls.dimension)
        made._assign(node, unit, label)
        return made

    @classmethod
    def _from_terms(
        cls, values: ArrayLike, terms: Sequence[Term], unit: Unit, label: str = ""
    ) -> Self:
        """Make a quantity from values in coherent SI and ready terms (instruments do)."""
        array = np.asarray(values, dtype=np.float64)
        cls._check_values(array, unit)
        return cls._from_node(input_node(array, terms), unit, label)

    @classmethod
    def _result(cls, node: Node, dimension: Dimension, *, absolute: bool = False) -> Quantity:
        unit = coherent_unit(dimension)
        if dimension is TEMPERATURE and not absolute:
            return Quantity._from_node(node, unit)
        kind = Quantity._by_dimension.get(dimension, Quantity)
        kind._check_values(node.value, unit)
        return kind._from_node(node, unit)

    def _with(self, node: Node, unit: Unit | None = None, label: str | None = None) -> Self:
        return self._from_node(
            node, self._unit if unit is None else unit, self._label if label is None else label
        )

    # -- what it says ------------------------------------------------------------------------
    @property
    def unit(self) -> str:
        """Unit of `value` and `u`."""
        return str(self._unit)

    @property
    def label(self) -> str:
        """Name given to it, "" if none."""
        return self._label

    @property
    def value(self) -> Numbers:
        """Value in `unit`: a float, or a read-only array of shape (n,)."""
        if self._unit.is_coherent:
            return self._shown(self._node.value)
        return self._shown(self._unit.from_si(self._node.value))

    @property
    def u(self) -> Numbers:
        """Standard uncertainty in `unit` by the law of propagation, shaped as `value`.

        Source: [JCGM 100, 5.1.2], first order; see `cross_check` for how far it holds.
        """
        return self._shown(self._unit.scale_from_si(self._u_si()))

    def _u_si(self) -> NDArray[np.float64]:
        if self._u is None:
            self._u = engine.propagation("linear").standard_uncertainty(self._node)
            self._u.setflags(write=False)
        return self._u

    @staticmethod
    def _shown(values: Any) -> Numbers:
        array: NDArray[np.float64] = np.asarray(values, dtype=np.float64)
        if array.ndim == 0:
            return float(array)
        array.setflags(write=False)
        return array

    @property
    def components(self) -> tuple[Component, ...]:
        """The elementary components behind it, in the order of the record."""
        found: dict[Component, None] = {}
        for node in topological_order([self._node], active_only=True):
            if isinstance(node.operation, Input):
                found |= dict.fromkeys(term.component for term in node.operation.terms)
        return tuple(found)

    def to(self, unit: str) -> Self:
        """Return the same quantity in another unit.

        Raises
        ------
        UnitError
            Unknown unit, one of another dimension, or a Celsius or Fahrenheit unit for a
            temperature difference.

        Examples
        --------
        >>> from flowunc import VolumeFlowRate, standard
        >>> print(VolumeFlowRate(2.0, "L/min", standard(0.1)).to("cm^3/s"))
        33.3 ± 1.7 cm^3/s
        """
        parsed = self._parsed_unit(unit)
        if parsed.dimension is not self._unit.dimension:
            raise UnitError(
                f"{type(self).__name__} in '{self._unit}' to '{parsed}': the dimensions differ; "
                f"expected a unit like '{coherent_unit(self._unit.dimension)}'"
            )
        return self._with(self._node, parsed)

    @property
    def si(self) -> Self:
        """The same quantity in its coherent SI unit."""
        return self._with(self._node, coherent_unit(self._unit.dimension))

    def labelled(self, label: str) -> Self:
        """Return the same quantity under another name (its components keep theirs)."""
        return self._with(self._node, label=_check_label(label, "labelled"))

    # -- what the engines say ----------------------------------------------------------------
    @property
    def dof(self) -> Numbers:
        """Effective degrees of freedom by Welch-Satterthwaite [JCGM 100, G.4.1]."""
        return self._shown(engine.propagation("coverage").effective_dof(self._node))

    def expanded(self, level: float | None = None, *, k: float | None = None) -> Expanded:
        """Return the expanded uncertainty U and its coverage factor k.

        Parameters
        ----------
        level : float
            Coverage probability, 0.95 unless given; k is the t factor for the effective
            degrees of freedom [JCGM 100, G.3 and G.4].
        k : float
            A fixed coverage factor in place of a level.

        Examples
        --------
        >>> from flowunc import Mass, standard
        >>> U, k = Mass(1.0, "kg", standard(0.002)).expanded(0.95)
        >>> round(U, 5), round(k, 3)
        (0.00392, 1.96)
        """
        factor = engine.propagation("coverage").coverage_factor(self._node, level, k)
        return Expanded(
            self._shown(factor * self._unit.scale_from_si(self._u_si())), self._shown(factor)
        )

    def interval(self, level: float = 0.95) -> tuple[Numbers, Numbers]:
        """Return the coverage interval (low, high) of the linear method, shaped as `value`."""
        width = self.expanded(level).U
        return self._shown(self.value - width), self._shown(self.value + width)

    def budget(self, row: int | None = None) -> pd.DataFrame:
        """Return the uncertainty budget of one reading as a table.

        Parameters
        ----------
        row : int, optional
            Reading, counted from 0; may be left out for a single value.

        Returns
        -------
        pandas.DataFrame
            One line per component, largest contribution first: component, evaluation,
            distribution, u and its unit, dof, sensitivity, contribution (in the unit of
            the quantity), share of the variance.
        """
        table: pd.DataFrame = engine.propagation("budget").budget(self, row)
        return table

    def covariance(self, other: Quantity) -> Numbers:
        """Return the covariance with another result, in self.unit times other.unit.

        A float for two scalars, else shape (n, m). Source: [JCGM 100, F.1.2.3].
        """
        self._require_quantity(other, "covariance")
        matrix = engine.propagation("contributions").covariance(self._node, other._node)
        return self._pairwise(matrix / (self._unit.factor * other._unit.factor), other)

    def correlation(self, other: Quantity) -> Numbers:
        """Return the correlation coefficient with another result, shaped as `covariance`."""
        self._require_quantity(other, "correlation")
        matrix = engine.propagation("contributions").correlation(self._node, other._node)
        return self._pairwise(matrix, other)

    @staticmethod
    def _require_quantity(other: Any, doing: str) -> None:
        if not isinstance(other, Quantity):
            raise DimensionError(f"{doing} with {type(other).__name__}: expected a quantity")

    def _pairwise(self, matrix: NDArray[np.float64], other: Quantity) -> Numbers:
        if self._node.size is None and other._node.size is None:
            return float(matrix[0, 0])
        return matrix

    def monte_carlo(self, trials: int = 200_000, **options: Any) -> Drawn:
        """Propagate distributions by drawing; see `flowunc.monte_carlo` for all options.

        Examples
        --------
        >>> from flowunc import Length, limits
        >>> area = Length(10, "mm", limits(0.1)) ** 2
        >>> drawn = area.monte_carlo(trials=20_000, seed=1)
        >>> abs(drawn.u / area.u - 1) < 0.02
        True
        """
        result: Drawn = engine.propagation("monte_carlo").monte_carlo(self, trials, **options)
        return result

    # -- other forms -------------------------------------------------------------------------
    def to_ufloats(self) -> Any:
        """Return numbers of the `uncertainties` package in `unit`, all correlations kept.

        One number for a scalar, else an object array of shape (n,).
        """
        return engine.propagation("ufloats").to_ufloats(self)

    @classmethod
    def from_ufloats(cls, values: Any, unit: str, *, label: str = "") -> Self:
        """Take numbers of the `uncertainties` package, all correlations kept.

        Raises
        ------
        StatementError
            Plain numbers, which carry no uncertainty: make the quantity directly.
        """
        made: Self = engine.propagation("ufloats").from_ufloats(cls, values, unit, label)
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        return _restored, (type(self), to_flat([self._node]), self._unit, self._label)

    def __copy__(self) -> Self:
        return self

    def __deepcopy__(self, memo: Any) -> Self:
        return self  # immutable: a copy is the same quantity, fully correlated with it


def _check_label(label: Any, function: str) -> str:
    if not isinstance(label, str):
        raise RangeError(f"{function}(label={label!r}): expected text")
    return label


def _restored(kind: type[Quantity], flat: FlatRecord, unit: Unit, label: str) -> Quantity:
    return kind._from_node(from_flat(flat)[0], unit, label)
