"""The flow next to the wall: friction velocity, viscous sublayer, and how rough the wall acts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from flowunc.core.display.frames import rounded_table
from flowunc.core.display.tables import mimebundle
from flowunc.core.errors import DimensionError
from flowunc.core.kinds import (
    Density,
    DynamicViscosity,
    Length,
    Pressure,
    Ratio,
    ReynoldsNumber,
    Velocity,
)
from flowunc.core.naming import named_argument
from flowunc.core.quantity import Numbers
from flowunc.pipe.shares import check_pair, most_probable, shares
from flowunc.pipe.signs import require_not_negative, require_positive

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "WallRegimes",
    "friction_velocity",
    "roughness_reynolds_number",
    "viscous_sublayer_thickness",
    "wall_regime",
]

_NAMES = ("hydraulically smooth", "transitionally rough", "fully rough")
_SUBLAYER = 5.0  # in nu/u* [Schlichting 1979, ch. 20]


def friction_velocity(wall_shear_stress: Pressure, density: Density) -> Velocity:
    """Find the friction velocity, the velocity scale of the flow next to the wall.

    Parameters
    ----------
    wall_shear_stress : Pressure, scalar or shape (n,)
        Above 0, as `wall_shear_stress` gives it.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.

    Returns
    -------
    Velocity
        In m/s.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        Shear stress or density not above 0.

    Notes
    -----
    u* = sqrt(tau/rho), the definition; with f it is v sqrt(f/8).

    Examples
    --------
    >>> from flowunc import Density, Pressure, friction_velocity
    >>> round(friction_velocity(Pressure(0.05, "Pa"), Density(998.2, "kg/m^3")).value, 6)
    0.007077
    """
    name = "friction_velocity"
    tau = named_argument(wall_shear_stress, Pressure, name, "wall_shear_stress")
    rho = named_argument(density, Density, name, "density")
    require_positive(tau, name, "wall_shear_stress")
    require_positive(rho, name, "density")

    u = np.sqrt(tau / rho)

    return Velocity._from_node(u._node, label="friction velocity")


def viscous_sublayer_thickness(
    friction_velocity: Velocity, density: Density, viscosity: DynamicViscosity
) -> Length:
    """Find the thickness of the layer at the wall in which viscosity rules turbulent flow.

    Parameters
    ----------
    friction_velocity : Velocity, scalar or shape (n,)
        Above 0.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.
    viscosity : DynamicViscosity, scalar or shape (n,)
        Of the flowing liquid.

    Returns
    -------
    Length
        In m.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A value not above 0.

    Notes
    -----
    5 nu/u* with nu = mu/rho [Schlichting 1979, ch. 20]. The 5 is a convention for where the
    linear profile ends and carries no uncertainty here.

    Examples
    --------
    >>> from flowunc import Density, DynamicViscosity, Velocity, viscous_sublayer_thickness
    >>> thickness = viscous_sublayer_thickness(
    ...     Velocity(0.02, "m/s"), Density(1000, "kg/m^3"), DynamicViscosity(1.0, "mPa*s")
    ... )
    >>> round(thickness.to("mm").value, 6)
    0.25
    """
    name = "viscous_sublayer_thickness"
    u, rho, mu = _wall_units(friction_velocity, density, viscosity, name)

    thickness = _SUBLAYER * mu / (rho * u)

    return Length._from_node(thickness._node, label="viscous sublayer thickness")


def roughness_reynolds_number(
    roughness: Length, friction_velocity: Velocity, density: Density, viscosity: DynamicViscosity
) -> Ratio:
    """Compute the Reynolds number of the roughness and the friction velocity.

    Parameters
    ----------
    roughness : Length, scalar or shape (n,)
        Equivalent (sand) roughness, 0 or more.
    friction_velocity : Velocity, scalar or shape (n,)
        Above 0.
    density : Density, scalar or shape (n,)
        Of the flowing liquid.
    viscosity : DynamicViscosity, scalar or shape (n,)
        Of the flowing liquid.

    Returns
    -------
    Ratio
        eps u*/nu: the roughness in units of the length scale of the wall. No `ReynoldsNumber`,
        so that it is not taken for that of the pipe.

    Raises
    ------
    DimensionError
        Another kind of quantity.
    RangeError
        A roughness below 0; another value not above 0.

    Notes
    -----
    eps+ = eps u* rho/mu, the definition; (eps/D) Re sqrt(f/8) is the same.

    Examples
    --------
    >>> from flowunc import Density, DynamicViscosity, Length, Velocity, roughness_reynolds_number
    >>> found = roughness_reynolds_number(
    ...     Length(0.1, "mm"), Velocity(0.02, "m/s"), Density(1000, "kg/m^3"),
    ...     DynamicViscosity(1.0, "mPa*s"),
    ... )
    >>> round(found.value, 6)
    2.0
    """
    name = "roughness_reynolds_number"
    eps = named_argument(roughness, Length, name, "roughness")
    require_not_negative(eps, name, "roughness")
    u, rho, mu = _wall_units(friction_velocity, density, viscosity, name)

    re = eps * u * rho / mu

    return Ratio._from_node(re._node, label="roughness Reynolds number")


def _wall_units(
    friction_velocity: Velocity, density: Density, viscosity: DynamicViscosity, name: str
) -> tuple[Velocity, Density, DynamicViscosity]:
    u = named_argument(friction_velocity, Velocity, name, "friction_velocity")
    rho = named_argument(density, Density, name, "density")
    mu = named_argument(viscosity, DynamicViscosity, name, "viscosity")
    require_positive(u, name, "friction_velocity")
    require_positive(rho, name, "density")
    require_positive(mu, name, "viscosity")
    return u, rho, mu


@dataclass(frozen=True, eq=False)
class WallRegimes:
    """Probability of each way in which a wall acts, for one run or for several.

    Attributes
    ----------
    roughness_reynolds : Ratio
    smooth, transitional, rough : float or ndarray, shape (n,)
        Probabilities, which add up to 1.
    smooth_below, rough_above : float
        Thresholds used.
    trials, seed : int
        Draws they come from.
    """

    roughness_reynolds: Ratio
    smooth: Numbers
    transitional: Numbers
    rough: Numbers
    smooth_below: float
    rough_above: float
    trials: int
    seed: int

    @property
    def name(self) -> Any:
        """Name of the most probable regime: a str, or a list of them for several runs."""
        return most_probable((self.smooth, self.transitional, self.rough), _NAMES)

    def table(self) -> pd.DataFrame:
        """Return a table with one line per run."""
        import pandas as pd

        columns = {
            "roughness Reynolds number": self.roughness_reynolds.value,
            "u": self.roughness_reynolds.u,
            "smooth": self.smooth,
            "transitional": self.transitional,
            "rough": self.rough,
            "wall": self.name,
        }
        return pd.DataFrame({name: np.atleast_1d(column) for name, column in columns.items()})

    def __str__(self) -> str:
        head = (
            f"hydraulically smooth below {self.smooth_below:g}, fully rough above "
            f"{self.rough_above:g}; probabilities from {self.trials} draws"
        )
        table = self.table()
        percent = dict.fromkeys(table.columns[2:5], lambda share: f"{100 * share:.1f} %")
        rows = table.to_string(formatters=percent, float_format="{:.3g}".format, max_rows=40)
        return f"{head}\n{rows}"

    def _repr_html_(self) -> str:
        return rounded_table(
            self.table(),
            uncertainty_of={"roughness Reynolds number": "u"},
            formats=dict.fromkeys(("smooth", "transitional", "rough"), ".1%"),
            index="run",
            title=str(self).partition("\n")[0],
        )._repr_html_()

    _repr_mimebundle_ = mimebundle


def wall_regime(
    roughness_reynolds: Ratio,
    *,
    smooth_below: float = 5.0,
    rough_above: float = 70.0,
    trials: int = 100_000,
    seed: int = 0,
) -> WallRegimes:
    """Find how probably a wall acts as smooth, transitionally rough or fully rough.

    Parameters
    ----------
    roughness_reynolds : Ratio, scalar or shape (n,)
        Of the roughness and the friction velocity, as `roughness_reynolds_number` gives it;
        turbulent flow.
    smooth_below, rough_above : float
        Thresholds, taken as exact.
    trials, seed : int
        Draws; a probability p comes out to within sqrt(p (1 - p)/trials).

    Returns
    -------
    WallRegimes

    Raises
    ------
    DimensionError
        Something else than a pure number; the Reynolds number of the pipe.
    RangeError
        Thresholds not 0 < smooth_below <= rough_above; trials or seed out of range.

    Notes
    -----
    Below 5 the roughness is buried in the viscous sublayer and has no effect; above 70 it rules
    alone, f no longer depends on Re and `laws.nikuradse_rough` holds [Nikuradse 1933; Schlichting
    1979, ch. 20] (from memory). The limits are for sand grains. With the graded roughness of
    commercial pipes, which Colebrook-White describes, the change is more gradual.

    Examples
    --------
    >>> from flowunc import Ratio, standard, wall_regime
    >>> wall_regime(Ratio([0.4, 20, 300], "1", standard(0.1))).name
    ['hydraulically smooth', 'transitionally rough', 'fully rough']
    """
    if isinstance(roughness_reynolds, ReynoldsNumber):
        raise DimensionError(
            "wall_regime(roughness_reynolds=...): got a ReynoldsNumber, which is that of the pipe; "
            "expected that of the roughness, eps u*/nu, a Ratio: take it from "
            "roughness_reynolds_number(...), or as roughness/bore * re * np.sqrt(f/8)"
        )
    re = named_argument(roughness_reynolds, Ratio, "wall_regime", "roughness_reynolds")
    low, high = check_pair(
        smooth_below, rough_above, ("smooth_below", "rough_above"), "a number such as 5", "5 and 70"
    )
    found = shares(
        re, low, high, trials=trials, seed=seed, function="wall_regime", name="roughness_reynolds"
    )
    return WallRegimes(re, *found, low, high, trials, seed)
