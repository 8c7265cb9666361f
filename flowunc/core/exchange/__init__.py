"""Quantities from and to other programs: JSON, tables of pandas, pint.

====================  ================================================================
`json_parts`          parts of a document read with checks
`known_operations`    the operations that a document may name
`json_components`     components and distributions as JSON
`json_curves`         curves through tables as JSON
`json_record`         a record as JSON
`json_text`           `to_json`, `from_json`, and the form of a document
`frames`              `to_frame`, `from_frame`
`pint_units`          `to_pint`, `from_pint`
====================  ================================================================

``quantities.schema.json`` lays the form of a document down. Reading JSON executes
and imports nothing that the text names; a pickle can do both, so load only pickles of your own.
Correlations survive in JSON; a table and a pint quantity hold values and standard uncertainties
alone.
"""

from flowunc.core.errors import DocumentError
from flowunc.core.exchange.frames import from_frame, to_frame
from flowunc.core.exchange.json_text import from_json, to_json
from flowunc.core.exchange.pint_units import from_pint, to_pint

__all__ = [
    "DocumentError",
    "from_frame",
    "from_json",
    "from_pint",
    "to_frame",
    "to_json",
    "to_pint",
]
