"""Files that cannot be read: what a sheet and a bench file have in common."""

from __future__ import annotations

from pathlib import Path

import pytest

from flowunc.bench.file_bytes import read_bytes


class RefusedError(Exception):
    """Complaint and file, as the errors of sheet and bench take them."""


def read(path: str | Path, most: int = 10) -> bytes:
    return read_bytes(path, "a list (CSV)", most, "more than 10 bytes", RefusedError)


def test_all_bytes_up_to_the_limit(tmp_path: Path) -> None:
    path = tmp_path / "f"
    path.write_bytes(b"\xff\x00\r\n456789")
    assert read(path) == b"\xff\x00\r\n456789"
    path.write_bytes(b"0123456789a")
    with pytest.raises(RefusedError) as caught:
        read(path)
    assert caught.value.args == ("more than 10 bytes", str(path))


def test_missing_file_and_folder(tmp_path: Path) -> None:
    missing = tmp_path / "none.csv"
    for path, complaint in (
        (missing, "no such file; expected a list (CSV)"),
        (tmp_path, "this is a folder; expected a list (CSV)"),
    ):
        with pytest.raises(RefusedError) as caught:
            read(path)
        assert caught.value.args == (complaint, str(path))


def test_a_name_that_no_file_can_have() -> None:
    with pytest.raises(RefusedError, match="cannot be read"):
        read("a\0b")


def test_a_file_without_end_is_not_read_to_its_end() -> None:
    if not Path("/dev/zero").exists():
        pytest.skip("no such device on this system")
    with pytest.raises(RefusedError, match="more than 10 bytes"):
        read("/dev/zero")


def test_what_is_no_path_is_refused_and_bytes_are_one(tmp_path: Path) -> None:
    with pytest.raises(
        RefusedError, match="got int; expected the path of a file, a list"
    ) as caught:
        read(3)
    assert caught.value.args[1] == "3"
    path = tmp_path / "f"
    path.write_bytes(b"abc")
    assert read(str(path).encode()) == b"abc"
