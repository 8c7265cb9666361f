"""What the package defines is found by name, and nothing else is."""

from __future__ import annotations

import importlib
import os
import re
import subprocess
import sys
import types
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import flowunc
from flowunc import PropagationError
from flowunc.core import operations
from flowunc.core.apply import UserFunction
from flowunc.core.exchange.known_operations import EXACT, known_operations, name_of_operation
from flowunc.core.operations import Elementwise
from flowunc.core.piecewise_cubic import PiecewiseCubic

PACKAGE = Path(flowunc.__file__).parent


def modules_with_operations() -> list[str]:
    """Name the modules whose source makes an operation."""
    return [
        "flowunc." + ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
        for path in sorted(PACKAGE.rglob("*.py"))
        if "Elementwise(" in path.read_text(encoding="utf-8") and path.name != "apply.py"
    ]


def defined() -> dict[str, Elementwise]:
    """Return all operations that module-level variables of the package hold."""
    found = {}
    for name in modules_with_operations():
        module = importlib.import_module(name)
        for variable, value in vars(module).items():
            if isinstance(value, Elementwise) and value.__module__ == name:
                assert value.name == variable
                found[f"{name}:{variable}"] = value
    return found


def test_every_operation_of_the_package_is_found():
    found = {
        f"{operation.__module__}:{operation.name}" for operation, _ in known_operations().values()
    }
    assert found == set(defined())
    assert len(known_operations()) == len(found), "two operations of one name"


def test_every_class_of_operations_has_a_step_of_its_own():
    # a PiecewiseCubic was called an operation of the user
    for path in PACKAGE.rglob("*.py"):
        if re.search(r"^class \w+\(.*Elementwise.*\):", path.read_text("utf-8"), re.M):
            parts = path.relative_to(PACKAGE).with_suffix("").parts
            importlib.import_module("flowunc." + ".".join(parts))
    classes = {
        each for each in Elementwise.__subclasses__() if each.__module__.startswith("flowunc")
    }
    assert classes == {PiecewiseCubic, UserFunction}, "the latter is refused: it holds code"
    assert not any(each.__subclasses__() for each in classes)


def test_all_of_them_are_found_whatever_was_used_before():
    script = (
        "import flowunc\n"
        "from flowunc.core.exchange.known_operations import known_operations\n"
        "print(*known_operations())"
    )
    root = str(PACKAGE.parent)
    run = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": root},
    )
    assert set(run.stdout.split()) == {name.split(":")[1].lower() for name in defined()}


@pytest.mark.parametrize("place", defined())
def test_names_lead_to_the_operation_and_back(place):
    operation = defined()[place]
    name = name_of_operation(operation)
    known = known_operations()[name]
    assert known.operation is operation
    # so many arguments, no more and no fewer
    values = [np.full(3, 0.5)] * known.arguments
    with np.errstate(all="ignore"):  # 0.5 is not in the domain of all of them
        assert np.shape(operation.evaluate(*values)) == (3,)
    with pytest.raises((TypeError, ValueError)):
        operation.evaluate(*values[1:])


def test_nothing_outside_flowunc_is_found(monkeypatch):
    # a module may be named like one of flowunc, and may hold operations of flowunc or its own
    stranger = types.ModuleType("flowunc_more")
    stranger.OWN = Elementwise("OWN", "own", np.add, operations.ADD.pull, module="flowunc_more")
    stranger.ADD = operations.ADD
    monkeypatch.setitem(sys.modules, "flowunc_more", stranger)
    assert "own" not in known_operations()
    with pytest.raises(PropagationError, match="'own' cannot be written as JSON"):
        name_of_operation(stranger.OWN)
    assert known_operations()["add"].operation is operations.ADD


def test_a_module_is_not_imported_for_a_name(monkeypatch):
    module = "flowunc.pipe.laws.superpipe"
    importlib.import_module(module)
    assert "mckeon" in known_operations()
    monkeypatch.delitem(sys.modules, module)
    assert "mckeon" not in known_operations()
    assert module not in sys.modules


def test_an_operation_of_the_user_has_no_name():
    own = Elementwise("ADD", "my add", np.add, operations.ADD.pull)  # passes itself off as ADD
    with pytest.raises(PropagationError, match="'my add' cannot be written as JSON"):
        name_of_operation(own)


def test_exact_operations_are_those_that_ieee_754_rounds_correctly():
    # [IEEE 754-2019, 5.4.1 and 5.5.1, M]: squares and reciprocals are products and quotients
    known = known_operations()
    assert known.keys() >= EXACT
    rng = np.random.default_rng(5)
    x, y = rng.normal(size=(2, 200))

    def rounded(exact: list[Fraction]) -> list[float]:
        return [float(each) for each in exact]  # int / int is correctly rounded in Python

    a, b = [Fraction(float(each)) for each in x], [Fraction(float(each)) for each in y]
    pairs = list(zip(a, b, strict=True))
    exact = {
        "add": [p + q for p, q in pairs],
        "subtract": [p - q for p, q in pairs],
        "multiply": [p * q for p, q in pairs],
        "divide": [p / q for p, q in pairs],
        "maximum": [max(pair) for pair in pairs],
        "minimum": [min(pair) for pair in pairs],
        "negative": [-p for p in a],
        "reciprocal": [1 / p for p in a],
        "absolute": [abs(p) for p in a],
        "square": [p * p for p in a],
    }
    assert {*exact, "sqrt"} == EXACT
    for name, expected in exact.items():
        values = (x, y)[: known[name].arguments]
        assert known[name].operation.evaluate(*values).tolist() == rounded(expected)
    for number in np.abs(x):  # the root lies nearer to the exact one than its neighbours do
        root = float(known["sqrt"].operation.evaluate(number))
        low, high = (Fraction(float(np.nextafter(root, to))) for to in (0.0, 9.0))
        assert ((Fraction(root) + low) / 2) ** 2 <= Fraction(float(number))
        assert ((Fraction(root) + high) / 2) ** 2 >= Fraction(float(number))
