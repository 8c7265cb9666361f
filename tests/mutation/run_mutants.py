"""Which small mistakes in a module do its tests find?

    pip install cosmic-ray
    python tests/mutation/run_mutants.py --most 25 flowunc/pipe/friction.py flowunc/pipe/laws

Runs the tests that mirror a module, and its docstring examples, once for each mutant: in a child
forked from this process, which has NumPy, SciPy and pytest in memory already, with the module's
source replaced while `flowunc` is imported. No file is written. A mutant that no test finds is
shown; so are the shares found. It takes about a second a mutant, and needs `os.fork`.
"""

from __future__ import annotations

import argparse
import contextlib
import difflib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import random
import resource
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "mutation")]

# Imported once for all children.
import hypothesis.strategies  # noqa: E402, F401
import mpmath  # noqa: E402, F401
import pandas  # noqa: E402, F401
import pytest  # noqa: E402
import scipy.interpolate  # noqa: E402
import scipy.optimize  # noqa: E402
import scipy.stats  # noqa: E402, F401
import uncertainties  # noqa: E402, F401
from mutants import Mutant, mutants  # noqa: E402

# Where a module is tested beside its mirror: what it is a part of, or what stands on it.
BESIDE = {
    "core/arguments": ["core/test_statements", "core/test_distributions"],
    "core/component": ["core/test_statements"],
    "core/rules": ["core/test_arithmetic", "core/test_operations"],
    "core/statements": ["core/test_statements"],
    "core/unit_table": ["core/test_units"],
    "propagation/contributions": ["propagation/test_budget", "propagation/test_coverage"],
    "propagation/curvature": ["propagation/test_higher_terms"],
    "propagation/draws": ["propagation/test_monte_carlo", "propagation/test_simulation"],
    "propagation/drawn": ["propagation/test_monte_carlo", "propagation/test_sobol_places"],
    "propagation/jet_rules": ["propagation/test_jets"],
    "propagation/linear": ["propagation/test_contributions"],
    "propagation/marks": ["propagation/test_evaluation", "propagation/test_limit_poles"],
    "propagation/monte_carlo": ["propagation/test_evaluation"],
    "propagation/outcome": ["propagation/test_control", "propagation/test_low_discrepancy"],
    "propagation/pieces": ["propagation/test_linear", "propagation/test_contributions"],
    "propagation/sobol_places": ["propagation/test_low_discrepancy"],
    "pipe": ["pipe/test_signs"],
    "pipe/laws": ["pipe/laws/test_law"],
}
PYTEST = (
    *("-q", "-x", "--no-header", "--no-summary", "--tb=no", "-p", "no:cacheprovider"),
    *("-W", "ignore::pytest.PytestAssertRewriteWarning"),
)
MOST_SECONDS = 60  # of processor time, before an endless loop counts as found


class Mutated(importlib.machinery.SourceFileLoader, importlib.abc.MetaPathFinder):
    """Finds one module, and loads another source for it."""

    def __init__(self, name: str, path: Path, source: str) -> None:
        super().__init__(name, str(path))
        self.source = source

    def find_spec(
        self, fullname: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Return a place for this module only."""
        if fullname != self.name:
            return None
        return importlib.util.spec_from_file_location(fullname, self.path, loader=self)

    def get_code(self, fullname: str) -> CodeType:
        """Return the code of the other source."""
        return compile(self.source, self.path, "exec", dont_inherit=True)


class FirstFailure:
    """Runs the quick tests first, and remembers what failed."""

    def __init__(self, seconds: dict[str, float]) -> None:
        self.seconds = seconds
        self.name = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Sort by how long each test took without a mistake."""
        items.sort(key=lambda item: self.seconds.get(item.nodeid, 0.0))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the time, and the first failure."""
        self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        self.name = self.name or (report.nodeid if report.failed else "")


def tests_of(module: str) -> list[str]:
    """Return the files that test a module, itself for its examples."""
    stem = module.removeprefix("flowunc/").removesuffix(".py")
    folder, _, leaf = stem.rpartition("/")
    names = [f"{folder}/test_{leaf}"]
    for part in (stem, folder, folder.split("/")[0]):
        names += BESIDE.get(part, [])
    files = [f"tests/{name}.py" for name in dict.fromkeys(names)]
    return [*(file for file in files if (ROOT / file).exists()), module]


def in_a_child(module: str, source: str, seconds: dict[str, float]) -> Any:
    """Return the first failure and the time of each test; None where the child came to no end."""
    receive, send = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(receive)
            os.setsid()
            resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS + 1))
            silence = os.open(os.devnull, os.O_WRONLY)
            os.dup2(silence, 1)
            os.dup2(silence, 2)
            os.write(send, json.dumps(_found(module, source, seconds)).encode())
        finally:
            os._exit(0)
    os.close(send)
    with os.fdopen(receive, "rb") as answer:
        text = answer.read()
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)  # what a test may have left behind
    os.waitpid(child, 0)
    return json.loads(text) if text else None


def _found(module: str, source: str, seconds: dict[str, float]) -> tuple[str, dict[str, float]]:
    name = module.removesuffix(".py").replace("/", ".")
    sys.meta_path.insert(0, Mutated(name, ROOT / module, source))
    try:
        importlib.import_module(name)
    except Exception as error:
        return f"import: {type(error).__name__}", seconds
    first = FirstFailure(seconds)
    code = pytest.main([*PYTEST, *tests_of(module)], plugins=[first])
    return first.name or ("" if code == 0 else f"pytest ended with {code!r}"), first.seconds


def shown(mutant: Mutant, source: str) -> str:
    """Return the lines that differ."""
    lines = difflib.unified_diff(source.split("\n"), mutant.source.split("\n"), n=0, lineterm="")
    return "\n".join(f"    {line}" for line in list(lines)[3:] if not line.startswith("@@"))


def run(module: str, most: int, seed: int) -> tuple[int, int]:
    """Return how many mutants of a module were run and how many of them found; show the others."""
    source = (ROOT / module).read_text()
    failed, seconds = in_a_child(module, source, {})
    if failed:
        raise SystemExit(f"{module}: {failed} fails without any mistake")
    every = mutants(source)
    chosen = random.Random(f"{seed} {module}").sample(every, min(most, len(every)))
    found = 0
    for mutant in sorted(chosen, key=lambda each: each.line):
        answer = in_a_child(module, mutant.source, seconds)
        if answer is None or answer[0]:
            found += 1
        else:
            print(f"  {module}:{mutant.line} {mutant.operator}\n{shown(mutant, source)}")
    print(f"{module}: {found} of {len(chosen)} found ({len(every)} there are)", flush=True)
    return len(chosen), found


def main(arguments: Sequence[str]) -> None:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("modules", nargs="+", help="files or folders, such as flowunc/pipe")
    parser.add_argument("--most", type=int, default=25, help="mutants a module, at random")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args(arguments)
    os.chdir(ROOT)
    modules = [
        str(file)
        for name in asked.modules
        for file in (sorted(Path(name).rglob("*.py")) if Path(name).is_dir() else [Path(name)])
        if not file.name.startswith("__")
    ]
    counts = [run(module, asked.most, asked.seed) for module in modules]
    print(f"{sum(f for _, f in counts)} of {sum(n for n, _ in counts)} mutants found")


if __name__ == "__main__":
    main(sys.argv[1:])
