"""The recorded model: units, distributions, components, quantities.

What it holds, lowest first:

- `errors`: the error tree and the warning.
- `dimensions`, `unit_notation`, `unit_table`, `units`: exact factors from the text a user writes.
- `law_parameters`, `distributions`, `component`: the elementary sources of uncertainty.
- `memory`: room for the values of the record.
- `magnitude`: squares of numbers of any size.
- `operations`, `record`: the graph that arithmetic writes down.
- `piecewise_cubic`: a smooth curve through the entries of a table, as one operation.
- `rewriting`: copies of a record with other inputs.
- `statements`: what a data sheet or a certificate says.
- `arguments`, `rules`: checks of plain arguments; what operations do to dimensions.
- `arithmetic`, `readings`, `quantity`, `kinds`: `Quantity` and the typed quantities.
- `naming`: names by role for unlabelled inputs.
- `apply`: a user's own function as one step of the record.
- `display`: rounding; text, HTML and LaTeX of results.
- `shown`: the part of a quantity that asks for them.
- `exchange`: JSON, tables of pandas, pint.
- `engine`: the one door to `flowunc.propagation`, opened when a method is called.

It may use numpy, and of scipy constants, special and interpolate, and nothing else of flowunc.
"""

from flowunc.core import kinds  # from the first quantity on, arithmetic gives typed ones
from flowunc.core.apply import apply
from flowunc.core.component import Component, Pool, Term
from flowunc.core.quantity import Quantity
from flowunc.core.readings import concatenate

__all__ = ["Component", "Pool", "Quantity", "Term", "apply", "concatenate", "kinds"]
