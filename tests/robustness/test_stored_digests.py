"""The same seed gives the same numbers on every Python, NumPy and processor.

A digest is nothing from outside, and says nothing about right or wrong: the other tests do. It
is here because a published result has to come out again from its seed, so that a change of the
streams is a decision (a note in the release, then a new digest) and never happens unseen.

Found equal on Python 3.11, 3.12 and 3.13 with NumPy 1.26.0, 2.4.6 and 2.5.5, SciPy 1.11.1, 1.17.1
and 1.18.1, with and without the vector instructions beyond SSE 4.2.
"""

from __future__ import annotations

import hashlib

import numpy as np
import pytest

from flowunc import (
    Quantity,
    Ratio,
    arcsine,
    exponential,
    limits,
    shared,
    standard,
    triangular,
)


def exact_chain() -> Quantity:
    """Return a chain of + - * / and roots of uniform draws: IEEE 754 says every bit of it."""
    x = Ratio([1.0, 1.5, 2.25], "1", limits(0.125), shared(limits(0.25)))
    y = Ratio(3.0, "1", triangular(0.5), limits(0.1))
    return np.sqrt(x * x + y) / (y - x.mean())


def every_chain() -> Quantity:
    """Return a chain of many distributions and functions: libraries differ in the last bits."""
    x = Ratio([1.0, 1.5, 2.25], "1", standard(0.125), shared(limits(0.25)), arcsine(0.1))
    y = Ratio(3.0, "1", triangular(0.5), standard(0.1, dof=5), exponential(0.1))
    return np.exp(-x) * y**1.75 + np.log(y) * np.sin(x)


def digest(*arrays: object, exact: bool) -> str:
    """Return the beginning of the SHA-256 of all bits, or of seven digits of each number."""
    found = hashlib.sha256()
    for array in arrays:
        values = np.asarray(array, dtype="<f8").ravel()
        text = "\n".join(f"{value:.6e}" for value in values)
        found.update(values.tobytes() if exact else text.encode())
    return found.hexdigest()[:16]


# chain, options, digest of the draws, digest of mean, u and the 95 % limits
CASES = [
    (exact_chain, {"trials": 40_000}, "104ed9c2939dca1c", "29d774aff2f2649f"),
    (exact_chain, {"trials": 40_000, "workers": 2}, "104ed9c2939dca1c", "29d774aff2f2649f"),
    (exact_chain, {"trials": 8_192, "sampler": "sobol"}, "bd9ccd00a105e300", "6ab5e2d6636a9315"),
    (every_chain, {"trials": 40_000}, "d6f985f7777d3aa9", "e0f65b0aa8f97347"),
    (every_chain, {"trials": 8_192, "sampler": "sobol"}, "b8df9c174b69acdd", "18026174926d9ae9"),
]


@pytest.mark.parametrize(("chain", "options", "draws", "results"), CASES)
def test_a_seed_gives_the_stored_numbers(chain, options, draws, results):
    drawn = chain().monte_carlo(seed=20, **options)
    exact = chain is exact_chain
    assert digest(drawn.samples(), exact=exact) == draws
    assert digest(drawn.mean, drawn.u, *drawn.interval(0.95), exact=exact) == results


@pytest.mark.parametrize("chain", [exact_chain, every_chain])
def test_a_digest_tells_seeds_apart(chain):
    found = {
        digest(chain().monte_carlo(1_000, seed=seed).samples(), exact=chain is exact_chain)
        for seed in range(5)
    }
    assert len(found) == 5
