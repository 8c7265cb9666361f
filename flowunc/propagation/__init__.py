"""The engines that evaluate a record, and what follows from them.

=================  ================================================================
`linear`           the law of propagation by one backward sweep
`pieces`           which output rows depend on which readings
`sums`             rows that depend on sums over many readings
`contributions`    contribution of every component, covariances from them
`coverage`         effective degrees of freedom, coverage factors
`budget`           the uncertainty budget as a table
`draws`            streams of random draws, addressable by component and reading
`evaluation`       the record as a program that runs on blocks of draws
`simulation`       all blocks: moments, threads
`marks`            rows whose mean or standard deviation does not exist
`adaptive`         how many draws
`intervals`        coverage intervals from draws
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

__all__ = [
    "CrossCheck",
    "JointResult",
    "MonteCarloResult",
    "cross_check",
    "monte_carlo",
    "monte_carlo_joint",
]
