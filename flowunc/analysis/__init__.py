"""Conclusions from measured results: what limits them, what they agree with, and fits.

======================  ==========================================================
`budget_table`          budgets of all readings in one table
`budget_lines`          their lines as arrays, and U after a change
`relative_sensitivity`  per cent of the result per per cent of the input
`improvement`           what to improve, and by how much, for a target
`shortcuts`             what usual shortcuts cost
`agreement`             normalised error E_n against a law or a second measurement
`drawn_agreement`       agreement from draws of the difference
`weighted_mean`         several estimates of one quantity, weighted by their covariance
`outliers`              Grubbs' test among repeats
`laminar_constant`      C of f = C/Re, held against 64
`roughness_fit`         roughness of the wall, or an upper limit
`log_deviation`         deviation from a rough law in logarithms, on plain numbers
`common_bias`           which single shared error could explain a disagreement
`shared_errors`         errors of several readings told from those of one; one unknown
`settled_errors`        that one, estimated where it comes out
`moved_errors`          a record computed again with another value of one error
`law_comparison`        which law explains the runs best, and whether they can tell
`residual_pattern`      signs and trend of decorrelated deviations
`meter_calibration`     line of a meter against a reference, and the meter that goes by it
`line`                  straight line with errors in both axes
`power_law`             power law of the friction factor
`least_squares`         the minimisation behind both fits, on plain numbers
`parameters`            intercept and slope as recorded results
`point_errors`          covariance of points, and what to do where it has no inverse
`scatter`               the unweighted line with its scatter as uncertainty
`chi_square`            chi-square of correlated deviations
`fit_text`              text and HTML of a fit
======================  ==========================================================

Uses `flowunc.core`, the covariances of `flowunc.propagation`, and a check of `flowunc.pipe`.
Fitted parameters and differences are recorded like any other result, so their budgets and
correlations come by themselves.
"""

from flowunc.analysis.agreement import Agreement, agreement
from flowunc.analysis.budget_table import budget_table
from flowunc.analysis.chi_square import ChiSquare
from flowunc.analysis.common_bias import CommonBias, common_bias
from flowunc.analysis.drawn_agreement import DrawnAgreement, drawn_agreement
from flowunc.analysis.improvement import improvements
from flowunc.analysis.laminar_constant import LaminarConstant, fit_laminar_constant
from flowunc.analysis.law_comparison import LawComparison, compare_laws
from flowunc.analysis.line import LineFit, fit_line
from flowunc.analysis.meter_calibration import MeterCalibration, fit_calibration
from flowunc.analysis.outliers import Outliers, outliers
from flowunc.analysis.power_law import PowerLawFit, fit_power_law
from flowunc.analysis.residual_pattern import ResidualPattern, residual_pattern
from flowunc.analysis.roughness_fit import RoughnessFit, fit_roughness
from flowunc.analysis.shortcuts import shortcuts
from flowunc.analysis.weighted_mean import WeightedMean, weighted_mean

__all__ = [
    "Agreement",
    "ChiSquare",
    "CommonBias",
    "DrawnAgreement",
    "LaminarConstant",
    "LawComparison",
    "LineFit",
    "MeterCalibration",
    "Outliers",
    "PowerLawFit",
    "ResidualPattern",
    "RoughnessFit",
    "WeightedMean",
    "agreement",
    "budget_table",
    "common_bias",
    "compare_laws",
    "drawn_agreement",
    "fit_calibration",
    "fit_laminar_constant",
    "fit_line",
    "fit_power_law",
    "fit_roughness",
    "improvements",
    "outliers",
    "residual_pattern",
    "shortcuts",
    "weighted_mean",
]
