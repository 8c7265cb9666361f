"""The instruments of a bench: from the numbers on a scale to typed quantities.

What it holds, lowest first:

- `scale`: `Scale`, with the resolution of a reading.
- `accuracy`: what data sheets say in per cent.
- `instrument`: the base, a scale with a calibration that all of its readings share.
- `surroundings`: gravity and air density where nothing is stated.
- `thermometer`, `flow_meter`, `stopwatch`, `balance`, `vessel`: one instrument each.
- `reading_errors`: what belongs to a reading besides its scale, such as a meniscus.
- `swing`: readings that swing between two marks.
- `correction_table`, `emergent_stem`: corrections that depend on the reading.
- `platinum_resistance`: resistance and temperature, tolerance classes.
- `length_instruments`, `bore`: rule and caliper; the bore of a tube.
- `roughness_table`: roughness by material.
- `columns`, `inclination`, `manometer`, `gauge_liquid`: manometers.
- `inverted`, `transmitter`, `capillarity`: inverted U-tube, differential-pressure transmitter,
  what a meniscus stands wrong.
- `meter_calibration`: an instrument that goes by a calibration line instead of its data sheet.
- `switching`, `repeats`: the time a start and a stop add, the mean of repeated results.
- `discharge_coefficient`, `differential_meter`, `orifice`, `venturi`: flow from a pressure drop.
- `collection`: flow from what is collected in a time.

It may use `flowunc.core` only; the engines are reached through the quantities.
"""

from flowunc.instruments.accuracy import error_limit, percent_of_full_scale, percent_of_reading
from flowunc.instruments.balance import Balance, buoyancy_factor
from flowunc.instruments.bore import BoreSurvey, bore_from_diameters, bore_from_water_mass
from flowunc.instruments.capillarity import capillarity, capillary_rise
from flowunc.instruments.collection import TimedCollection
from flowunc.instruments.correction_table import CorrectionTable
from flowunc.instruments.emergent_stem import EmergentStem
from flowunc.instruments.flow_meter import VariableAreaMeter
from flowunc.instruments.gauge_liquid import UTubeManometer, WellManometer
from flowunc.instruments.instrument import Instrument
from flowunc.instruments.inverted import InvertedUTubeManometer
from flowunc.instruments.length_instruments import Caliper, Rule, thermally_expanded
from flowunc.instruments.manometer import InclinedManometer
from flowunc.instruments.orifice import OrificePlate
from flowunc.instruments.platinum_resistance import PlatinumResistance, iec_60751
from flowunc.instruments.repeats import mean_of_repeats
from flowunc.instruments.roughness_table import roughness_of
from flowunc.instruments.scale import Scale
from flowunc.instruments.stopwatch import Stopwatch
from flowunc.instruments.swing import read_band, swinging
from flowunc.instruments.switching import switching_error
from flowunc.instruments.thermometer import Thermometer
from flowunc.instruments.transmitter import PressureTransmitter
from flowunc.instruments.venturi import VenturiTube
from flowunc.instruments.vessel import Vessel

__all__ = [
    "Balance",
    "BoreSurvey",
    "Caliper",
    "CorrectionTable",
    "EmergentStem",
    "InclinedManometer",
    "Instrument",
    "InvertedUTubeManometer",
    "OrificePlate",
    "PlatinumResistance",
    "PressureTransmitter",
    "Rule",
    "Scale",
    "Stopwatch",
    "Thermometer",
    "TimedCollection",
    "UTubeManometer",
    "VariableAreaMeter",
    "VenturiTube",
    "Vessel",
    "WellManometer",
    "bore_from_diameters",
    "bore_from_water_mass",
    "buoyancy_factor",
    "capillarity",
    "capillary_rise",
    "error_limit",
    "iec_60751",
    "mean_of_repeats",
    "percent_of_full_scale",
    "percent_of_reading",
    "read_band",
    "roughness_of",
    "swinging",
    "switching_error",
    "thermally_expanded",
]
