"""Time to import, and to the first result, against the time of the libraries under it."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

import pytest


@pytest.mark.benchmark(group="import flowunc")
@pytest.mark.parametrize("way", ["flowunc", "libraries"])
def test_import(benchmark: Any, way: str) -> None:
    statement = "import flowunc" if way == "flowunc" else "import numpy, scipy.special"
    if way == "flowunc":
        benchmark.extra_info.update(ours=True)
    else:
        benchmark.extra_info.update(name=statement, aim=1.25)

    def run() -> int:
        return subprocess.run([sys.executable, "-c", statement], check=True).returncode

    assert benchmark.pedantic(run, rounds=5, warmup_rounds=1) == 0


@pytest.mark.benchmark(group="import and first u")
@pytest.mark.parametrize("way", ["flowunc", "libraries"])
def test_first_result(benchmark: Any, way: str) -> None:
    # An import that loads nothing proves little: what was put off is paid for here.
    statement = "import flowunc as fu; fu.Length(1.0, 'mm', fu.limits(0.1)).u"
    if way == "flowunc":
        benchmark.extra_info.update(ours=True)
    else:
        statement = "import numpy, scipy.special"
        benchmark.extra_info.update(name=statement, aim=1.25)

    def run() -> int:
        return subprocess.run([sys.executable, "-c", statement], check=True).returncode

    assert benchmark.pedantic(run, rounds=5, warmup_rounds=1) == 0


@pytest.mark.benchmark(group="python -m flowunc")
@pytest.mark.parametrize("way", ["flowunc", "libraries"])
def test_main_job(benchmark: Any, way: str) -> None:
    command = [sys.executable, "-m", "flowunc"]
    if way == "flowunc":
        benchmark.extra_info.update(ours=True)
    else:
        command = [sys.executable, "-c", "import numpy, scipy.stats, pandas"]
        benchmark.extra_info.update(name="import numpy, scipy.stats, pandas", aim=1.25)

    def run() -> int:
        return subprocess.run(command, check=True, stdout=subprocess.DEVNULL).returncode

    assert benchmark.pedantic(run, rounds=3, warmup_rounds=1) == 0
