"""Conclusions from measured results: agreement with a law, and fits.

================  ==============================================================
`agreement`       normalised error E_n against a law or a second measurement
`line`            straight line with errors in both axes
`power_law`       power law of the friction factor
`least_squares`   the minimisation behind both fits, on plain numbers
`parameters`      intercept and slope as recorded results
`point_errors`    covariance of points, and what to do where it has no inverse
`scatter`         the unweighted line with its scatter as uncertainty
`chi_square`      chi-square of correlated deviations
`fit_text`        text and HTML of a fit
================  ==============================================================

Uses `flowunc.core`, the covariances of `flowunc.propagation`, and a check of `flowunc.pipe`.
Fitted parameters and differences are recorded like any other result, so their budgets and
correlations come by themselves.
"""

from flowunc.analysis.agreement import Agreement, agreement
from flowunc.analysis.chi_square import ChiSquare
from flowunc.analysis.line import LineFit, fit_line
from flowunc.analysis.power_law import PowerLawFit, fit_power_law

__all__ = [
    "Agreement",
    "ChiSquare",
    "LineFit",
    "PowerLawFit",
    "agreement",
    "fit_line",
    "fit_power_law",
]
