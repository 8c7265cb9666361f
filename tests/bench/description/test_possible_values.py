"""Uncertainties as large as the value, refused with file and key."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from flowunc import BenchError, load_bench

Write = Callable[..., Path]
BORE = 'bore = { value = "19.2 mm", limits = 0.06 }'
TAPS = 'tap_spacing = { value = "2.350 m", limits = "1.5 mm" }'
AIR = 'air_density = { value = "1.19 kg/m^3", limits = 0.03 }'
GRAVITY = '[gravity]\nvalue = "9.807 m/s^2"\nlimits = 0.001'
FULL_SCALE = "accuracy = { percent_of_full_scale = 1.5 }"
ERROR_LIMIT = "accuracy = { error_limit = 3.0, linearity_limit = 40 }"


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            BORE,
            'bore = { value = "19.2 mm", limits = 19.2 }',
            "pipe.bore': 19.2 mm with an error of up to 19.2 mm",
        ),
        (
            BORE,
            'bore = { value = "19.2 mm", limits = "6 cm" }',
            "pipe.bore': 19.2 mm with an error of up to 60 mm",
        ),
        (BORE, 'bore = { value = "19.2 mm", triangular = 20 }', "pipe.bore': 19.2 mm"),
        # U = 20 mm, twice u
        (
            BORE,
            'bore = { value = "19.2 mm", expanded = 20, k = 2 }',
            "pipe.bore': 19.2 mm with an error of up to 20 mm",
        ),
        (
            BORE,
            'bore = { value = "19.2 mm", standard = 10 }',
            "pipe.bore': 19.2 mm with an error of up to 20 mm",
        ),
        (
            BORE,
            'bore = { value = "19.2 mm", uncertainty = [{ limits = 0.1 }, { limits = 30 }] }',
            "pipe.bore': 19.2 mm with an error of up to 30 mm",
        ),
        # meant were millimetres: without a unit they are metres
        (
            TAPS,
            'tap_spacing = { value = "2.350 m", limits = 3 }',
            "pipe.tap_spacing': 2.35 m with an error of up to 3 m",
        ),
        (
            AIR,
            'air_density = { value = "1.19 kg/m^3", limits = 3 }',
            "manometer.air_density': 1.19 kg/m^3",
        ),
        (
            GRAVITY,
            GRAVITY.replace("0.001", "10"),
            "gravity': 9.807 m/s^2 with an error of up to 10 m/s^2",
        ),
        (
            BORE,
            f'{BORE}\nroughness = {{ value = "0.01 mm", limits = 0.02 }}',
            "pipe.roughness': 0.01 mm with",
        ),
        (
            FULL_SCALE,
            FULL_SCALE.replace("1.5", "100"),
            "meters.large.accuracy.percent_of_full_scale': 100 per cent",
        ),
        (
            FULL_SCALE,
            "accuracy = { percent_of_reading = 250 }",
            "meters.large.accuracy.percent_of_reading': 250 per cent",
        ),
        (
            FULL_SCALE,
            "accuracy = [{ limits = 0.01 }, { percent_of_reading = 100 }]",
            "meters.large.accuracy[1].percent_of_reading': 100",
        ),
        (
            ERROR_LIMIT,
            ERROR_LIMIT.replace("3.0", "100.0"),
            "meters.small.accuracy.error_limit': 100 per cent",
        ),
    ],
)
def test_refused_with_its_place(old: str, new: str, expected: str, write_bench: Write) -> None:
    path = write_bench((old, new))
    with pytest.raises(BenchError) as caught:
        load_bench(path)
    assert str(caught.value).startswith(f"{path}, key '{expected}")


def test_lists_of_values_are_asked_one_by_one(write_bench: Write) -> None:
    more = (
        '\n[liquid]\nname = "table"\n'
        'temperature = { values = [10, 20, 30], unit = "degC" }\n'
        'density = { values = [880, 870, 860], unit = "kg/m^3", limits = 2, shared = true }\n'
        'viscosity = { values = [9, 6, 0.4], unit = "mPa*s", limits = 0.5 }\n'
    )
    with pytest.raises(
        BenchError, match=r"liquid\.viscosity.*0\.4 mPa\*s with an error of up to 0\.5"
    ):
        load_bench(write_bench(more=more))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (BORE, 'bore = { value = "19.2 mm", limits = 19.1 }'),
        # a wall may be as smooth as nothing
        (
            BORE,
            f'{BORE}\nroughness = {{ value = "0.01 mm", limits = 0.01 }}',
        ),
        (BORE, f'{BORE}\nroughness = {{ value = "0.01 mm", standard = 0.009 }}'),
        # at the sea
        (GRAVITY, '[gravity]\nlatitude = "52 deg"\nheight = { value = "3 m", limits = 20 }'),
        (FULL_SCALE, "accuracy = { percent_of_reading = 99 }"),
    ],
)
def test_what_may_be_is_read(old: str, new: str, write_bench: Write) -> None:
    load_bench(write_bench((old, new)))
