"""Second and third derivatives of whole formulas against mpmath, for every pair of inputs."""

from __future__ import annotations

from types import SimpleNamespace

import mpmath
import numpy as np
import pytest
from scipy import special

from flowunc import Ratio, concatenate, shared, standard
from flowunc.core.distributions import Normal
from flowunc.core.errors import PropagationError
from flowunc.core.operations import Elementwise
from flowunc.core.record import elementwise
from flowunc.pipe import laws
from flowunc.propagation.curvature import JetSweep
from flowunc.propagation.directions import directions_of, pairs_of
from flowunc.propagation.linear import Sweep

mp = mpmath.mp.clone()
mp.dps = 40

NAMES = ("sin", "cos", "exp", "log", "sqrt", "tanh", "sinh", "erf", "hypot")
QUANTITIES = SimpleNamespace(
    **{name: getattr(np, name, None) for name in NAMES} | {"erf": special.erf},
    arctan=np.arctan,
    arctan2=np.arctan2,
)
EXACT = SimpleNamespace(
    **{name: getattr(mp, name) for name in NAMES}, arctan=mp.atan, arctan2=mp.atan2
)
# each keeps its value within a few units, and inside the domain of the next one
STEPS = [
    lambda m, x, y: x * y,
    lambda m, x, y: x - y / 2,
    lambda m, x, y: x / (2 + m.cos(y)),
    lambda m, x, y: (1.5 + m.sin(x)) ** m.tanh(y),
    lambda m, x, y: m.hypot(x, 1 + y * y),
    lambda m, x, y: m.arctan2(m.sin(x), 2 + m.sin(y)),
    lambda m, x, y: m.exp(m.sin(x)) * m.erf(y),
    lambda m, x, y: m.log(2 + m.sin(x + y)),
    lambda m, x, y: m.sqrt(3 + m.cos(x)) - m.arctan(y),
    lambda m, x, y: m.sinh(m.tanh(x)) + (1 + y**2) ** -2,
]


def program(seed, count=3, steps=7):
    generator = np.random.default_rng(seed)
    chosen = [
        (STEPS[generator.integers(len(STEPS))], *generator.integers(0, count + k, 2).tolist())
        for k in range(steps)
    ]

    def formula(m, *inputs):
        known = list(inputs)
        for step, first, second in chosen:
            known.append(step(m, known[first], known[second]))
        return known[-1] + known[-2] * known[count]

    return formula, generator.uniform(-1.5, 1.5, count)


def derivatives(quantity):
    """Return f_i, f_ij and f_ijj of one reading, by components and their readings in order."""
    sweep = Sweep(quantity._node)
    parts = sweep.parts(slice(0, 1))
    directions, pairs, linear = [], 0, {}
    for component, found in parts.items():
        rows, columns = pairs_of(found, 1)
        directions += directions_of(component, rows, columns)
        pairs += rows.size
        linear[component] = np.concatenate([part.values for part in found])[np.argsort(columns)]
    ((_, by_component),) = JetSweep(quantity._node, slice(0, 1)).run(directions, pairs)
    by_component = {found.component: found for found in by_component}
    ordered = []
    for component, values in linear.items():
        found = by_component[component]
        order = np.argsort(found.columns)
        np.testing.assert_allclose(found.first[order], values, rtol=1e-12)
        ordered.append((found.first[order], found.second[:, order], found.third[:, order]))
    return tuple(np.concatenate(same, axis=-1) for same in zip(*ordered, strict=True))


def partial(function, point, i, j=None, times=0):
    orders = [0] * len(point)
    orders[i] += 1
    if j is not None:
        orders[j] += times
    return float(mp.diff(function, tuple(mp.mpf(float(x)) for x in point), tuple(orders)))


def agree_with_mpmath(quantity, function, point, spreads, rtol=1e-10):
    """Compare with mpmath, whose direction j is the first axis and whose input i the second."""
    first, second, third = derivatives(quantity)
    count = range(len(point))
    u = np.asarray(spreads)
    exact = np.array([partial(function, point, i) for i in count]) * u
    np.testing.assert_allclose(first, exact, rtol=rtol, atol=rtol * np.abs(exact).max())
    for times, found in ((1, second), (2, third)):
        exact = np.array([[partial(function, point, i, j, times) for i in count] for j in count])
        exact = exact * u * u[:, None] ** times
        np.testing.assert_allclose(found, exact, rtol=rtol, atol=rtol * np.abs(exact).max())


@pytest.mark.parametrize("seed", range(12))
def test_random_formula(seed):
    formula, point = program(seed)
    spreads = [0.1, 0.02, 0.3]
    inputs = [Ratio(x, "1", standard(u)) for x, u in zip(point, spreads, strict=True)]
    made = formula(QUANTITIES, *inputs)
    # the components come in the order in which the formula meets them
    order = [
        next(i for i, given in enumerate(inputs) if component in given.components)
        for component in Sweep(made._node).components
    ]
    assert len(order) >= 2
    rest = [i for i in range(3) if i not in order]

    def function(*chosen):
        values = dict(zip(order, chosen, strict=True)) | {i: mp.mpf(point[i]) for i in rest}
        return formula(EXACT, *(values[i] for i in range(3)))

    agree_with_mpmath(made, function, point[order], [spreads[i] for i in order])


# -- friction laws, from their published equations -------------------------------------------------
def _solved(a, b):
    return mp.findroot(lambda x: x + 2 * mp.log10(a + b * x), 7) ** -2


