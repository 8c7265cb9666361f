"""What a manometer and a liquid are called, and the formulas that go with them."""

from __future__ import annotations

from collections.abc import Iterator

from flowunc.bench.description.bench import Bench
from flowunc.bench.description.flowing_liquid import Mixture
from flowunc.bench.report.content import Block, Formula, Paragraph

__all__ = ["liquid_name", "liquid_text", "manometer_name", "pressure_blocks"]

_DIFFERENCE = "(h_high − h_low − z)"
_DIFFERENCE_TEX = r"(h_\mathrm{high} - h_\mathrm{low} - z)"

# By the word for a manometer in a bench file: name, what stands in the formula, formula.
_NAMES = {
    "inclined": "inclined manometer, two limbs of the flowing liquid against air",
    "well": "well manometer",
    "u_tube": "upright U-tube, a gauge liquid under the flowing one",
    "inverted_u_tube": "inverted U-tube, a lighter fluid above the flowing liquid",
    "transmitter": "pressure transmitter",
}
_WORDS = {
    "inclined": (
        "The columns of the manometer stand at h_high and h_low along the incline of angle α, z "
        "is what they differ by without flow, ρ_air the density of the air above them, g gravity."
    ),
    "well": (
        "The tube of the manometer shows h along its incline of angle α, z without flow; a is the "
        "cross-section of the tube over that of the well, ρ_F the density of the liquid in it, "
        "ρ_c that of what stands above it, g gravity."
    ),
    "u_tube": (
        "The columns of the U-tube stand at h_high and h_low, z is what they differ by without "
        "flow, ρ_F the density of the gauge liquid, g gravity."
    ),
    "inverted_u_tube": (
        "The columns of the U-tube stand at h_high and h_low, z is what they differ by without "
        "flow, ρ_c the density of what stands above them, g gravity."
    ),
    "transmitter": (
        "The transmitter shows p, and z without flow; effects of its temperature are 0 in value "
        "and count in the uncertainty."
    ),
}
_FORMULAS = {
    "inclined": Formula(
        f"Δp = {_DIFFERENCE} sin α (ρ − ρ_air) g",
        rf"\Delta p = {_DIFFERENCE_TEX}\,\sin\alpha\,(\rho - \rho_\mathrm{{air}})\,g",
    ),
    "well": Formula(
        "Δp = (h − z) (sin α + a) (ρ_F − ρ_c) g",
        r"\Delta p = (h - z)\,(\sin\alpha + a)\,(\rho_\mathrm{F} - \rho_\mathrm{c})\,g",
    ),
    "u_tube": Formula(
        f"Δp = {_DIFFERENCE} (ρ_F − ρ) g",
        rf"\Delta p = {_DIFFERENCE_TEX}\,(\rho_\mathrm{{F}} - \rho)\,g",
    ),
    "inverted_u_tube": Formula(
        f"Δp = {_DIFFERENCE} (ρ − ρ_c) g",
        rf"\Delta p = {_DIFFERENCE_TEX}\,(\rho - \rho_\mathrm{{c}})\,g",
    ),
    "transmitter": Formula("Δp = p − z", r"\Delta p = p - z"),
}
_CORRELATIONS = {
    "seawater": "[UNESCO 44] and [Sharqawy 2010]",
    "glycerol_water": "[Volk 2018] and [Cheng 2008]",
}


def manometer_name(bench: Bench) -> str:
    """Return what kind of manometer a bench has."""
    return _NAMES[bench.manometer_kind.word]


def pressure_blocks(bench: Bench) -> Iterator[Block]:
    """Say how the pressure drop follows from what the manometer shows."""
    word = bench.manometer_kind.word
    text = _WORDS[word]
    if getattr(bench.manometer, "mirrored", False):
        text += (
            " One column falls exactly as far as the other rises, so both are rounded together: "
            "one resolution error, opposite in sign, stands behind both readings."
        )
    yield Paragraph(f"{text} The piezometric pressure drop between the taps is")
    yield _FORMULAS[word]


def liquid_name(bench: Bench) -> str:
    """Return what flows, as it stands in a sentence."""
    if bench.liquid is None:
        return "tap water" if bench.water == "tap" else "pure water"
    if isinstance(bench.liquid, Mixture):
        return bench.liquid.title
    return str(getattr(bench.liquid, "label", "")) or "a liquid with tabulated properties"


def liquid_text(bench: Bench) -> str:
    """Say where density and viscosity of what flows come from."""
    text = "Density ρ and viscosity μ follow from the temperature of the liquid"
    if isinstance(bench.liquid, Mixture):
        return (
            f"{text} by correlations for {bench.liquid.title} {_CORRELATIONS[bench.liquid.name]}."
        )
    if bench.liquid is not None:
        return f"{text} by what the bench states of it."
    text += ", water at 0.1 MPa [IAPWS SR6-08]."
    if bench.water == "tap":
        text += " Salts and air dissolved in tap water shift its density by up to 0.05 % either "
        text += "way [IAPWS R13-08]."
    return f"{text} The viscosity is known to 1 % at k = 2 [IAPWS R12-08]."
