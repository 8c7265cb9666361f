"""Errors and warnings: one tree under :class:`FlowuncError`.

Each error is also a built-in ``ValueError`` or ``TypeError``, keeps its parts as
attributes, and survives pickling with them.
"""

from __future__ import annotations

import sys
import warnings

__all__ = [
    "BenchError",
    "BlockError",
    "DimensionError",
    "DocumentError",
    "FlowuncError",
    "FlowuncWarning",
    "MissingPackageError",
    "PropagationError",
    "RangeError",
    "ReportError",
    "ShapeError",
    "SheetError",
    "SingleValueError",
    "StatementError",
    "UnitError",
    "warn_user",
]


class FlowuncError(Exception):
    """Base of every error that flowunc raises on purpose."""


class DimensionError(FlowuncError, TypeError):
    """Quantities of the wrong kind or dimension were combined or passed."""


class UnitError(FlowuncError, ValueError):
    """A unit is unknown, malformed, or does not fit the quantity."""


class RangeError(FlowuncError, ValueError):
    """A value lies outside the range in which it has a meaning."""


class ShapeError(FlowuncError, ValueError):
    """Lengths do not fit together: neither equal nor one."""


class SingleValueError(ShapeError, TypeError):
    """A single value was used as readings; a TypeError as well, as Python's protocols expect."""


class StatementError(FlowuncError, ValueError):
    """A statement of uncertainty contradicts itself or lacks what it refers to."""


class PropagationError(FlowuncError, ValueError):
    """The recorded model cannot be propagated as asked."""


class BlockError(PropagationError):
    """A block of a simulation failed in another process; says which one."""


class SheetError(FlowuncError, ValueError):
    """A lab sheet cannot be used as it stands.

    Attributes
    ----------
    reason : str
        What was found and what was expected.
    file : str
        Path of the sheet.
    line : int or None
        Line of the file, counted from 1 (the header is line 1).
    column : str or None
        Name of the column.
    """

    def __init__(
        self, reason: str, file: str, line: int | None = None, column: str | None = None
    ) -> None:
        self.reason = reason
        self.file = file
        self.line = line
        self.column = column
        place = file
        if line is not None:
            place += f", line {line}"
        if column is not None:
            place += f", column '{column}'"
        super().__init__(f"{place}: {reason}")

    def __reduce__(self) -> tuple[type[SheetError], tuple[object, ...]]:
        return type(self), (self.reason, self.file, self.line, self.column)


class BenchError(FlowuncError, ValueError):
    """A bench description cannot be used as it stands.

    Attributes
    ----------
    reason : str
        What was found and what was expected.
    file : str
        Path of the bench file, or "<bench>" for one made in Python.
    key : str or None
        Dotted key in the file, such as ``meters.small.scale.division``.
    """

    def __init__(self, reason: str, file: str, key: str | None = None) -> None:
        self.reason = reason
        self.file = file
        self.key = key
        place = file if key is None else f"{file}, key '{key}'"
        super().__init__(f"{place}: {reason}")

    def __reduce__(self) -> tuple[type[BenchError], tuple[object, ...]]:
        return type(self), (self.reason, self.file, self.key)


class DocumentError(FlowuncError, ValueError):
    """A JSON document of quantities cannot be used as it stands.

    Attributes
    ----------
    reason : str
        What was found and what was expected.
    pointer : str
        Place in the document, a JSON pointer such as ``/steps/3/inputs/0``; "" for all of it.
    file : str
        Path of the document, or "<text>".
    """

    def __init__(self, reason: str, pointer: str = "", file: str = "<text>") -> None:
        self.reason = reason
        self.pointer = pointer
        self.file = file
        super().__init__(f"{file}{', at ' if pointer else ''}{pointer}: {reason}")

    def __reduce__(self) -> tuple[type[DocumentError], tuple[object, ...]]:
        return type(self), (self.reason, self.pointer, self.file)


class MissingPackageError(FlowuncError, ImportError, ValueError):
    """An optional package that was asked for is not installed."""


class ReportError(FlowuncError, OSError, ValueError):
    """A report cannot be written where it was asked for."""


class FlowuncWarning(UserWarning):
    """The result stands, but something about it deserves a look."""


def warn_user(message: str) -> None:
    """Issue a `FlowuncWarning` that points at the user's line, not at one of the package."""
    level = 2
    frame = sys._getframe(1)
    while frame.f_back is not None and frame.f_globals.get("__name__", "").startswith("flowunc."):
        frame = frame.f_back
        level += 1
    warnings.warn(message, FlowuncWarning, stacklevel=level)