EQUATIONS = {
    "laminar": lambda re: 64 / re,
    "blasius": lambda re: mp.mpf("0.3164") * re ** mp.mpf("-0.25"),
    "prandtl_smooth": lambda re: (
        mp.findroot(lambda x: x - 2 * mp.log10(re / x) + mp.mpf("0.8"), 7) ** -2
    ),
    "colebrook_white": lambda re, k: _solved(k / mp.mpf("3.7"), mp.mpf("2.51") / re),
    "haaland": lambda re, k: (
        (mp.mpf("-1.8") * mp.log10((k / mp.mpf("3.7")) ** mp.mpf("1.11") + mp.mpf("6.9") / re))
        ** -2
    ),
    "swamee_jain": lambda re, k: (
        mp.mpf("0.25") / mp.log10(k / mp.mpf("3.7") + mp.mpf("5.74") / re ** mp.mpf("0.9")) ** 2
    ),
    "churchill_1977": lambda re, k: (
        8
        * (
            (8 / re) ** 12
            + (
                (mp.mpf("2.457") * mp.log(1 / ((7 / re) ** mp.mpf("0.9") + mp.mpf("0.27") * k)))
                ** 16
                + (37530 / re) ** 16
            )
            ** mp.mpf("-1.5")
        )
        ** (mp.mpf(1) / 12)
    ),
}


@pytest.mark.parametrize("name", EQUATIONS)
@pytest.mark.parametrize(("re", "roughness"), [(3e3, 1e-3), (2.4e4, 4e-4), (5e6, 1e-2)])
def test_friction_laws(name, re, roughness):
    # as published in [Blasius 1913], [Prandtl 1933], [Colebrook 1939], [Haaland 1983],
    # [Swamee-Jain 1976] and [Churchill 1977]; the implicit ones solved by mpmath
    equation = getattr(laws, name).equation
    spreads = [0.02 * re, 0.1 * roughness]
    inputs = [Ratio(x, "1", standard(u)) for x, u in zip((re, roughness), spreads, strict=True)]
    count = 2 if "k" in EQUATIONS[name].__code__.co_varnames else 1
    point = np.array([re, roughness])
    made = equation(*inputs)
    order = [
        next(i for i, given in enumerate(inputs) if component in given.components)
        for component in Sweep(made._node).components
    ]
    assert sorted(order) == list(range(count))

    def function(*chosen):
        values = dict(zip(order, chosen, strict=True))
        return EQUATIONS[name](*(values[i] for i in range(count)))

    agree_with_mpmath(made, function, point[order], [spreads[i] for i in order], rtol=1e-8)


# -- rows that depend on other readings than their own ---------------------------------------------
X = np.array([1.2, 0.7, 1.9, 1.4])


def structured(x, s, z):
    """Pick, join, sum and average; for quantities and, reading by reading, for mpmath."""
    return (
        x * x[[2, 0, 3, 1]] / (s + (x**2).mean())
        + concatenate(x[2], z, x[:2] ** 3)
        + np.sin(x[1:].sum()) * z
    )


def structured_by_hand(row, x, s, z):
    joined = [x[2], z, x[0] ** 3, x[1] ** 3]
    other = [2, 0, 3, 1]
    mean = sum(v * v for v in x) / 4
    return x[row] * x[other[row]] / (s + mean) + joined[row] + mp.sin(x[1] + x[2] + x[3]) * z


def test_readings_picked_joined_and_summed():
    spread, common, u_s, u_z = 0.1, 0.05, 0.2, 0.3
    x = Ratio(X, "1", standard(spread), shared(standard(common)))
    s, z = Ratio(0.8, "1", standard(u_s)), Ratio(0.5, "1", standard(u_z))
    made = structured(x, s, z)
    errors = {c: place for place, q in enumerate((x, s, z)) for c in q.components}
    # errors of the readings first, then the common one, s and z
    places = {
        component: ([0, 1, 2, 3] if component.scope == "each" else [4])
        if place == 0
        else [4 + place]
        for component, place in errors.items()
    }
    u = np.array([spread] * 4 + [common, u_s, u_z])
    for row in range(4):

        def function(*e, row=row):
            moved = [mp.mpf(float(value)) + own + e[4] for value, own in zip(X, e, strict=False)]
            return structured_by_hand(row, moved, mp.mpf("0.8") + e[5], mp.mpf("0.5") + e[6])

        reading = made[row]
        order = [p for c in Sweep(reading._node).components for p in places[c]]
        assert sorted(order) == list(range(7))

        def reordered(*e, order=order, function=function):
            back = dict(zip(order, e, strict=True))
            return function(*(back[i] for i in range(7)))

        agree_with_mpmath(reading, reordered, np.zeros(7), u[order])


# -- what has no rule ------------------------------------------------------------------------------
def _gamma_pull(weight, values, result, needed):
    return (weight * result * special.digamma(values[0]),)


GAMMA = Elementwise(
    "GAMMA", "gamma function", lambda x, out=None: special.gamma(x, out=out), _gamma_pull
)


def test_an_operation_without_second_derivative_is_refused_by_name():
    made = Ratio._from_node(elementwise(GAMMA, Ratio(2.5, "1", standard(0.1))._node))
    assert made.u > 0  # the linear method can
    sweep = JetSweep(made._node, slice(0, 1))
    (component,) = made.components
    assert isinstance(component.distribution, Normal)
    directions = directions_of(component, np.zeros(1, dtype=int), np.zeros(1, dtype=int))
    with pytest.raises(PropagationError, match=r"gamma function: .*monte_carlo"):
        next(sweep.run(directions, 1))
