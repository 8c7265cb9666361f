"""The engines that evaluate a record, and what follows from them.

=================  ================================================================
`linear`           the law of propagation by one backward sweep
`missing_slope`    where the linear method has no answer, and why
`products`         products of several steps swept as one
`pieces`           which output rows depend on which readings
`sums`             rows that depend on sums over many readings
`contributions`    contribution of every component, covariances from them
`coverage`         effective degrees of freedom, coverage factors
`budget`           the uncertainty budget as a table
`draws`            streams of random draws, addressable by component and reading
`evaluation`       the record as a program that runs on blocks of draws
`simulation`       all blocks of trials
`moments`          mean and squared deviations, merged block by block
`marks`            rows whose mean or standard deviation does not exist
`limit_poles`      denominators that end at zero
`sobol_points`     coordinates of scrambled Sobol points
`sobol_places`     which dimension each draw takes
`scramblings`      numerical error from independent scramblings
`low_discrepancy`  scrambled Sobol points in place of draws
`control`          the linear model as control variate
`crew`             threads or an executor that share the blocks
`progress`         how far long draws are
`outcome`          moments, marks and draws before they are shown
`central_moments`  moments of the distributions
`curvature`        part of the next Taylor term
`directions`       part of the next Taylor term
`higher_terms`     part of the next Taylor term
`jets`             truncated Taylor polynomials
`jet_rules`        their rules
`second_order`     the next Taylor term
`adaptive`         draws until the result is stable
`intervals`        coverage intervals from draws
`drawn`            `MonteCarloResult`, `JointResult`
`monte_carlo`      `monte_carlo`, `monte_carlo_joint`
`tolerance`        significant digits and numerical tolerance
`cross_check`      one method held against the other
`ufloats`          numbers of the uncertainties package, in and out
=================  ================================================================

Uses `flowunc.core` only. Both engines evaluate the same record; nobody writes a model twice.
"""

from flowunc.propagation.cross_check import CrossCheck, cross_check
from flowunc.propagation.monte_carlo import (
    JointResult,
    MonteCarloResult,
    monte_carlo,
    monte_carlo_joint,
)
from flowunc.propagation.second_order import SecondOrder, second_order

__all__ = [
    "CrossCheck",
    "JointResult",
    "MonteCarloResult",
    "SecondOrder",
    "cross_check",
    "monte_carlo",
    "monte_carlo_joint",
    "second_order",
]
