"""`Balance`: a mass as indicated in air, and the buoyancy of what is weighed."""

from __future__ import annotations

from typing import ClassVar

from flowunc.core.kinds import Density, Mass, Ratio, require_kind
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.surroundings import air_density_or_default, density_contrast

__all__ = ["WEIGHTS_DENSITY", "Balance", "buoyancy_factor"]

# kg/m^3, by convention and so exact: a balance is adjusted as if with weights of this
# density [ISO 4185], [OIML R 111-1].
WEIGHTS_DENSITY = 8000.0


class Balance(Instrument[Mass]):
    """A balance that indicates conventional mass.

    Parameters
    ----------
    scale : Scale
        In a unit of mass.
    accuracy : Statement or sequence of Statement
        From data sheet or certificate; one error behind all readings.
    label : str
        Name in budgets.

    Raises
    ------
    UnitError
        A scale that is not in a unit of mass.

    Notes
    -----
    `read` gives the mass as indicated; multiply that of a liquid by `buoyancy_factor`, as
    `TimedCollection` does.

    Examples
    --------
    >>> from flowunc import Balance, Scale, limits
    >>> balance = Balance(Scale(1, "g", kind="digital"), accuracy=limits(3))
    >>> full, empty = balance.read([5230.0, 1140.0])
    >>> round((full - empty).to("g").u, 4)  # the calibration cancels
    0.4082
    """

    _kind = Mass
    _role: ClassVar[str] = "balance"
    _example: ClassVar[str] = "g"


def buoyancy_factor(density: Density, air_density: Density | None = None) -> Ratio:
    """Return what an indicated mass of liquid is multiplied with to allow for the air.

    Parameters
    ----------
    density : Density, scalar or shape (n,)
        Of the liquid.
    air_density : Density, optional
        1.20 kg/m^3 ± 0.10 kg/m^3, usual indoor air up to some 400 m, if left out.

    Returns
    -------
    Ratio, scalar or shape (n,)
        m / m_indicated, about 1.00105 for water.

    Raises
    ------
    DimensionError
        A density of another kind.
    RangeError
        A liquid not denser than air.

    Notes
    -----
    (1 - rho_a / rho_w) / (1 - rho_a / rho), with the conventional density rho_w = 8000
    kg/m^3 of weights. The vessel cancels where it is weighed empty and full. Source:
    [ISO 4185].

    Examples
    --------
    >>> from flowunc import Density
    >>> round(buoyancy_factor(Density(998.2, "kg/m^3")).value, 5)
    1.00105
    """
    liquid = require_kind(density, Density, "buoyancy_factor", "density")
    air = air_density_or_default(air_density, "buoyancy_factor")
    contrast = density_contrast(
        liquid, air, "buoyancy_factor", ("density of the liquid", "that of the air")
    )
    weights = Density(WEIGHTS_DENSITY, "kg/m^3")
    factor: Ratio = (weights - air) / weights * liquid / contrast
    return factor.labelled("buoyancy factor")
