"""Files that are either written whole or left as they were.

Everything is first written beside its place, to the disk and not only to memory; only then is it
given its name. A full disk or a killed process leaves the old file as it was.
"""

from __future__ import annotations

import os
import secrets
import shutil
import stat
from collections.abc import Mapping
from pathlib import Path

from flowunc.core.errors import ReportError

__all__ = ["check_target", "write_whole"]


def check_target(path: Path) -> None:
    """Refuse a place that no file can be written to, before anything is computed.

    Raises
    ------
    ReportError
        A folder, something that is no file, or a folder that does not exist.
    """
    if path.is_dir():
        raise ReportError(f"{path}: this is a folder; expected the name of a file in it")
    if path.exists() and not path.is_file():
        raise ReportError(f"{path}: this is no ordinary file; expected the name of a new file")
    parent = path.parent
    if not parent.exists():
        raise ReportError(
            f"{path}: the folder {parent} does not exist; make it first, or write elsewhere"
        )
    if not parent.is_dir():
        raise ReportError(f"{path}: {parent} is a file, not a folder; write elsewhere")


def write_whole(
    path: Path,
    data: bytes,
    folder: Path | None,
    files: Mapping[str, bytes],
    known: frozenset[str],
) -> None:
    """Write a file and the folder of pictures that belongs to it.

    Parameters
    ----------
    path : Path
        Of the file; what is there is replaced.
    data : bytes
    folder : Path or None
        Of the pictures, beside the file; replaced as a whole, removed where there are none. None
        for a file that has no such folder: what lies there is then left alone.
    files : mapping of str to bytes
        Pictures by their names.
    known : frozenset of str
        Names that a report gives to pictures. A folder that holds anything else is somebody's
        own, and refused.

    Raises
    ------
    ReportError
        A place that cannot be used, a folder with other files in it, a disk that is full.
    """
    check_target(path)
    if folder is not None:
        _refuse_foreign(folder, known)
    made: list[Path] = []
    try:
        beside = _written_beside(path, data, made)
        pictures = _folder_beside(folder, files, made) if folder and files else None
        _exchange(path, beside, folder, pictures)
    except OSError as error:
        reason = error.strerror or str(error)
        raise ReportError(f"{path}: cannot be written: {reason}; nothing was changed") from error
    finally:
        for leftover in made:
            _remove(leftover)


def _written_beside(target: Path, data: bytes, made: list[Path]) -> Path:
    beside = _name_beside(target)
    made.append(beside)
    _write(beside, data)
    if target.exists():
        beside.chmod(stat.S_IMODE(target.stat().st_mode))
    return beside


def _folder_beside(folder: Path, files: Mapping[str, bytes], made: list[Path]) -> Path:
    beside = _name_beside(folder)
    made.append(beside)
    beside.mkdir()
    for name, data in files.items():
        _write(beside / name, data)
    return beside


def _name_beside(path: Path) -> Path:
    """Return a name in the same folder that nothing has: only there can a file be renamed."""
    return path.with_name(f".{path.name}.{secrets.token_hex(6)}")


def _write(path: Path, data: bytes) -> None:
    with open(path, "xb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def _exchange(target: Path, beside: Path, folder: Path | None, pictures: Path | None) -> None:
    """Give both their names; where the second step fails, the first one is taken back."""
    old: Path | None = None
    if folder is not None and folder.exists():
        old = _name_beside(folder)
        os.replace(folder, old)
    try:
        if folder is not None and pictures is not None:
            os.replace(pictures, folder)
        os.replace(beside, target)
    except OSError:
        if folder is not None and pictures is not None and folder.exists():
            os.replace(folder, pictures)
        if folder is not None and old is not None:
            os.replace(old, folder)
        raise
    if old is not None:
        _remove(old)


def _refuse_foreign(folder: Path, known: frozenset[str]) -> None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise ReportError(
            f"{folder}: the charts belong there, but this is no ordinary folder; move it away, or "
            "give the report another name"
        )
    if not folder.is_dir():
        return
    foreign = sorted(entry.name for entry in folder.iterdir() if entry.name not in known)
    if foreign:
        more = "" if len(foreign) == 1 else f" and {len(foreign) - 1} more"
        raise ReportError(
            f"{folder}: the charts belong there, but it holds {foreign[0]!r}{more}, which no "
            "report has written; move that away, or give the report another name"
        )


def _remove(path: Path) -> None:
    """Remove what is left of a file or folder of ours; what cannot be removed does no harm."""
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)
