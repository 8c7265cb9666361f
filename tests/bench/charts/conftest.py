"""The example's runs, a figure without a window, and no figure left open."""

from __future__ import annotations

from collections.abc import Iterator

import matplotlib
import pytest
from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flowunc import Bench, Runs, analyse, load_bench, read_sheet
from flowunc.bench.run_text import EXAMPLE


@pytest.fixture(autouse=True)
def no_window() -> Iterator[None]:
    matplotlib.use("Agg")
    yield
    pyplot.close("all")


@pytest.fixture(scope="module")
def example_bench() -> Bench:
    return load_bench(EXAMPLE / "bench.toml")


@pytest.fixture(scope="module")
def runs(example_bench: Bench) -> Runs:
    return analyse(read_sheet(EXAMPLE / "sheet.csv", example_bench), example_bench)


@pytest.fixture
def ax() -> Axes:
    """Axes that pyplot knows nothing of."""
    return Figure(figsize=(6.3, 3.94), layout="constrained").add_subplot()
