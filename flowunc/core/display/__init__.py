"""How results are shown: one rounded number behind text, HTML and LaTeX.

==================  ==================================================================
`rounding`          a value rounded to its uncertainty
`expanded`          an expanded uncertainty with its coverage factor
`tables`            tables that show themselves as text, HTML and LaTeX
`frames`            any table of results, rounded
`rows`              which readings of a quantity are shown
`relative`          the uncertainty in per cent of the value
`quantity_text`     `str`, `format` and `repr` of a quantity
`quantity_html`     its HTML
`quantity_latex`    its LaTeX
`budget`            `rounded_budget`
`draws`             what draws say
==================  ==================================================================

Nothing is imported here: `flowunc.core.quantity` needs some of these modules, others need it.
"""
