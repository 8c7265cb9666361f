"""`DocumentError`: a JSON document of quantities that cannot be used, with the place."""

from __future__ import annotations

from flowunc.core.errors import FlowuncError

__all__ = ["DocumentError"]


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
