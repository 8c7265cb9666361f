"""`Bench`: the pipe, its instruments and where it stands, made once for many lab sheets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple, NoReturn, TypeVar

from flowunc.bench.description.flowing_liquid import FlowingLiquid
from flowunc.bench.description.manometer_kinds import (
    KINDS,
    Manometer,
    ManometerKind,
    kind_of,
    misfit,
)
from flowunc.core.component import Term, new_key
from flowunc.core.errors import BenchError, FlowuncError
from flowunc.core.kinds import (
    Acceleration,
    Angle,
    Density,
    DynamicViscosity,
    Length,
    Ratio,
    Temperature,
    require_kind,
)
from flowunc.core.quantity import Quantity
from flowunc.core.statements import Reference, Statement, terms_of
from flowunc.fluids import water
from flowunc.instruments.flow_meter import VariableAreaMeter
from flowunc.instruments.gauge_liquid import WellManometer
from flowunc.instruments.thermometer import Thermometer
from flowunc.pipe import laws
from flowunc.pipe.laws import FrictionLaw
from flowunc.pipe.regimes import check_thresholds

__all__ = ["LAWS", "Bench"]

K = TypeVar("K", bound=Quantity)

# What a turbulent run can be compared with, by the name in `flowunc.laws`.
LAWS: dict[str, FrictionLaw] = {name: law for name, law in laws.ALL.items() if name != "laminar"}


class _Settings(NamedTuple):
    """Identity of the errors with which one manometer is set to its angles."""

    key: str
    manometer: Manometer
    accuracy: Statement | tuple[Statement, ...] | None


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Bench:
    """Describe a pipe-friction bench.

    Its instruments keep their calibration errors, so everything analysed with one bench is
    correlated through them, over runs and over lab sheets. Copies and pickles are the same
    bench, as far as the errors go; so is one with another law by ``dataclasses.replace``.

    Parameters
    ----------
    bore, tap_spacing : Length, scalar
        Inside diameter of the pipe, and distance of the taps along it.
    meters : mapping of str to VariableAreaMeter
        By the names that a lab sheet uses.
    thermometer : Thermometer
        For the flowing water.
    manometer : InclinedManometer, WellManometer, UTubeManometer, ...
        Or `InvertedUTubeManometer`, `PressureTransmitter`. Where the sheet says at which angle
        it stood, its own angle does not count.
    angle_accuracy : Statement or tuple of Statement, optional
        Of the inclination, in deg unless it has a unit: one unknown error for each setting,
        the same whenever the board is back at that setting. For an inclined manometer, and for
        a well manometer of which the sheet says the angle.
    gravity : Acceleration, scalar, optional
        9.81 m/s^2 with wide limits if left out.
    air_density : Density, scalar, optional
        Of the air above the columns; usual indoor air if left out.
    gauge_density : Density, scalar, optional
        Of the liquid in a well manometer, if it is not the one that flows, which then stands
        above it. U-tubes know their own.
    transmitter_temperature : Temperature, scalar, optional
        For a transmitter with a temperature effect: that of its surroundings.
    water : {"tap", "pure"}
        What flows, as in `flowunc.water.density`.
    liquid : FlowingLiquid, optional
        What flows in place of water: anything with ``density(temperature)`` and
        ``viscosity(temperature)``, such as a `TabulatedLiquid`.
    roughness : Length, scalar, optional
        Of the wall; only for a law that takes one.
    turbulent_law : str
        Law for turbulent runs, by its name in `flowunc.laws`: "prandtl_smooth" unless a
        roughness is given, "colebrook_white" then.
    laminar_below, turbulent_above : float
        Reynolds numbers between which a run is transitional.
    file : str
        Where the description comes from.

    Raises
    ------
    BenchError
        Anything that cannot be used; the key names the part as in a bench file.
    DimensionError
        A quantity or an instrument of another kind.

    Examples
    --------
    >>> from flowunc import (
    ...     Angle, Bench, InclinedManometer, Length, Scale, Thermometer, VariableAreaMeter,
    ...     limits, percent_of_reading,
    ... )
    >>> bench = Bench(
    ...     bore=Length(20.1, "mm", limits(0.1)),
    ...     tap_spacing=Length(1.8, "m", limits(2, "mm")),
    ...     meters={"tube": VariableAreaMeter(
    ...         Scale(0.2, "L/min", span=(1, 10)), percent_of_reading(3), label="tube")},
    ...     thermometer=Thermometer(Scale(0.5, "degC"), limits(0.3)),
    ...     manometer=InclinedManometer(Scale(1, "mm"), angle=Angle(90, "deg")),
    ...     angle_accuracy=limits(0.3),
    ... )
    >>> bench.turbulent_law
    'prandtl_smooth'
    """

    bore: Length
    tap_spacing: Length
    meters: Mapping[str, VariableAreaMeter]
    thermometer: Thermometer
    manometer: Manometer
    angle_accuracy: Statement | tuple[Statement, ...] | None = None
    gravity: Acceleration | None = None
    air_density: Density | None = None
    gauge_density: Density | None = None
    transmitter_temperature: Temperature | None = None
    water: Literal["tap", "pure"] = "tap"
    liquid: FlowingLiquid | None = None
    roughness: Length | None = None
    turbulent_law: str = ""
    laminar_below: float = 2300.0
    turbulent_above: float = 4000.0
    file: str = "<bench>"
    _settings: Any = None  # an argument, so that `dataclasses.replace` hands it on

    def __post_init__(self) -> None:
        self._set("bore", self._length(self.bore, "bore", "bore"))
        self._set("tap_spacing", self._length(self.tap_spacing, "tap_spacing", "tap spacing"))
        if self.bore._node.value >= self.tap_spacing._node.value:
            self._refuse(
                f"{_shown(self.bore)} is not smaller than the tap spacing of "
                f"{_shown(self.tap_spacing)}; are the two exchanged?",
                "pipe.bore",
            )
        self._check_meters()
        self._check_instrument(self.thermometer, Thermometer, "thermometer")
        self._check_manometer()
        self._check_liquid()
        self._check_law()
        try:
            low, high = check_thresholds(self.laminar_below, self.turbulent_above)
        except FlowuncError as error:
            self._refuse(str(error), "laws")
        self._set("laminar_below", low)
        self._set("turbulent_above", high)
        known = self._settings
        stated = (self.manometer, self.angle_accuracy)
        if known is None or known.manometer is not stated[0] or known.accuracy is not stated[1]:
            self._set("_settings", _Settings(new_key(), *stated))

    @property
    def manometer_kind(self) -> ManometerKind:
        """What the manometer asks of the bench and of its sheets."""
        kind = kind_of(self.manometer)
        if kind is None:
            expected = ", ".join(f"{item.instrument.__name__}(...)" for item in KINDS.values())
            self._refuse(f"got {type(self.manometer).__name__}; expected {expected}", "manometer")
        return kind

    @property
    def inclines(self) -> bool:
        """Whether the sheet says at which inclination the manometer stood."""
        return bool(self._angle_statements())

    @property
    def fixed_angle(self) -> float:
        """Inclination in deg of a manometer that is not set to another one; 90 for upright."""
        if isinstance(self.manometer, WellManometer):
            return round(float(self.manometer.angle.to("deg").value), 9)
        return 90.0

    def density(self, temperature: Temperature) -> Density:
        """Return the density of what flows."""
        if self.liquid is not None:
            return self.liquid.density(temperature)
        return water.density(temperature, water=self.water)

    def viscosity(self, temperature: Temperature) -> DynamicViscosity:
        """Return the dynamic viscosity of what flows."""
        if self.liquid is not None:
            return self.liquid.viscosity(temperature)
        return water.viscosity(temperature)

    @property
    def law(self) -> FrictionLaw:
        """The law for turbulent runs."""
        return LAWS[self.turbulent_law]

    @property
    def relative_roughness(self) -> Ratio | None:
        """Roughness over bore, None where the law takes none."""
        if self.law.roughness_range is None or self.roughness is None:
            return None
        ratio: Ratio = self.roughness / self.bore
        return ratio.labelled("relative roughness")

    def angle(self, degrees: float) -> Angle:
        """Return the inclination at one setting, with the same error whenever it is asked for."""
        setting = round(float(degrees), 9) + 0.0  # no -0
        label = f"manometer angle, {setting:g} deg"
        plain = Angle(setting, "deg")
        key = self._settings.key
        reference = Reference(label, plain._unit)
        terms = [
            Term(replace(term.component, key=f"{key}.angle.{setting!r}.{number}"), term.gain)
            for number, term in enumerate(
                terms_of(self._angle_statements(), plain._node.value, reference)
            )
        ]
        return Angle._from_terms(plain._node.value, terms, plain._unit, label)

    def __repr__(self) -> str:
        return (
            f"<Bench {self.file!r}: bore {_shown(self.bore)}, taps {_shown(self.tap_spacing)} "
            f"apart, meters {', '.join(self.meters)}>"
        )

    # -- checks ------------------------------------------------------------------------------
    def _set(self, name: str, value: Any) -> None:
        object.__setattr__(self, name, value)  # frozen from here on, not before

    def _refuse(self, reason: str, key: str) -> NoReturn:
        raise BenchError(reason, self.file, key)

    def _positive(self, value: Any, kind: type[K], name: str, label: str) -> K:
        given = require_kind(value, kind, "Bench", name)
        key = name if name == "gravity" else f"manometer.{name}"
        if name in ("bore", "tap_spacing"):
            key = f"pipe.{name}"
        if given.ndim:
            self._refuse(f"got {given.size} values; expected one", key)
        if not given._node.value > 0:
            self._refuse(f"{_shown(given)}; expected a value above 0", key)
        return given if given.label else given.labelled(label)

    def _length(self, value: Any, name: str, label: str) -> Length:
        return self._positive(value, Length, name, label)

    def _check_meters(self) -> None:
        meters: Any = self.meters
        if not isinstance(meters, Mapping) or not meters:
            self._refuse(
                "no meter; expected one or more by name, such as small and large", "meters"
            )
        for name, meter in meters.items():
            if not isinstance(name, str) or not name.strip() or not name.isprintable():
                self._refuse(f"name {name!r}; expected a word such as small", "meters")
            if name.strip().casefold() == "zero":
                self._refuse(
                    "a sheet uses 'zero' for balance checks; expected another name",
                    f"meters.{name}",
                )
            self._check_instrument(meter, VariableAreaMeter, f"meters.{name}")
            if meter.scale.span is None:
                self._refuse(
                    "no span; expected (lowest, highest) reading of the scale",
                    f"meters.{name}.span",
                )
        self._set("meters", dict(meters))

    def _check_instrument(self, value: Any, kind: type, key: str) -> None:
        if not isinstance(value, kind):
            self._refuse(f"got {type(value).__name__}; expected {kind.__name__}(...)", key)

    def _angle_statements(self) -> tuple[Statement, ...]:
        given = self.angle_accuracy
        if given is None:
            return ()
        return (given,) if isinstance(given, Statement) else given

    def _check_manometer(self) -> None:
        kind = self.manometer_kind
        if self.angle_accuracy is not None and not isinstance(self.angle_accuracy, Statement):
            self._set("angle_accuracy", tuple(self.angle_accuracy))
        parts = {
            name: getattr(self, name)
            for name in ("air_density", "gauge_density", "transmitter_temperature")
        }
        wrong = misfit(self.manometer, kind, parts, bool(self._angle_statements()))
        if wrong is not None:
            self._refuse(*wrong)
        try:
            Angle(45, "deg", *self._angle_statements(), label="manometer angle")
        except FlowuncError as error:
            self._refuse(str(error), "manometer.angle_accuracy")
        if self.gravity is not None:
            self._set("gravity", self._positive(self.gravity, Acceleration, "gravity", "gravity"))
        for name in ("air_density", "gauge_density"):
            if parts[name] is not None:
                found = self._positive(parts[name], Density, name, name.replace("_", " "))
                self._set(name, found)
        if self.transmitter_temperature is not None:
            warmth = require_kind(
                self.transmitter_temperature, Temperature, "Bench", "transmitter_temperature"
            )
            if warmth.ndim:
                self._refuse(f"got {warmth.size} values; expected one", "manometer.temperature")
            named = warmth if warmth.label else warmth.labelled("transmitter temperature")
            self._set("transmitter_temperature", named)

    def _check_liquid(self) -> None:
        if self.water not in ("tap", "pure"):
            self._refuse(f"got {self.water!r}; expected 'tap' or 'pure'", "liquid.water")
        given: Any = self.liquid
        if given is None:
            return
        if not isinstance(given, FlowingLiquid):
            self._refuse(
                f"got {type(given).__name__}; expected something with density(temperature) and "
                "viscosity(temperature), such as a TabulatedLiquid",
                "liquid",
            )
        if self.water != "tap":
            self._refuse(f"{self.water} water and another liquid; expected either", "liquid.water")

    def _check_law(self) -> None:
        if not self.turbulent_law:
            default = "prandtl_smooth" if self.roughness is None else "colebrook_white"
            self._set("turbulent_law", default)
        if self.turbulent_law not in LAWS:
            self._refuse(
                f"got {self.turbulent_law!r}; expected one of {', '.join(LAWS)}", "laws.turbulent"
            )
        rough = self.law.roughness_range
        if rough is None and self.roughness is not None:
            self._refuse(
                f"{self.turbulent_law} is for smooth walls and takes no roughness; leave out "
                "pipe.roughness, or choose colebrook_white",
                "laws.turbulent",
            )
        if rough is not None and self.roughness is None:
            self._refuse(
                f"{self.turbulent_law} takes the roughness of the wall; give pipe.roughness, or "
                "choose prandtl_smooth",
                "laws.turbulent",
            )
        if rough is None or self.roughness is None:
            return
        given = require_kind(self.roughness, Length, "Bench", "roughness")
        ratio = given._node.value / self.bore._node.value
        if given.ndim or not rough[0] <= ratio <= rough[1]:
            self._refuse(
                f"{_shown(given)} in a bore of {_shown(self.bore)}; expected one value with "
                f"roughness over bore from {rough[0]:g} to {rough[1]:g}, the range of "
                f"{self.turbulent_law}",
                "pipe.roughness",
            )
        self._set("roughness", given if given.label else given.labelled("roughness"))


def _shown(quantity: Quantity) -> str:
    value = quantity.value
    number = f"{value:g}" if isinstance(value, float) else f"{len(value)} values"
    return f"{number} {quantity.unit}"
