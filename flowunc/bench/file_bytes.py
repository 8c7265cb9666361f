"""The bytes of a file that a user names, or the reason why there are none."""

from __future__ import annotations

from collections.abc import Callable
from os import PathLike, fsdecode

__all__ = ["read_bytes"]


def read_bytes(
    path: str | PathLike[str],
    expected: str,
    most: int,
    too_large: str,
    error: Callable[[str, str], Exception],
) -> bytes:
    """Read a file that should be small.

    Parameters
    ----------
    path : str or path
    expected : str
        What the file should be, such as "the lab sheet (CSV)".
    most : int
        Bytes; no more are read.
    too_large : str
        The complaint about a file with more.
    error : callable
        Makes the exception from the complaint and the name of the file.
    """
    try:
        file = fsdecode(path)
    except TypeError:
        raise error(
            f"got {type(path).__name__}; expected the path of a file, {expected}", repr(path)
        ) from None
    try:
        with open(path, "rb") as stream:
            data = stream.read(most + 1)
    except FileNotFoundError:
        raise error(f"no such file; expected {expected}", file) from None
    except IsADirectoryError:
        raise error(f"this is a folder; expected {expected}", file) from None
    except (OSError, ValueError) as reason:  # ValueError: a path with a zero byte
        raise error(f"cannot be read: {reason}", file) from None
    if len(data) > most:
        raise error(too_large, file)
    return data
