"""The instruments of a bench: from the numbers on a scale to typed quantities.

What it holds, lowest first:

- `scale`: `Scale`, with the resolution of a reading.
- `accuracy`: what data sheets say in per cent.
- `instrument`: the base, a scale with a calibration that all of its readings share.
- `surroundings`: gravity and air density where nothing is stated.
- `thermometer`, `flow_meter`, `stopwatch`, `balance`, `vessel`: one instrument each.
- `columns`, `inclination`, `manometer`, `gauge_liquid`: manometers.
- `collection`: flow from what is collected in a time.

It may use `flowunc.core` only; the engines are reached through the quantities.
"""

from flowunc.instruments.accuracy import error_limit, percent_of_full_scale, percent_of_reading
from flowunc.instruments.balance import Balance, buoyancy_factor
from flowunc.instruments.collection import TimedCollection
from flowunc.instruments.flow_meter import VariableAreaMeter
from flowunc.instruments.gauge_liquid import UTubeManometer, WellManometer
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.manometer import InclinedManometer
from flowunc.instruments.scale import Scale
from flowunc.instruments.stopwatch import Stopwatch
from flowunc.instruments.thermometer import Thermometer
from flowunc.instruments.vessel import Vessel

__all__ = [
    "Balance",
    "InclinedManometer",
    "Instrument",
    "Scale",
    "Stopwatch",
    "Thermometer",
    "TimedCollection",
    "UTubeManometer",
    "VariableAreaMeter",
    "Vessel",
    "WellManometer",
    "buoyancy_factor",
    "error_limit",
    "percent_of_full_scale",
    "percent_of_reading",
]
