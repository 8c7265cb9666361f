"""Means of repeats: the scatter counts once, shared errors stay in full."""

import math
import tracemalloc

import numpy as np
import pytest

from flowunc.core.errors import DimensionError, RangeError
from flowunc.core.kinds import Temperature, VolumeFlowRate
from flowunc.core.statements import shared, standard
from flowunc.instruments.repeats import mean_of_repeats

FLOWS = [2.02, 2.05, 1.99, 2.06, 2.03]
S = float(np.std(FLOWS, ddof=1))


def test_without_stated_errors_it_is_the_type_a_evaluation() -> None:
    mean = mean_of_repeats(VolumeFlowRate(FLOWS, "L/min", label="flow"))
    assert isinstance(mean, VolumeFlowRate)
    assert (mean.unit, mean.label) == ("L/min", "flow")
    assert mean.value == pytest.approx(np.mean(FLOWS), rel=1e-14)
    # s/sqrt(n), n - 1 [JCGM 100, 4.2.3]
    assert mean.u == pytest.approx(S / math.sqrt(5), rel=1e-12)
    assert mean.dof == pytest.approx(4)
    (component,) = mean.components
    assert (component.label, component.evaluation) == ("flow scatter of repeats", "A")


def test_own_errors_are_within_the_scatter() -> None:
    mean = mean_of_repeats(VolumeFlowRate(FLOWS, "L/min", standard(0.6 * S)))
    assert mean.u == pytest.approx(S / math.sqrt(5), rel=1e-12)
    # a known part of the variance is certain, so more degrees of freedom [JCGM 100, G.4.1]
    assert mean.dof == pytest.approx(4 / 0.64**2)


def test_what_is_stated_is_the_least() -> None:
    mean = mean_of_repeats(VolumeFlowRate(FLOWS, "L/min", standard(2 * S)))
    assert mean.u == pytest.approx(2 * S / math.sqrt(5), rel=1e-12)


def test_shared_errors_stay_in_full() -> None:
    mean = mean_of_repeats(VolumeFlowRate(FLOWS, "L/min", shared(standard(0.1))))
    assert mean.u == pytest.approx(math.hypot(0.1, S / math.sqrt(5)), rel=1e-12)


def test_many_results_take_no_matrix() -> None:
    values = np.random.default_rng(3).normal(2, 0.1, 20_000)  # n^2 numbers would be 3.2 GB
    flows = VolumeFlowRate(values, "L/min", standard(0.05), shared(standard(0.02)))
    tracemalloc.start()
    mean = mean_of_repeats(flows)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 100 * 8 * values.size
    s = float(np.std(values, ddof=1))
    assert mean.u == pytest.approx(math.hypot(0.02, s / math.sqrt(values.size)), rel=1e-9)


def test_a_mean_of_temperatures() -> None:
    mean = mean_of_repeats(Temperature([20.0, 20.2, 20.1], "degC"))
    assert mean.value == pytest.approx(20.1)
    assert mean.u == pytest.approx(0.1 / math.sqrt(3))


def test_the_scatter_beyond_own_errors_is_found_on_average() -> None:
    # 400 sets of 6 with own errors of 1 and another 2 between them: u^2 of the mean is 5/6
    rng = np.random.default_rng(7)
    sets = rng.normal(0, math.sqrt(5), (400, 6)) + 50
    squares = [
        float(mean_of_repeats(VolumeFlowRate(row, "L/min", standard(1))).u) ** 2 for row in sets
    ]
    # s^2 of 5 dof scatters by sqrt(2/5), so the mean of 400 by 3 %
    assert np.mean(squares) == pytest.approx(5 / 6, rel=0.1)


def test_one_result_has_no_scatter() -> None:
    for single in (VolumeFlowRate(2.0, "L/min"), VolumeFlowRate([2.0], "L/min")):
        with pytest.raises(RangeError, match="two or more"):
            mean_of_repeats(single)
    with pytest.raises(DimensionError, match="got list"):
        mean_of_repeats(FLOWS)  # type: ignore[type-var]
