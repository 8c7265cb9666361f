"""The table of operations holds what the package defines, and nothing else is found by name."""

from __future__ import annotations

import importlib
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import flowunc
from flowunc import PropagationError
from flowunc.core import operations
from flowunc.core.exchange.known_operations import EXACT, KNOWN, known_operation, name_of_operation
from flowunc.core.operations import Elementwise

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


def test_the_table_holds_every_operation_of_the_package():
    known = {f"{place.module}:{place.variable}" for place in KNOWN.values()}
    assert known == set(defined())


@pytest.mark.parametrize("name", KNOWN)
def test_names_lead_to_the_operation_and_back(name):
    importlib.import_module(KNOWN[name].module)
    operation = known_operation(name)
    assert name_of_operation(operation) == name
    # so many arguments, no more and no fewer
    values = [np.full(3, 0.5)] * KNOWN[name].arguments
    with np.errstate(all="ignore"):  # 0.5 is not in the domain of all of them
        assert np.shape(operation.evaluate(*values)) == (3,)
    with pytest.raises((TypeError, ValueError)):
        operation.evaluate(*values[1:])


@pytest.mark.parametrize("name", ["os.system", "input", "ADD", "__import__", "", "x" * 1000])
def test_other_names_are_refused(name):
    with pytest.raises(PropagationError, match="not known to this flowunc"):
        known_operation(name)


def test_a_module_is_not_imported_for_a_name(monkeypatch):
    module = KNOWN["mckeon"].module
    importlib.import_module(module)
    monkeypatch.delitem(sys.modules, module)
    with pytest.raises(PropagationError, match=f"`import {module}` first"):
        known_operation("mckeon")
    assert module not in sys.modules


def test_an_operation_of_the_user_has_no_name():
    own = Elementwise("ADD", "my add", np.add, operations.ADD.pull)  # passes itself off as ADD
    with pytest.raises(PropagationError, match="'my add' cannot be written as JSON"):
        name_of_operation(own)


def test_exact_operations_are_those_that_ieee_754_rounds_correctly():
    # [IEEE 754-2019, 5.4.1 and 5.5.1, M]: squares and reciprocals are products and quotients
    assert KNOWN.keys() >= EXACT
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
        values = (x, y)[: KNOWN[name].arguments]
        assert known_operation(name).evaluate(*values).tolist() == rounded(expected)
    for number in np.abs(x):  # the root lies nearer to the exact one than its neighbours do
        root = float(known_operation("sqrt").evaluate(number))
        low, high = (Fraction(float(np.nextafter(root, to))) for to in (0.0, 9.0))
        assert ((Fraction(root) + low) / 2) ** 2 <= Fraction(float(number))
        assert ((Fraction(root) + high) / 2) ** 2 >= Fraction(float(number))
