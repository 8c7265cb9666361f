"""Reference laws of the Darcy friction factor, each with its range and its own uncertainty.

======================  ==================================  ===============================
call                    equation                            flow
======================  ==================================  ===============================
laminar(re)             f = 64/Re                           laminar
blasius(re)             f = 0.3164 Re^-0.25                 turbulent, smooth
prandtl_smooth(re)      1/sqrt f = 2 log10(Re sqrt f)-0.8   turbulent, smooth
filonenko(re)           f = (1.82 log10 Re - 1.64)^-2       turbulent, smooth
mckeon(re)              Prandtl's with a term for low Re    turbulent, smooth, up to Re 3.5e7
colebrook_white(re, e)  implicit                            turbulent, rough
haaland(re, e)          explicit, near Colebrook-White      turbulent, rough
swamee_jain(re, e)      explicit, near Colebrook-White      turbulent, rough
nikuradse_rough(re, e)  1/sqrt f = -2 log10(e/3.7)          fully rough: Re has no effect
churchill_1977(re, e)   one curve for all                   laminar to turbulent, rough
======================  ==================================  ===============================

``e`` is the relative roughness eps/D: a `Ratio`, as ``roughness/bore`` gives it, or a number.
``law.covers(re)`` says which runs a law can be asked about; outside its range it raises.
``print(law)`` shows formula, range, uncertainty and source, ``table()`` all of them, and
``ALL[name]`` is the law of a name.

- `law`: the class.
- `smooth`, `rough`: the laws, by the wall they are for.
- `superpipe`: a law of a smooth wall, from measurements up to Re 3.5e7, with its own solution.
- `implicit`: the solution of Colebrook's equation in closed form.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from flowunc.pipe.laws.law import FrictionLaw
from flowunc.pipe.laws.rough import (
    churchill_1977,
    colebrook_white,
    haaland,
    nikuradse_rough,
    swamee_jain,
)
from flowunc.pipe.laws.smooth import blasius, filonenko, laminar, prandtl_smooth
from flowunc.pipe.laws.superpipe import mckeon

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "FrictionLaw",
    "blasius",
    "churchill_1977",
    "colebrook_white",
    "filonenko",
    "haaland",
    "laminar",
    "mckeon",
    "nikuradse_rough",
    "prandtl_smooth",
    "swamee_jain",
    "table",
]

# Not in __all__, whose names have a docstring each: a mapping has none of its own.
ALL: Mapping[str, FrictionLaw] = MappingProxyType(
    {
        law.name: law
        for law in (
            laminar,
            blasius,
            prandtl_smooth,
            filonenko,
            mckeon,
            colebrook_white,
            haaland,
            swamee_jain,
            nikuradse_rough,
            churchill_1977,
        )
    }
)


def table() -> pd.DataFrame:
    """Return all laws as a table: equation, ranges, own uncertainty, source.

    Examples
    --------
    >>> from flowunc import laws
    >>> list(laws.table()["name"][:3])
    ['laminar', 'blasius', 'prandtl_smooth']
    """
    import pandas as pd

    return pd.DataFrame([law.summary() for law in ALL.values()])
