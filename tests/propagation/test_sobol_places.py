"""Which draws take the first dimensions of the sequence."""

from __future__ import annotations

import numpy as np

from flowunc import Ratio, monte_carlo_joint, standard
from flowunc.propagation.sobol_places import by_importance, places_of


def test_components_are_ranked_by_their_share_of_the_variance_and_not_by_their_size():
    # shares of the second component: 0.1 and 0.6 of the variance, of the third 0.9 and 0.4
    sizes = [0.0, 1e-9], [1.0, 245.0], [3.0, 200.0]
    x = Ratio([1.0, 1e3], "1", *[standard(u) for u in sizes])
    least, second, first = x.components
    found = by_importance(x._node)
    assert [found[c.key] for c in (first, second, least)] == [0, 1, 2]


def test_every_draw_has_a_dimension_of_its_own():
    x = Ratio([1.0, 2.0, 3.0], "1", standard(0.1), standard(0.2))
    readings = np.arange(3)
    drawn = [(component, readings) for component in x.components]
    slots = by_importance((x**2)._node)
    places = places_of(drawn, {}, slots)
    assert sorted(places.values()) == list(range(6))
    # the first reading of each takes the place of its component
    assert all(places[c.key, 0] == slots[c.key] for c in x.components)
    again = places_of([(c, readings[:1]) for c in x.components], places, slots)
    assert again == places


def test_draws_of_independent_results_may_be_set_side_by_side():
    a, b = (Ratio(value, "1", standard(0.1)) for value in (1.0, 2.0))
    joint = monte_carlo_joint([a, b], 4096, sampler="sobol", seed=1)
    assert abs(np.corrcoef(joint[0].samples(), joint[1].samples())[0, 1]) < 0.01
    readings = Ratio([1.0, 2.0], "1", standard(0.1)).monte_carlo(4096, sampler="sobol", seed=1)
    assert abs(np.corrcoef(readings.samples().T)[0, 1]) < 0.01
