"""A bench with two meters, and a way to write sheets and benches for it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import Bench, load_bench

DATA = Path(__file__).parent / "data"
HEADER = "run,meter,flow,temperature [degC],angle [deg],high [mm],low [mm],note"


@pytest.fixture
def bench_path() -> Path:
    return DATA / "two_meters.toml"


@pytest.fixture
def bench(bench_path: Path) -> Bench:
    return load_bench(bench_path)


@pytest.fixture
def write_sheet(tmp_path: Path) -> Callable[..., Path]:
    """Write a sheet from its rows, header first unless another is given."""

    def write(*rows: str, header: str = HEADER, encoding: str = "utf-8") -> Path:
        path = tmp_path / "sheet.csv"
        path.write_bytes("\n".join([header, *rows, ""]).encode(encoding))
        return path

    return write


@pytest.fixture
def write_bench(tmp_path: Path, bench_path: Path) -> Callable[..., Path]:
    """Write the bench of the tests with some of its text replaced."""

    def write(*replacements: tuple[str, str], more: str = "") -> Path:
        text = bench_path.read_text(encoding="utf-8")
        for old, new in replacements:
            assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the bench"
            text = text.replace(old, new)
        path = tmp_path / "bench.toml"
        path.write_text(text + more, encoding="utf-8")
        return path

    return write
