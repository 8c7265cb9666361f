"""Statements of uncertainty: what a data sheet, a certificate or a repeat says.

- `statement`: what a statement is, and how it becomes components of a quantity.
- `limits`: half-widths (rectangular and its relatives).
- `spreads`: standard and expanded uncertainties, repeats.
"""

from flowunc.core.statements.limits import arcsine, exponential, limits, trapezoidal, triangular
from flowunc.core.statements.spreads import expanded, repeated, standard
from flowunc.core.statements.statement import (
    Absolute,
    Gain,
    Reference,
    Statement,
    check_statement_unit,
    shared,
    terms_of,
)

__all__ = [
    "Absolute",
    "Gain",
    "Reference",
    "Statement",
    "arcsine",
    "check_statement_unit",
    "expanded",
    "exponential",
    "limits",
    "repeated",
    "shared",
    "standard",
    "terms_of",
    "trapezoidal",
    "triangular",
]
