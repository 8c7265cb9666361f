"""Reference laws of the Darcy friction factor, each with its range and its own uncertainty.

======================  ==================================  ===============================
call                    equation                            flow
======================  ==================================  ===============================
laminar(re)             f = 64/Re                           laminar
blasius(re)             f = 0.3164 Re^-0.25                 turbulent, smooth
prandtl_smooth(re)      1/sqrt f = 2 log10(Re sqrt f)-0.8   turbulent, smooth
colebrook_white(re, e)  implicit                            turbulent, rough
haaland(re, e)          explicit, near Colebrook-White      turbulent, rough
swamee_jain(re, e)      explicit, near Colebrook-White      turbulent, rough
churchill_1977(re, e)   one curve for all                   laminar to turbulent, rough
======================  ==================================  ===============================

``e`` is the relative roughness eps/D: a `Ratio`, as ``roughness/bore`` gives it, or a number.
``law.covers(re)`` says which runs a law can be asked about; outside its range it raises.
``print(law)`` shows formula, range, uncertainty and source, ``table()`` all of them.

- `law`: the class.
- `smooth`, `rough`: the laws, by the wall they are for.
- `implicit`: the solution of Colebrook's equation in closed form.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from flowunc.pipe.laws.law import FrictionLaw
from flowunc.pipe.laws.rough import churchill_1977, colebrook_white, haaland, swamee_jain
from flowunc.pipe.laws.smooth import blasius, laminar, prandtl_smooth

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "FrictionLaw",
    "blasius",
    "churchill_1977",
    "colebrook_white",
    "haaland",
    "laminar",
    "prandtl_smooth",
    "swamee_jain",
    "table",
]


def table() -> pd.DataFrame:
    """Return all laws as a table: equation, ranges, own uncertainty, source.

    Examples
    --------
    >>> from flowunc import laws
    >>> list(laws.table()["name"][:3])
    ['laminar', 'blasius', 'prandtl_smooth']
    """
    import pandas as pd

    every = (laminar, blasius, prandtl_smooth, colebrook_white, haaland, swamee_jain)
    return pd.DataFrame([law.summary() for law in (*every, churchill_1977)])
