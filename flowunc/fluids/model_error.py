"""What a formula itself leaves open: the number 1 with relative errors, to multiply it with."""

from __future__ import annotations

import numpy as np

from flowunc.core.component import Component, Term
from flowunc.core.kinds import Ratio
from flowunc.core.units import parse_unit

__all__ = ["PERCENT", "one_within"]

PERCENT = parse_unit("%")


def one_within(*errors: Component | Term) -> Ratio:
    """Return 1 plus the given relative errors, as one input of the record.

    Parameters
    ----------
    *errors : Component or Term
        Relative errors; a term whose gain is an array gives one factor per reading.

    Returns
    -------
    Ratio, scalar or shape (n,)
    """
    terms = [error if isinstance(error, Term) else Term(error) for error in errors]
    shape = np.broadcast_shapes(*(np.shape(term.gain) for term in terms))
    if shape:  # one value and one gain for each reading
        terms = [Term(term.component, np.full(shape, term.gain)) for term in terms]
    return Ratio._from_terms(np.ones(shape), terms, PERCENT)
