"""Plain text as LaTeX source: special characters, signs beyond ASCII, ligatures."""

from __future__ import annotations

import re
import unicodedata

__all__ = ["formula_tex", "latex_text"]

_SPECIAL = {
    "\\": r"\textbackslash{}",
    "{": r"\{",
    "}": r"\}",
    "$": r"\$",
    "&": r"\&",
    "#": r"\#",
    "%": r"\%",
    "_": r"\_",
    "^": r"\textasciicircum{}",
    "~": r"\textasciitilde{}",
    "|": r"\textbar{}",
    "<": r"\textless{}",
    ">": r"\textgreater{}",
    '"': r"\textquotedbl{}",
    "`": r"\textasciigrave{}",
    "'": r"\textquotesingle{}",
}
_SIGNS = {
    "±": r"$\pm$",
    "×": r"$\times$",
    "·": r"$\cdot$",
    "÷": r"$\div$",
    "−": "$-$",
    "°": r"\textdegree{}",
    "µ": r"\textmu{}",
    "≤": r"$\le$",
    "≥": r"$\ge$",
    "≈": r"$\approx$",
    "≠": r"$\neq$",
    "∞": r"$\infty$",
    "√": r"$\surd$",
    "Δ": r"$\Delta$",
    "∂": r"$\partial$",
    "Σ": r"$\Sigma$",
    "∑": r"$\sum$",
    "‰": r"\textperthousand{}",
    "Ω": r"$\Omega$",
    "→": r"$\to$",
    "←": r"$\leftarrow$",
    "–": r"\textendash{}",
    "—": r"\textemdash{}",
    "…": r"\dots{}",
    "\N{LEFT SINGLE QUOTATION MARK}": r"\textquoteleft{}",
    "\N{RIGHT SINGLE QUOTATION MARK}": r"\textquoteright{}",
    "“": r"\textquotedblleft{}",
    "”": r"\textquotedblright{}",
    "„": r"\quotedblbase{}",
    "«": r"\guillemotleft{}",
    "»": r"\guillemotright{}",
    "€": r"\texteuro{}",
    "§": r"\S{}",
    "\N{REPLACEMENT CHARACTER}": "[?]",
}
_NAMES = [
    "alpha", "beta", "gamma", "delta", "epsilon", "zeta", "eta", "theta", "iota", "kappa",
    "lambda", "mu", "nu", "xi", "omicron", "pi", "rho", "varsigma", "sigma", "tau", "upsilon",
    "phi", "chi", "psi", "omega",
]  # fmt: skip
_GREEK = {chr(ord("α") + place): name for place, name in enumerate(_NAMES)}
_CAPITALS = {
    unicodedata.lookup(f"GREEK CAPITAL LETTER {name.replace('MB', 'M')}"): name.capitalize()
    for name in ("GAMMA", "THETA", "LAMBDA", "XI", "PI", "UPSILON", "PHI", "PSI")
}
# What the font encoding T1 has of Latin letters beyond ASCII, and signs of its companion.
_KNOWN = set(
    "ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖØÙÚÛÜÝÞßàáâãäåæçèéêëìíîïðñòóôõöøùúûüýþÿ"
    "ĂăĄąĆćČčĎďĐđĘęĚěĞğİıŁłĹĺĽľŃńŇňŐőŒœŔŕŘřŚśŞşŠšŢţŤťŮůŰűŸŹźŻżŽž"
    "¡¿£¥©®ªº¼½¾¶"
)
_RAISED = {sign: str(value) for value, sign in enumerate("⁰¹²³⁴⁵⁶⁷⁸⁹")} | {"⁻": "-", "⁺": "+"}
_LOWERED = {sign: str(value) for value, sign in enumerate("₀₁₂₃₄₅₆₇₈₉")}
_PART = re.compile(
    rf"(?P<raised>[{''.join(_RAISED)}]+)|(?P<lowered>[{''.join(_LOWERED)}]+)"
    r"|(?P<minus>(?<![\w)\]-])-(?=[\d∞]))|(?P<apart>-(?=-)|,(?=,))|(?P<tie>(?<=\d)\s+(?=%))|(?P<space>\s+)|(?P<sign>.)"
)


def latex_text(text: str) -> str:
    r"""Write a text as LaTeX source that shows it as it stands.

    Notes
    -----
    Letters of the languages of Europe that are written in Latin letters are kept, for
    ``inputenc`` and the font encoding T1. Greek letters and the signs of a report become
    commands. Anything else is shown as its code point, such as [U+4E2D], since an unknown
    character would end the run of TeX.

    Examples
    --------
    >>> print(latex_text("5 % of 20 °C, -3 m² & more_"))
    5~\% of 20 \textdegree{}C, $-$3 m$^{2}$ \& more\_
    """
    composed = unicodedata.normalize("NFC", text)
    return "".join(_written(found) for found in _PART.finditer(composed))


def _written(found: re.Match[str]) -> str:
    signs = found[0]
    match found.lastgroup:
        case "raised":
            return f"$^{{{''.join(_RAISED[sign] for sign in signs)}}}$"
        case "lowered":
            return f"$_{{{''.join(_LOWERED[sign] for sign in signs)}}}$"
        case "minus":
            return "$-$"
        case "apart":
            return f"{signs}{{}}"  # two of these make one longer sign
        case "tie":
            return "~"
        case "space":
            return " "
    return _sign(signs)


def _sign(sign: str) -> str:
    known = _SPECIAL.get(sign) or _SIGNS.get(sign)
    if known is not None:
        return known
    if sign.isascii() and sign.isprintable():
        return sign
    if sign in _KNOWN:
        return sign
    letter = _GREEK.get(sign) or _CAPITALS.get(sign)
    if letter is not None:
        return "o" if letter == "omicron" else rf"$\{letter}$"
    return f"[U+{ord(sign):04X}]"


_FORMULA = (
    (re.compile(r"\bsqrt (\w+)"), r"\\sqrt{\1}"),
    (re.compile(r"\^\(([^()]*)\)"), r"^{\1}"),
    (re.compile(r"\^(-?[\d.]*\d)"), r"^{\1}"),
    (re.compile(r"\blog10\b"), r"\\log_{10} "),
    (re.compile(r"\bln\b"), r"\\ln "),
    (re.compile(r"\bRe\b"), r"\\mathrm{Re}"),
)


def formula_tex(formula: str) -> str:
    r"""Write the formula of a law, which is stated as plain text, for mathematics.

    Examples
    --------
    >>> print(formula_tex("1/sqrt f = 2 log10(Re sqrt f) - 0.8"))
    1/\sqrt{f} = 2 \log_{10} (\mathrm{Re} \sqrt{f}) - 0.8
    >>> print(formula_tex("f = 0.3164 Re^-0.25"))
    f = 0.3164 \mathrm{Re}^{-0.25}
    """
    if not re.fullmatch(r"[\w\s.,;:+\-*/=()\[\]^]*", formula, re.ASCII):
        return rf"\mbox{{{latex_text(formula)}}}"
    written = re.sub(r"_", r"\\_", formula)
    for pattern, by in _FORMULA:
        written = pattern.sub(by, written)
    return written
