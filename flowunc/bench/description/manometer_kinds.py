"""Which manometers a bench may have, and what each asks of the bench and of its sheets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from flowunc.instruments.gauge_liquid import UTubeManometer, WellManometer
from flowunc.instruments.inverted import InvertedUTubeManometer
from flowunc.instruments.manometer import InclinedManometer
from flowunc.instruments.transmitter import PressureTransmitter

__all__ = ["KINDS", "Manometer", "ManometerKind", "kind_of", "misfit"]

Manometer = (
    InclinedManometer
    | WellManometer
    | UTubeManometer
    | InvertedUTubeManometer
    | PressureTransmitter
)


@dataclass(frozen=True, kw_only=True)
class ManometerKind:
    """What goes with one kind of manometer.

    Attributes
    ----------
    word : str
        As a bench file writes it.
    title : str
        As messages do.
    instrument : type
    columns : tuple of str
        What is read, by the names of the columns of a sheet.
    inclination : {"set", "may be set", "none"}
        Whether the sheet says at which inclination it stood.
    takes : tuple of str
        Parts of a bench that have a use with it: "air_density", "gauge_density",
        "transmitter_temperature".
    """

    word: str
    title: str
    instrument: type
    columns: tuple[str, ...]
    inclination: Literal["set", "may be set", "none"]
    takes: tuple[str, ...]


_BOTH = ("high", "low")
_ONE = ("reading",)
KINDS: dict[str, ManometerKind] = {
    kind.word: kind
    for kind in (
        ManometerKind(
            word="inclined",
            title="an inclined manometer of two limbs",
            instrument=InclinedManometer,
            columns=_BOTH,
            inclination="set",
            takes=("air_density",),
        ),
        ManometerKind(
            word="well",
            title="a well manometer",
            instrument=WellManometer,
            columns=_ONE,
            inclination="may be set",
            takes=("air_density", "gauge_density"),
        ),
        ManometerKind(
            word="u_tube",
            title="an upright U-tube",
            instrument=UTubeManometer,
            columns=_BOTH,
            inclination="none",
            takes=(),
        ),
        ManometerKind(
            word="inverted_u_tube",
            title="an inverted U-tube",
            instrument=InvertedUTubeManometer,
            columns=_BOTH,
            inclination="none",
            takes=(),
        ),
        ManometerKind(
            word="transmitter",
            title="a pressure transmitter",
            instrument=PressureTransmitter,
            columns=_ONE,
            inclination="none",
            takes=("transmitter_temperature",),
        ),
    )
}
# by the name of the part: its key in a bench file, and what to write in its place, if anything
_KEYS = {
    "air_density": "manometer.air_density",
    "gauge_density": "manometer.gauge_density",
    "transmitter_temperature": "manometer.temperature",
}
_INSTEAD = {
    ("inverted_u_tube", "air_density"): "; what stands above its columns is top_density",
    ("u_tube", "gauge_density"): "; give it to the UTubeManometer itself",
}


def kind_of(manometer: Any) -> ManometerKind | None:
    """Return the kind of a manometer, None for something that is none."""
    for kind in KINDS.values():
        if isinstance(manometer, kind.instrument):
            return kind
    return None


def misfit(
    manometer: Manometer, kind: ManometerKind, parts: dict[str, Any], angle_stated: bool
) -> tuple[str, str] | None:
    """Return what does not go with a manometer: the reason, and the key of the part.

    Parameters
    ----------
    manometer, kind
        What the bench has.
    parts : dict
        By the names of ``ManometerKind.takes``; None where nothing is given.
    angle_stated : bool
        Whether the uncertainty of a set inclination is stated.
    """
    key = "manometer.angle_accuracy"
    if kind.inclination == "set" and not angle_stated:
        return "nothing stated; limits(0) says that the angle is exact", key
    if kind.inclination == "none" and angle_stated:
        return f"has no use for {kind.title}, which is not inclined; leave it out", key
    for name, given in parts.items():
        if given is not None and name not in kind.takes:
            advice = _INSTEAD.get((kind.word, name), "; leave it out")
            return f"has no use for {kind.title}{advice}", _KEYS[name]
    if parts.get("gauge_density") is not None and parts.get("air_density") is not None:
        reason = "the flowing liquid, no air, stands above a gauge liquid; leave one of them out"
        return reason, _KEYS["air_density"]
    if isinstance(manometer, WellManometer) and manometer.angle.ndim and not angle_stated:
        reason = f"{manometer.angle.size} angles; expected one, or angle_accuracy for set ones"
        return reason, "manometer.angle"
    if isinstance(manometer, PressureTransmitter):
        warmth = parts.get("transmitter_temperature")
        if manometer._effects and warmth is None:
            reason = "missing; its temperature effect needs the temperature of the transmitter"
            return reason, _KEYS["transmitter_temperature"]
        if warmth is not None and not manometer._effects:
            reason = "has no use without temperature_effect; state that too, or leave it out"
            return reason, _KEYS["transmitter_temperature"]
    return None
