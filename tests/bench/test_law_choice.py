"""Which law a run is held against, and E_n by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import fluids
import numpy as np
import pytest

from flowunc import (
    Bench,
    FrictionFactor,
    ReynoldsNumber,
    expanded,
    laws,
    limits,
    load_bench,
    regime,
    standard,
)
from flowunc.bench.description.bench import LAWS
from flowunc.bench.law_choice import LawChoice, choose_laws, normalised_errors

Write = Callable[..., Path]


def chosen(reynolds: list[float], bench: Bench, **options: Any) -> LawChoice:
    re = ReynoldsNumber(reynolds, "1", standard(10))
    return choose_laws(re, regime(re, trials=2000, **options), bench)


def test_law_by_regime(bench: Bench) -> None:
    found = chosen([8000, 1500, 3000, 2000], bench)
    assert found.names == ("prandtl_smooth", "laminar", "-", "laminar")
    assert found.reasons == ("", "", "transitional flow has no law", "")
    assert found.compared.tolist() == [0, 1, 3]
    assert found.expected is not None
    turbulent, *laminar = np.asarray(found.expected.value)
    assert laminar == pytest.approx([64 / 1500, 64 / 2000], rel=1e-14)
    # Colebrook's equation for a smooth wall differs from Prandtl's by its rounded constants only,
    # 2.51 in place of 10^0.4 = 2.512: 0.03 % in f
    assert turbulent == pytest.approx(fluids.friction.Colebrook(8000, 0.0), rel=5e-4)


def test_out_of_the_range_of_the_law_is_none_with_a_reason(write_bench: Write) -> None:
    bench = load_bench(write_bench(more='[laws]\nturbulent = "blasius"\nlaminar_below = 2600\n'))
    found = chosen([2500, 200_000, 50_000], bench, laminar_below=2600)
    assert found.names == ("-", "-", "blasius")
    assert found.reasons[0] == "laminar flow holds for Re 0 to 2300 only"
    assert found.reasons[1] == "Blasius holds for Re 4000 to 100000 only"


def test_no_run_with_a_law(bench: Bench) -> None:
    found = chosen([3000, 3100], bench)
    assert found.expected is None
    assert np.isnan(normalised_errors(FrictionFactor([0.04, 0.04], "1"), found)).all()


def test_a_rough_wall(write_bench: Write) -> None:
    rough = 'limits = 0.06 }\nroughness = { value = "0.1 mm", limits = 0.05 }'
    bench = load_bench(write_bench(("limits = 0.06 }", rough)))
    found = chosen([30_000], bench)
    assert found.names == ("colebrook_white",)
    assert found.expected is not None
    expected = fluids.friction.Colebrook(30_000, 0.1 / 19.2)
    assert found.expected.value == pytest.approx([expected], rel=1e-9)


def test_every_law_can_be_chosen() -> None:
    assert {*LAWS, "laminar"} == {*laws.__all__} - {"ALL", "FrictionLaw", "table"}


def test_normalised_error_by_hand(bench: Bench) -> None:
    f = FrictionFactor([0.030, 0.05, 0.0425], "1", limits(0.001))
    found = chosen([8000, 3000, 1500], bench)
    errors = normalised_errors(f, found)
    assert math.isnan(errors[1])
    # 64/1500: u = 64/1500^2 * 10; f: 0.001/sqrt(3), independent of it here; k = 2
    theory = 64 / 1500
    u = math.hypot(0.001 / math.sqrt(3), theory / 1500 * 10)
    assert errors[2] == pytest.approx((0.0425 - theory) / (2 * u), rel=1e-12)


def test_many_runs_cost_in_proportion(bench: Bench) -> None:
    values = np.linspace(500, 2200, 1500)
    found = chosen(list(values), bench)
    f = FrictionFactor(64 / values * 1.01, "1", expanded(0.01, k=2))
    assert np.isfinite(normalised_errors(f, found)).all()
