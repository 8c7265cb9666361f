"""A reading that will not stand still: a float or a column that swings between two marks.

What is wanted is the mean about which it swings. How far off the recorded number may be depends
on how it was come by, so the three ways have a shape each:

- Only the band was noted, and the mean lies somewhere in it: ``"rectangular"``. The default,
  because it claims no more than was seen, and covers a swing that is lopsided or decays.
- The observer watched several swings and judged their middle: ``"triangular"``, since a
  judgement near an end of the band is less likely.
- One reading was caught at a random moment, as by a photograph or a logger: ``"arcsine"``. A
  sinusoidal swing spends most of its time near its turning points. This is the widest of the
  three, and it is wrong for the middle of a band, which is no caught reading.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flowunc.core.arguments import read_values
from flowunc.core.errors import DimensionError, RangeError, ShapeError, StatementError
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Statement, arcsine, limits, triangular
from flowunc.instruments.instrument import Instrument, first_at

__all__ = ["Shape", "read_band", "swinging"]

Q = TypeVar("Q", bound=Quantity)
Shape = Literal["rectangular", "triangular", "arcsine"]

_SHAPES: dict[str, Callable[..., Statement]] = {
    "rectangular": limits,
    "triangular": triangular,
    "arcsine": arcsine,
}


def swinging(
    low: ArrayLike,
    high: ArrayLike,
    unit: str | None = None,
    *,
    shape: Shape = "rectangular",
    label: str | None = None,
) -> Statement:
    """State that a reading swung between two marks: an error of half the band either way.

    Parameters
    ----------
    low, high : float or array_like, shape (n,)
        Turning points of the swing.
    unit : str, optional
        Unit of both; that of the reading if left out.
    shape : {"rectangular", "triangular", "arcsine"}
        The mean lies anywhere in the band; the observer judged the middle; the reading was
        caught at a random moment.
    label : str, optional
        Name of the component in budgets.

    Returns
    -------
    Statement
        For ``read`` of an instrument, or for a quantity.

    Raises
    ------
    RangeError
        Turning points exchanged, or not finite.
    StatementError
        Another shape.

    Notes
    -----
    With the half-width a = (high - low) / 2 the standard uncertainty is a / sqrt(3)
    [JCGM 100, 4.3.7], a / sqrt(6) [JCGM 100, 4.3.9] or a / sqrt(2) [JCGM 101, 6.4.6]. It is
    an independent error of each reading.

    Examples
    --------
    >>> from flowunc import VolumeFlowRate, swinging
    >>> caught = VolumeFlowRate(2.05, "L/min", swinging(1.9, 2.1, shape="arcsine"))
    >>> round(caught.u, 4)
    0.0707
    """
    if str(shape) not in _SHAPES:
        raise StatementError(
            f"swinging(shape={shape!r}): expected 'rectangular' (the mean lies anywhere in the "
            "band), 'triangular' (its middle was judged) or 'arcsine' (caught at a random moment)"
        )
    lowest, highest = _turning_points(low, high, "swinging")
    half = (highest - lowest) / 2.0
    return _SHAPES[shape](half if half.ndim else float(half), unit, label=label)


def read_band(
    instrument: Instrument[Q],
    low: ArrayLike,
    high: ArrayLike,
    *statements: Statement,
    shape: Shape = "rectangular",
    label: str | None = None,
    **options: Any,
) -> Q:
    """Read an instrument that swings: the middle of the band, with the band as an error.

    Parameters
    ----------
    instrument : Instrument
        What was read.
    low, high : float or array_like, shape (n,)
        Turning points, in the unit of its scale; both must lie on the scale.
    *statements : Statement
        What else is known of these readings.
    shape : {"rectangular", "triangular", "arcsine"}
        As in `swinging`. "arcsine" only where the value at one moment of the swing is
        wanted, not its mean.
    label : str, optional
        Name of the reading, such as "high column".
    **options
        What ``read`` of the instrument takes besides, such as ``density=``.

    Returns
    -------
    Quantity, scalar or shape (n,)
        As ``instrument.read`` gives it, with one component more: the swing.

    Raises
    ------
    DimensionError
        Something that is no instrument.
    RangeError
        Turning points exchanged, or off the scale.
    ShapeError
        Different numbers of lower and upper turning points.
    StatementError
        Another shape.

    Notes
    -----
    The middle of the band has the resolution of one reading: both ends are read by the same
    eye from the same marks.

    Examples
    --------
    >>> from flowunc import Scale, VariableAreaMeter, percent_of_full_scale, read_band
    >>> meter = VariableAreaMeter(
    ...     Scale(0.1, "L/min", span=(0.4, 4.0)), accuracy=percent_of_full_scale(2)
    ... )
    >>> flow = read_band(meter, 1.9, 2.2)
    >>> round(flow.value, 4), [component.label for component in flow.components][-1]
    (2.05, 'flow meter swing')
    """
    if not isinstance(instrument, Instrument):
        raise DimensionError(
            f"read_band: got {type(instrument).__name__} {instrument!r}; expected the instrument "
            "that was read, then the two turning points"
        )
    lowest, highest = _turning_points(low, high, f"{instrument.label}, band")
    for end in (lowest, highest):
        instrument.scale.refuse_off_span(end, f"{instrument.label}, band")
    name = f"{instrument.label} swing" + (f", {label}" if label else "")
    swing = swinging(lowest, highest, shape=shape, label=name)
    middle = (lowest + highest) / 2.0
    return instrument.read(middle, swing, *statements, label=label, **options)


def _turning_points(
    low: ArrayLike, high: ArrayLike, owner: str
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    lowest, highest = read_values(low, f"{owner}, low"), read_values(high, f"{owner}, high")
    if lowest.shape != highest.shape:
        raise ShapeError(
            f"{owner}: {lowest.size} lower and {highest.size} upper turning points; expected one "
            "of each for every reading"
        )
    bad = lowest > highest
    if bad.any():
        raise RangeError(
            f"{owner}{first_at(bad)}: {float(lowest[bad].flat[0]):g} to "
            f"{float(highest[bad].flat[0]):g}; expected the lowest reading first"
        )
    return lowest, highest
