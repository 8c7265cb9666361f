"""The recorded model: units, distributions, components, quantities.

What it holds, lowest first:

- `errors`: the error tree and the warning.
- `dimensions`, `units`: exact factors from the text a user writes.
- `distributions`, `component`: the elementary sources of uncertainty.
- `operations`, `record`: the graph that arithmetic writes down.
- `statements`: what a data sheet or a certificate says.
- `arithmetic`, `readings`, `quantity`, `kinds`: `Quantity` and the typed quantities.
- `apply`: a user's own function as one step of the record.
- `display`: rounded text, HTML and LaTeX.
- `engine`: the one door to `flowunc.propagation`, opened when a method is called.

It may use numpy, scipy.constants and scipy.special, and nothing else of flowunc.
"""
