"""`load_bench`: the description of a bench from a TOML file.

Sections: ``[pipe]``, ``[meters.NAME]`` for each meter, ``[thermometer]``, ``[manometer]``,
and, if wanted, ``[gravity]``, ``[liquid]``, ``[laws]``. What a section may say stands in
`pipe_table`, `meter_table`, `thermometer_table`, `manometer_table` and `liquid_table`. The
example in ``flowunc/bench/example/bench.toml`` shows an ordinary bench.
"""

from __future__ import annotations

from os import PathLike
from typing import Any

from flowunc.bench.description.bench import LAWS, Bench
from flowunc.bench.description.liquid_table import read_liquid
from flowunc.bench.description.manometer_table import MANOMETER, read_manometer
from flowunc.bench.description.meter_table import METER, read_meters
from flowunc.bench.description.pipe_table import PIPE, read_pipe
from flowunc.bench.description.statement_table import quantity_of, read_quantity
from flowunc.bench.description.thermometer_table import read_thermometer
from flowunc.bench.description.toml_table import TomlTable, read_toml
from flowunc.core.kinds import Acceleration, Angle, Length
from flowunc.fluids.local_gravity import gravity

__all__ = ["load_bench"]

_SECTIONS = ("pipe", "meters", "thermometer", "manometer", "gravity", "liquid", "laws")
_GRAVITY = 'value = "9.8124 m/s^2" with limits = 0.0005, or latitude = "52 deg"'
_LATITUDE = 'latitude = "52 deg"'
_HEIGHT = 'height = "100 m"'


def load_bench(path: str | PathLike[str]) -> Bench:
    """Read the description of a bench.

    Parameters
    ----------
    path : str or path
        TOML file, UTF-8.

    Returns
    -------
    Bench

    Raises
    ------
    BenchError
        A file that cannot be read (names the line), or an entry that cannot be used (names
        the dotted key): unknown, missing, of the wrong type or unit, or a statement that
        does not fit.

    Examples
    --------
    >>> from pathlib import Path
    >>> import flowunc.bench
    >>> from flowunc import load_bench
    >>> folder = Path(flowunc.bench.__file__).parent / "example"
    >>> list(load_bench(folder / "bench.toml").meters)
    ['small', 'large']
    """
    root = read_toml(path)
    root.allow_only(_SECTIONS)
    pipe = read_pipe(root.table("pipe", PIPE))
    laws = root.table_if_given("laws", '[laws] with turbulent = "prandtl_smooth"')
    options: dict[str, Any] = {} if laws is None else _laws(laws)
    place = _gravity(root.table_if_given("gravity", f"[gravity] with {_GRAVITY}"))
    return Bench(
        meters=read_meters(root.table("meters", METER)),
        thermometer=read_thermometer(
            root.table("thermometer", '[thermometer] with unit = "degC", division and accuracy')
        ),
        gravity=place,
        file=root.file,
        **pipe._asdict(),
        **read_manometer(root.table("manometer", MANOMETER), place)._asdict(),
        **read_liquid(root)._asdict(),
        **options,
    )


def _gravity(table: TomlTable | None) -> Acceleration | None:
    if table is None:
        return None
    if "value" in table:
        for name in ("latitude", "height"):
            if name in table:
                raise table.error(f"value and {name} together; expected either: {_GRAVITY}", name)
        return quantity_of(table, Acceleration, "gravity", _GRAVITY)
    table.allow_only(("latitude", "height", "value"))
    table.require("latitude", _GRAVITY)
    latitude = read_quantity(table, "latitude", Angle, "latitude", _LATITUDE, needs_statement=False)
    height = None
    if "height" in table:
        height = read_quantity(
            table,
            "height",
            Length,
            "height above sea level",
            _HEIGHT,
            needs_statement=False,
            floor="anything",
        )
    return table.attempt(lambda: gravity(latitude, height))


def _laws(table: TomlTable) -> dict[str, Any]:
    table.allow_only(("turbulent", "laminar_below", "turbulent_above"))
    options: dict[str, Any] = {}
    if "turbulent" in table:
        options["turbulent_law"] = table.choice("turbulent", tuple(LAWS), "prandtl_smooth")
    for name in ("laminar_below", "turbulent_above"):
        if name in table:
            options[name] = table.number(name, "a Reynolds number such as 2300")
    return options
