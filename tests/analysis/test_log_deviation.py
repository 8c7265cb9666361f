"""Covariance and slopes behind the roughness fit, against the record and numerical slopes."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.friction import friction_factor

from flowunc.analysis.log_deviation import LogDeviation, logarithm
from flowunc.core.kinds import FrictionFactor, Length, Ratio, ReynoldsNumber
from flowunc.core.statements import limits, standard
from flowunc.pipe import laws

E = 0.002


def runs() -> tuple[ReynoldsNumber, FrictionFactor]:
    """Return runs whose Re and f share bore and flow."""
    bore = Length(20, "mm", limits(0.05), label="bore") / Length(20, "mm")
    flow = Ratio([1.0, 2.0, 4.0], "1", standard([0.02, 0.02, 0.04]))
    drop = Ratio([1.0, 1.02, 0.97], "1", standard(0.01))
    re = 2e4 * flow / bore
    f = np.array([0.0300, 0.0270, 0.0258]) * drop * bore**5 / (flow / flow.value) ** 2
    return ReynoldsNumber._from_node(re._node), FrictionFactor._from_node(f._node)


@pytest.mark.parametrize(
    "law", [laws.colebrook_white, laws.haaland, laws.swamee_jain, laws.churchill_1977]
)
def test_covariance_is_that_of_the_record(law: laws.FrictionLaw) -> None:
    re, f = runs()
    place = LogDeviation(re, f, law).at(E)
    recorded = logarithm(f) - logarithm(law(re, E))
    np.testing.assert_allclose(place.residuals, recorded.value, rtol=1e-12)
    np.testing.assert_allclose(place.u, recorded.u, rtol=1e-9)
    V = recorded.covariance(recorded)
    r = np.asarray(recorded.value)
    assert place.value == pytest.approx(r @ np.linalg.inv(V) @ r, rel=1e-8)


def test_runs_that_carry_the_error_of_the_law_cancel_it() -> None:
    # f made up with the very law: its error is in both, and 0.5 % of each run is left
    re = ReynoldsNumber([2e4, 5e4, 1e5], "1")
    f = laws.haaland(re, E) * Ratio(np.ones(3), "1", standard(0.005))
    made_up = FrictionFactor._from_node(f._node)
    place = LogDeviation(re, made_up, laws.haaland).at(E)
    np.testing.assert_allclose(place.u, 0.005, rtol=1e-6)


def test_weights_are_those_of_one_parameter() -> None:
    # independent f, exact Re: V = u^2 + b^2 with the error b of a fully rough wall, as it is from
    # Re 7e5; d ln f/de by differences of Colebrook's equation in the fluids package
    numbers = np.array([2e6, 5e6, 2e7])
    re = ReynoldsNumber(numbers, "1")
    f = FrictionFactor([0.0238, 0.0235, 0.0232], "1", standard([3e-4, 3e-4, 3e-4]))
    place = LogDeviation(re, f, laws.colebrook_white).at(E)

    def ln_f(e: float) -> np.ndarray:
        return np.log([friction_factor(Re=n, eD=e, Method="Clamond") for n in numbers])

    g = (ln_f(E * 1.001) - ln_f(E * 0.999)) / (0.002 * E)
    V = np.diag((3e-4 / np.asarray(f.value)) ** 2) + 0.10**2 / 3
    solved = np.linalg.inv(V) @ g
    np.testing.assert_allclose(place.weights, solved / (g @ solved), rtol=1e-4)


def test_no_step_where_the_wall_is_next_to_smooth() -> None:
    # the law stated twice the error at any e above 0, so the sum of squares had a step there
    re, f = runs()
    deviation = LogDeviation(re, f, laws.colebrook_white)
    smooth = deviation.at(0.0)
    assert smooth.value == pytest.approx(deviation.at(1e-12).value, rel=1e-6)
    recorded = logarithm(f) - logarithm(laws.colebrook_white(re, 0))
    np.testing.assert_allclose(smooth.u, recorded.u, rtol=1e-9)


def test_error_of_the_law_at_another_roughness() -> None:
    # 5 % of a smooth, 10 % of a fully rough wall [Moody 1944], from memory: that much more in V
    re, f = runs()
    deviation = LogDeviation(re, f, laws.colebrook_white)
    own, other = deviation.at(0.0), deviation.at(0.0, error_at=0.05)
    np.testing.assert_array_equal(own.residuals, other.residuals)
    np.testing.assert_allclose(other.u**2 - own.u**2, (0.10**2 - 0.05**2) / 3, rtol=1e-9)
