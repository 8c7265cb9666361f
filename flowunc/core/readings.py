"""Readings along one axis: picking, joining, summing and averaging, correlations kept."""

from __future__ import annotations

import operator
from abc import abstractmethod
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Self

import numpy as np
from numpy.typing import NDArray

from flowunc.core import operations as op
from flowunc.core.arithmetic import Arithmetic
from flowunc.core.errors import DimensionError, PropagationError, ShapeError, SingleValueError
from flowunc.core.record import Node, concatenate_nodes, constant, elementwise, take, total

if TYPE_CHECKING:
    from flowunc.core.units import Unit

__all__ = ["Readings", "concatenate"]


class Readings(Arithmetic):
    """The part of a quantity that knows it has readings."""

    __slots__ = ()

    _label: str

    @abstractmethod
    def _with(self, node: Node, unit: Unit | None = None, label: str | None = None) -> Self:
        """Make a quantity of the same kind on another record."""

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the value: () for a scalar, (n,) for readings."""
        return self._node.value.shape

    @property
    def ndim(self) -> int:
        """0 for a scalar, 1 for readings."""
        return self._node.value.ndim

    @property
    def size(self) -> int:
        """Number of values, 1 for a scalar."""
        return self._node.value.size

    def _require_readings(self, doing: str) -> int:
        size: int | None = self._node.size
        if size is None:
            raise SingleValueError(f"{doing}: this is a single value, not readings")
        return size

    def __len__(self) -> int:
        return self._require_readings("len()")

    def __getitem__(self, index: Any) -> Self:
        """Return readings by int (a scalar), slice, list of ints or mask; kind and unit stay."""
        count = self._require_readings("indexing")
        if isinstance(index, slice):
            return self._with(take(self._node, _some(np.arange(count)[index], index)))
        if isinstance(index, (bool, np.bool_)):
            raise ShapeError(f"index {index!r}: expected a whole number, a slice, or a mask")
        try:
            position = operator.index(index)
        except TypeError:
            return self._with(take(self._node, _index_array(index, count)))
        if not -count <= position < count:
            # IndexError is what Python's own protocols (iteration, reversed) wait for
            raise IndexError(f"reading {position} of {count}: expected {-count} to {count - 1}")
        return self._with(take(self._node, position % count))

    def __iter__(self) -> Iterator[Self]:
        return (self[i] for i in range(self._require_readings("iteration")))

    def sum(self) -> Any:
        """Return the sum over readings, a scalar; temperatures have no sum.

        Examples
        --------
        >>> from flowunc import Length, limits
        >>> round(Length([1, 2, 3], "m", limits(0.1)).sum().u, 4)
        0.1
        """
        if self._absolute:
            raise DimensionError("the sum of temperatures has no meaning: use .mean()")
        return self._result(total(self._node), self._unit.dimension)

    def mean(self) -> Self:
        """Return the mean over readings, a scalar of the same kind and unit.

        Independent errors of the readings average out; a shared one stays whole.

        Examples
        --------
        >>> from flowunc import Length, limits, shared
        >>> round(Length([1, 2, 3], "m", limits(0.1)).mean().u, 4)
        0.0333
        >>> round(Length([1, 2, 3], "m", shared(limits(0.1))).mean().u, 4)
        0.0577
        """
        summed = total(self._node)
        return self._with(elementwise(op.DIVIDE, summed, constant(float(self.size))))

    def __array_function__(
        self, function: Any, types: Any, args: tuple[Any, ...], options: dict[str, Any]
    ) -> Any:
        name = getattr(function, "__name__", str(function))
        known: dict[str, Any] = {
            "sum": Readings.sum,
            "mean": Readings.mean,
            "concatenate": _numpy_concatenate,
        }
        given = {key: value for key, value in options.items() if value is not None}
        axis = given.pop("axis", 0)
        if name not in known or given or len(args) != 1 or axis not in (0, -1):
            raise PropagationError(
                f"numpy.{name} with these arguments is not recorded for quantities: "
                "numpy.sum, numpy.mean and numpy.concatenate are; use a formula, or "
                "flowunc.apply(function, ...)"
            )
        return known[name](args[0])


def _some(chosen: NDArray[np.intp], index: Any) -> NDArray[np.intp]:
    if chosen.size == 0:
        raise ShapeError(f"{index} picks no reading at all: expected one or more")
    return chosen


def _index_array(index: Any, count: int) -> NDArray[np.intp]:
    array = np.asarray(index) if not isinstance(index, tuple) else np.empty((0, 0))
    if array.ndim != 1 or array.dtype.kind not in "iub" or array.size == 0:
        raise ShapeError(
            f"index {index!r}: expected a whole number, a slice, a list of whole numbers, or a "
            "mask of the same length"
        )
    if array.dtype.kind == "b":
        if array.size != count:
            raise ShapeError(f"a mask of {array.size} for {count} readings: expected equal lengths")
        return _some(np.flatnonzero(array), "a mask")
    if array.min() < -count or array.max() >= count:
        raise ShapeError(f"index {index!r} outside {count} readings")
    chosen: NDArray[np.intp] = np.arange(count)[array]
    return chosen


def _numpy_concatenate(parts: Sequence[Any]) -> Any:
    return concatenate(*parts)


def concatenate(*quantities: Any) -> Any:
    """Join readings end to end, correlations kept.

    Parameters
    ----------
    *quantities : Quantity
        Scalars or readings of one dimension; also one list of them.

    Returns
    -------
    Quantity, shape (n,)
        Of the common kind, in the common unit if there is one, else in coherent SI.

    Raises
    ------
    DimensionError
        Different dimensions, or something that is no quantity.

    Examples
    --------
    >>> from flowunc import Length, concatenate
    >>> concatenate(Length(1, "mm"), Length([2, 3], "mm")).value
    array([1., 2., 3.])
    """
    if len(quantities) == 1 and isinstance(quantities[0], (list, tuple)):
        quantities = tuple(quantities[0])
    if not quantities:
        raise ShapeError("concatenate(): expected at least one quantity")
    for item in quantities:
        if not isinstance(item, Readings):
            raise DimensionError(f"concatenate of {type(item).__name__}: expected quantities")
    first = quantities[0]
    for item in quantities[1:]:
        if item._unit.dimension is not first._unit.dimension:
            raise DimensionError(
                f"concatenate of {type(first).__name__} ({first._unit}) and "
                f"{type(item).__name__} ({item._unit}): their dimensions differ"
            )
        if item._absolute != first._absolute:
            raise DimensionError("concatenate of a temperature and a temperature difference")
    node = concatenate_nodes([item._node for item in quantities])
    if any(type(item) is not type(first) for item in quantities):
        return first._result(node, first._unit.dimension)
    same_unit = all(item._unit == first._unit for item in quantities)
    same_label = all(item._label == first._label for item in quantities)
    unit = first._unit if same_unit else None
    result = first._with(node, unit, first._label if same_label else "")
    return result if same_unit else result.si
