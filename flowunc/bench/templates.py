"""Blank files to fill in: the description of a bench, and a lab sheet for it."""

from __future__ import annotations

from pathlib import Path

from flowunc.core.errors import BenchError

__all__ = ["BLANK", "write_templates"]

BLANK = Path(__file__).parent / "template"


def write_templates(folder: str | Path) -> tuple[Path, ...]:
    """Write a blank bench file and a blank lab sheet into a folder.

    Parameters
    ----------
    folder : str or Path
        Made if it does not exist; the folder that it is to stand in must.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    BenchError
        A file of that name is there already, which is left as it is, or the folder cannot be
        written to.

    Examples
    --------
    >>> import tempfile
    >>> from flowunc.bench.templates import write_templates
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in write_templates(folder)]
    ['bench.toml', 'sheet.csv']
    """
    place = Path(folder)
    pairs = [(blank, place / blank.name) for blank in sorted(BLANK.iterdir())]
    for _, path in pairs:
        if path.exists():
            raise BenchError(
                "there is such a file already, and it was left as it is; expected a new folder, or "
                "one without bench.toml and sheet.csv",
                str(path),
            )
    try:
        place.mkdir(exist_ok=True)
        for blank, path in pairs:
            with path.open("xb") as file:
                file.write(blank.read_bytes())
    except OSError as error:
        raise BenchError(
            f"cannot write the blank files there ({error.strerror}); expected a folder that you "
            "may write to",
            str(place),
        ) from error
    return tuple(path for _, path in pairs)
