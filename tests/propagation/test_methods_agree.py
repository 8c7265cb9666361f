"""Four methods, one formula: linear, second order, Sobol points and random draws agree.

Formulas are written by hypothesis, the same 200 on every run. A formula is evaluated with all
standard uncertainties of its components times s = 1, 2 and 3. All distributions here are
symmetric, so the exact variance is a series V1 s^2 + V2 s^4 + V3 s^6 + ..., and the exact mean
M0 + M1 s^2 + M2 s^4 + ... (odd moments vanish). The linear method claims M0 and
V1, second order M1 and V2 as well. So what a method leaves out is measured by draws at 2 s and
3 s, and must have fallen at s by the power of the first term it leaves out. A wrong V1, as a
lost correlation makes it, falls to a quarter only, not to a sixteenth. Draws of either kind are
allowed their own stated standard errors and no more.

Seen to fail: `test_what_is_broken_is_seen`, at the end.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import Phase, given, reject, settings
from hypothesis import strategies as st
from scipy import stats

from flowunc import (
    Ratio,
    arcsine,
    concatenate,
    limits,
    monte_carlo,
    second_order,
    shared,
    standard,
    triangular,
)
from flowunc.core.component import Component, Term
from flowunc.core.distributions import Rectangular
from flowunc.core.units import parse_unit

ONE = parse_unit("1")
READINGS = 3
SCALES = (1.0, 2.0, 3.0)  # s, by which all uncertainties are multiplied
POINTS = (1 << 13, 1 << 12, 1 << 12)
DRAWS = 20_000

# One false alarm in a million comparisons: of random draws, whose stated error is a normal
# one, and of Sobol points, whose error is estimated from 8 scramblings.
K_RANDOM = stats.norm.isf(0.5e-6)
K_SOBOL = stats.t.isf(0.5e-6, 7)
# Terms further on may make what is left out fall a little less than by the power of its first
# one: from 2 s to s half as much, where the second term is a seventh of the first at 2 s.
FURTHER = 2.0
ROUNDING = 1e-12  # of value and variance

# by the standard deviation wanted; and how many of them the draws may reach, which the points
# limit to probabilities above 2^-31
DOF = 12
DISTRIBUTIONS = {
    "normal": (standard, stats.norm.isf(2.0**-31)),
    "rectangular": (lambda u: limits(u * math.sqrt(3)), math.sqrt(3)),
    "triangular": (lambda u: triangular(u * math.sqrt(6)), math.sqrt(6)),
    "arcsine": (lambda u: arcsine(u * math.sqrt(2)), math.sqrt(2)),
    "t": (
        lambda u: standard(u * math.sqrt((DOF - 2) / DOF), dof=DOF),
        stats.t.isf(2.0**-31, DOF) * math.sqrt((DOF - 2) / DOF),
    ),
}


# -- formulas --------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Input:
    """Values, with an error for each reading, one behind all readings, or both.

    A calibration is one error behind several inputs; they have it with gains of their own.
    """

    values: tuple[float, ...]  # one: a scalar
    own: tuple[str, float] | None
    common: tuple[str, float] | None
    calibration: float = 0.0

    @property
    def errors(self):
        return [error for error in (self.own, self.common) if error is not None]

    def quantity(self, s, calibration, *, t_as_normal=False):
        """Return it with all standard deviations times s."""

        def stated(error):
            name, u = error
            return DISTRIBUTIONS["normal" if t_as_normal and name == "t" else name][0](s * u)

        statements = [stated(self.own)] if self.own else []
        if self.common:
            statements.append(shared(stated(self.common)))
        values = self.values[0] if len(self.values) == 1 else list(self.values)
        read = Ratio(values, "1", *statements)
        if not self.calibration:
            return read
        return read + Ratio._from_terms(0.0, [Term(calibration, s * self.calibration)], ONE)

    def bounds(self, s):
        reach = sum(s * u * DISTRIBUTIONS[name][1] for name, u in self.errors)
        reach += s * self.calibration * math.sqrt(3)
        return min(self.values) - reach, max(self.values) + reach


# Of x and y, and of a shift that keeps the argument with a domain inside it.
OPERATIONS = {
    "+": lambda x, y, shift: x + y,
    "-": lambda x, y, shift: x - y,
    "*": lambda x, y, shift: x * y,
    "/": lambda x, y, shift: x / (y + shift),
    "**": lambda x, y, shift: (x + shift) ** y,
    "sqrt": lambda x, y, shift: np.sqrt(x + shift),
    "log": lambda x, y, shift: np.log(x + shift),
    "exp": lambda x, y, shift: np.exp(x),
    "sin": lambda x, y, shift: np.sin(x),
}


@dataclass(frozen=True)
class Step:
    """One operation on values before it; the divisor keeps results from growing."""

    name: str
    operands: tuple[int, ...]
    shift: float = 0.0
    divisor: float = 1.0

    def apply(self, values):
        x, y = values[self.operands[0]], values[self.operands[-1]]
        return OPERATIONS[self.name](x, y, self.shift) / self.divisor

    def bounds(self, boxes):
        """Return the interval of the results: all but sin are monotonic in each argument."""
        if self.name == "sin":
            return -1.0 / self.divisor, 1.0 / self.divisor
        first, last = (boxes[place] for place in (self.operands[0], self.operands[-1]))
        ends = [OPERATIONS[self.name](x, y, self.shift) for x in first for y in last]
        return float(min(ends)) / self.divisor, float(max(ends)) / self.divisor


WITH_DOMAIN = {"/": -1, "**": 0, "sqrt": 0, "log": 0}  # which operand must stay positive
LEAST, MOST = 0.5, 3.0


def fitted(name, operands, boxes):
    """Return a step whose argument stays away from its pole, and its result moderate."""
    shift = 0.0
    if name in WITH_DOMAIN:
        low = boxes[operands[WITH_DOMAIN[name]]][0]
        shift = max(0.0, math.ceil(10 * (LEAST - low)) / 10)
    found = Step(name, operands, shift)
    largest = max(abs(end) for end in found.bounds(boxes))
    return Step(name, operands, shift, max(1.0, float(math.ceil(largest / MOST))))


def run(steps, values):
    """Evaluate a formula; readings are followed by what joins their errors."""
    for step in steps:
        values.append(step.apply(values))
    last = values[-1]
    return concatenate(last, last.mean(), last[0] - last[-1]) if last.ndim else last


OF_ONE = ("sqrt", "exp", "log", "sin")
OF_TWO = ("+", "-", "*", "/", "**")
spreads = st.integers(10, 60).map(lambda k: k / 1000)
errors = st.tuples(st.sampled_from(sorted(DISTRIBUTIONS)), spreads)
numbers = st.integers(-20, 20).map(lambda k: k / 10)


@st.composite
def formulas(draw, most=8):
    """Draw inputs and the steps of a formula that uses all that came before."""
    inputs = []
    for _ in range(draw(st.integers(2, 4))):
        scope = draw(st.sampled_from(["scalar", "own", "common", "both"]))
        count = 1 if scope == "scalar" else READINGS
        inputs.append(
            Input(
                tuple(draw(st.lists(numbers, min_size=count, max_size=count, unique=True))),
                draw(errors) if scope in ("scalar", "own", "both") else None,
                draw(errors) if scope in ("common", "both") else None,
                draw(st.sampled_from([0.0, 0.0, 0.02, 0.04])),
            )
        )
    boxes = [item.bounds(SCALES[-1]) for item in inputs]
    steps = []
    unused = list(range(len(inputs)))
    while len(unused) > 1 or len(steps) < most:
        name = draw(st.sampled_from(OF_ONE + OF_TWO if len(steps) < most else OF_TWO))
        # what was not used yet comes first, so that the formula ends as one expression
        first = unused.pop(0)
        operands = (first,)
        if name in OF_TWO:
            others = unused or range(len(boxes))
            operands = (first, draw(st.sampled_from(list(others))))
            unused = [place for place in unused if place != operands[1]]
            operands = draw(st.sampled_from([operands, operands[::-1]]))
        step = fitted(name, operands, boxes)
        unused.append(len(boxes))
        boxes.append(step.bounds(boxes))
        steps.append(step)
    return inputs, steps


# -- what is held against each other ---------------------------------------------------------------
class Moments:
    """Mean and variance of every reading, with the errors a method states of itself."""

    def __init__(self, mean, u, mean_error=0.0, u_error=0.0):
        self.mean, self.u = np.atleast_1d(mean), np.atleast_1d(u)
        self.variance = self.u**2
        self.mean_error = np.broadcast_to(mean_error, self.mean.shape)
        self.variance_error = 2 * self.u * u_error

    @classmethod
    def drawn(cls, result):
        return cls(result.mean, result.u, result.mean_error, result.u_error)


def agree(one, other, k_one, k_other):
    """Hold two sets of draws against each other."""
    for what in ("mean", "variance"):
        apart = np.abs(getattr(one, what) - getattr(other, what))
        error_one, error_other = (getattr(m, f"{what}_error") for m in (one, other))
        allowed = k_one * error_one + k_other * error_other
        assert np.all(apart <= allowed + ROUNDING), (what, apart, allowed)


def falls(what, claimed, drawn, power):
    """Hold what a method leaves out at s against its fall with a power of the uncertainties.

    It is foretold by what is left out at 2 s and at 3 s, the larger one, because terms of two
    orders may cancel at either.
    """
    left = [
        np.abs(getattr(c, what) - getattr(d, what)) for c, d in zip(claimed, drawn, strict=True)
    ]
    errors = [K_SOBOL * getattr(d, f"{what}_error") for d in drawn]
    foretold = [(left[k] + errors[k]) / SCALES[k] ** power for k in (1, 2)]
    allowed = errors[0] + FURTHER * np.maximum(*foretold)
    assert np.all(left[0] <= allowed + ROUNDING), (what, power, left, errors, allowed)


def calibration():
    return Component("calibration", Rectangular(math.sqrt(3)), ONE)


def evaluate(inputs, steps, s, *, t_as_normal=False):
    one = calibration()
    return run(steps, [item.quantity(s, one, t_as_normal=t_as_normal) for item in inputs])


def check(model, model_of_draws, has_t):
    """Hold all four methods against each other.

    ``model(s, t_as_normal=True)`` makes the quantity that series are taken of,
    ``model_of_draws(s)`` the one that is drawn: the same one, but where a test breaks it.
    """
    # degrees of freedom belong to the coverage factor of the linear method; as normal components
    # of the standard deviation that the t distribution has, their variance is that of the draws
    made = [model(s, t_as_normal=True) for s in SCALES]
    linear = [Moments(q.value, q.u) for q in made]
    found = [second_order(q) for q in made]
    if any("negative" in f.curvatures for f in found):
        reject()  # a series whose terms do not get small claims nothing: one in 1600 formulas
    second = [Moments(f.mean, f.u) for f in found]
    for f, q in zip(found, made, strict=True):
        np.testing.assert_allclose(f.u_first, q.u, rtol=1e-12, atol=1e-14)

    # the orders themselves: V1 s^2, M1 s^2 and V2 s^4, to rounding
    tiny = ROUNDING * (1.0 + linear[1].variance)
    apart = [b.variance - a.variance for a, b in zip(linear, second, strict=True)]
    shift = [b.mean - a.mean for a, b in zip(linear, second, strict=True)]
    assert np.all(np.abs(linear[1].variance - 4 * linear[0].variance) <= tiny)
    assert np.all(np.abs(shift[1] - 4 * shift[0]) <= 10 * ROUNDING * (1 + np.abs(shift[1])))
    assert np.all(np.abs(apart[1] - 16 * apart[0]) <= 20 * tiny)

    sobol = [
        Moments.drawn(monte_carlo(model_of_draws(s), points, seed=1, sampler="sobol"))
        for s, points in zip(SCALES, POINTS, strict=True)
    ]
    random = Moments.drawn(monte_carlo(model_of_draws(1.0), DRAWS, seed=2))
    agree(sobol[0], random, K_SOBOL, K_RANDOM)

    falls("mean", linear, sobol, 2)
    falls("variance", linear, sobol, 4)
    falls("mean", second, sobol, 4)
    # V2 depends on the kurtosis, which is another one for t than for a normal component
    falls("variance", second, sobol, 4 if has_t else 6)


def has_t(inputs):
    return any(name == "t" for item in inputs for name, _ in item.errors)


# without shrinking, which would draw for minutes
@pytest.mark.slow
@settings(max_examples=200, derandomize=True, database=None, deadline=None, phases=[Phase.generate])
@given(formulas())
def test_four_methods_agree(formula):
    inputs, steps = formula

    def model(s, t_as_normal=False):
        return evaluate(inputs, steps, s, t_as_normal=t_as_normal)

    check(model, model, has_t(inputs))


def test_four_methods_agree_where_an_exponent_is_zero():
    # (x + 1.5)**x at 0, one of the formulas hypothesis wrote: second order gave a shift of the
    # mean of 4.16e-5 in place of 7.49e-5 for u = 0.01
    inputs = [Input((0.0, 0.2), ("normal", 0.03), None)]

    def model(s, t_as_normal=False):
        return evaluate(inputs, [Step("**", (0, 0), shift=1.5)], s, t_as_normal=t_as_normal)

    check(model, model, has_t(inputs))


# -- seen to fail ----------------------------------------------------------------------------------
# x * sqrt(x + y) / (exp(z) + x), with every sort of error
INPUTS = [
    Input((0.9, 1.1, 1.4), ("normal", 0.03), ("arcsine", 0.04)),
    Input((1.2,), ("triangular", 0.03), None, 0.03),
    Input((0.3, -0.2, 0.1), None, ("rectangular", 0.05), 0.04),
]
STEPS = [
    Step("+", (0, 1)),
    Step("sqrt", (3,)),
    Step("*", (0, 4)),
    Step("exp", (2,)),
    Step("+", (6, 0)),
    Step("/", (5, 7)),
]


class Apart(list):
    """Inputs made anew at every use: correlation of what is used twice is lost."""

    def __getitem__(self, place):
        found = super().__getitem__(place)
        return found() if callable(found) else found


def intact(s, t_as_normal=False):
    return evaluate(INPUTS, STEPS, s, t_as_normal=t_as_normal)


def uses_apart(s):
    one = calibration()
    return run(STEPS, Apart(functools.partial(item.quantity, s, one) for item in INPUTS))


def calibrations_apart(s):
    return run(STEPS, [item.quantity(s, calibration()) for item in INPUTS])


def changed(**changes):
    """Return the model with its first input stated in another way."""
    inputs = [replace(INPUTS[0], **changes), *INPUTS[1:]]
    return lambda s, t_as_normal=False: evaluate(inputs, STEPS, s, t_as_normal=t_as_normal)


BROKEN = {
    "what is used twice is not correlated": uses_apart,
    "what shares a calibration is not correlated": calibrations_apart,
    "one error behind all readings drawn for each": changed(own=("normal", 0.05), common=None),
    "one spread larger by a tenth": changed(own=("normal", 0.033)),
    "value off by a hundredth of u": changed(values=(0.9 + 5e-4, 1.1, 1.4)),
}


def test_what_is_intact_passes():
    check(intact, intact, False)


@pytest.mark.parametrize("broken", BROKEN.values(), ids=BROKEN)
def test_what_is_broken_is_seen(broken):
    with pytest.raises(AssertionError):
        check(intact, broken, False)
