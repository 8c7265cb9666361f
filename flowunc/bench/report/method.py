"""The section on the method: what was computed, in words, with the formulas and their sources."""

from __future__ import annotations

from collections.abc import Iterator

from flowunc.bench.report.apparatus import liquid_text, pressure_blocks
from flowunc.bench.report.asked import Asked
from flowunc.bench.report.content import Block, Formula, Paragraph, Section, Subheading
from flowunc.bench.report.latex_text import formula_tex
from flowunc.bench.report.wording import formula_text, number
from flowunc.pipe import laws
from flowunc.pipe.laws import FrictionLaw

__all__ = ["method_section"]


def method_section(asked: Asked) -> Section:
    """Describe the method with the formulas that were used on these runs."""
    return Section("Method", (*_results(asked), *_uncertainty(asked), *_comparison(asked)))


# -- results ---------------------------------------------------------------------------------------
def _results(asked: Asked) -> Iterator[Block]:
    bench, sheet = asked.runs.bench, asked.runs.sheet
    yield Subheading("From readings to results")
    yield Paragraph(liquid_text(bench))
    if any(meter._densities is not None for meter in bench.meters.values()):
        yield Paragraph(
            "Readings of a variable-area meter whose float and calibration fluid are known are "
            "corrected for the density ρ of what flows [VDI/VDE 3513-1], index c for the fluid of "
            "the calibration and F for the float:"
        )
        yield Formula(
            "Q = Q_read √( (ρ_F − ρ) ρ_c / ((ρ_F − ρ_c) ρ) )",
            r"Q = Q_\mathrm{read} \sqrt{\frac{(\rho_F - \rho)\,\rho_c}{(\rho_F - \rho_c)\,\rho}}",
        )
    yield Paragraph("With the bore D, mean velocity and Reynolds number are, by definition,")
    yield Formula("v = 4 Q / (π D²)", r"v = \frac{4 Q}{\pi D^2}")
    yield Formula("Re = ρ v D / μ", r"\mathrm{Re} = \frac{\rho v D}{\mu}")
    yield from pressure_blocks(bench)
    zero = (
        "z is the mean of the zero readings before and after a set of runs. Half of the change "
        "between them counts as limits of a drift, one error for the set. "
    )
    if any(len(run.rows) > 1 for run in sheet.runs):
        zero += (
            "A run that was read repeatedly stands for the means of its rows; their scatter is "
            "Type A, with the covariances of the readings [JCGM 100, 4.2.3 and H.2]. The "
            "resolution of a mean stays that of one reading: rows that round to the same mark "
            "have the same rounding error. "
        )
    yield Paragraph(f"{zero}With the distance L of the taps, Darcy's friction factor is")
    yield Formula("f = 2 D Δp / (ρ L v²)", r"f = \frac{2 D\,\Delta p}{\rho L v^2}")
    yield Paragraph(
        "Since v holds the bore as well, f goes with D⁵ and with 1/Q²: 1 % in the bore is 5 % in "
        "f, and 1 % in the flow is 2 % in f."
    )


# -- uncertainty -----------------------------------------------------------------------------------
def _uncertainty(asked: Asked) -> Iterator[Block]:
    yield Subheading("Uncertainty")
    yield Paragraph(
        "Uncertainty stands at the inputs only, as the independent errors e_i of the table above, "
        "with standard uncertainties u(e_i). A result y depends on them through all formulas at "
        "once, with sensitivities c_i = ∂y/∂e_i, so an error that enters by several ways (the "
        "bore by v and by f, the temperature by ρ and by μ) counts once, with its sign. The "
        "linear method adds the squares [JCGM 100, 5.1.2 and 5.2.2]:"
    )
    yield Formula("u²(y) = Σ c_i² u²(e_i)", r"u^2(y) = \sum_i c_i^2\,u^2(e_i)")
    yield Paragraph(
        f"U = k u is the expanded uncertainty for a coverage of {100 * asked.level:g} %, k from "
        "Student's t distribution with the effective degrees of freedom [JCGM 100, G.4.1 and "
        "G.6.4]. A budget shows each contribution |c_i| u(e_i) and its share c_i² u²(e_i)/u²(y)."
    )
    yield Paragraph(
        "The linear method takes the formulas for straight lines and the distribution of a result "
        f"for bell-shaped. Whether that holds is checked for each run by {asked.trials} draws of "
        "all errors from their distributions, put through the same formulas [JCGM 101, 7]. The "
        f"{100 * asked.level:g} % interval of the draws leaves as many of them below as above. "
        "Value ± U is reported where both its ends lie within half a unit of the first digit of u "
        "from those of the draws [JCGM 101, 8.1 and 7.9.2]; else the interval of the draws is."
    )


# -- comparison ------------------------------------------------------------------------------------
def _comparison(asked: Asked) -> Iterator[Block]:
    bench = asked.runs.bench
    yield Subheading("Comparison with the laws of friction")
    yield Paragraph(
        f"Flow counts as laminar below Re = {bench.laminar_below:g} and as turbulent above "
        f"Re = {bench.turbulent_above:g} (limits as the bench states them; common practice, no "
        "source). The probability of each regime is the share of the draws of Re in it. A run is "
        "held against the law of its most probable regime, if the law covers it; transitional "
        "flow has no law. Used were:"
    )
    names = asked.runs.laws(**asked.draws).names
    used = [law for law in (laws.laminar, bench.law) if law.name in names]
    if not used:
        yield Paragraph("None: no run has a law that covers it.")
    for law in used:
        yield Formula(formula_text(law.formula), formula_tex(law.formula))
        yield Paragraph(_law_text(law))
    if bench.law in used and bench.relative_roughness is not None:
        e = bench.relative_roughness
        yield Paragraph(
            f"e is the roughness of the wall over the bore, {float(e.value):.2g} with "
            f"u = {float(e.u):.2g}."
        )
    yield Paragraph(
        "The law is evaluated at the measured Re, so f and the law have flow, bore and "
        "temperature in common. The uncertainty of their difference is propagated as one result, "
        "in which common errors cancel as far as they enter both alike, and compared with it as "
        "E_n = (f − f_law)/U(f − f_law), U = 2 u [ISO/IEC 17043]. All runs together are tested by"
    )
    yield Formula("χ² = dᵀ V⁻¹ d", r"\chi^2 = d^\mathrm{T}\,V^{-1}\,d")
    yield Paragraph(
        "with the differences d and their covariance matrix V, so that one calibration behind all "
        "runs counts once [Rao 1973]."
    )


def _law_text(law: FrictionLaw) -> str:
    low, high = law.reynolds_range
    text = f"{law.title[:1].upper()}{law.title[1:]}: Re {number(low)} to {number(high)}"
    if law.joint_range is not None:
        text += f", {law.joint_range.text}"
    own = law.uncertainty.replace("+-", "±").rstrip(".")
    return f"{text}. Uncertainty of the law itself: {own}. Source: {law.source.rstrip('.')}."
