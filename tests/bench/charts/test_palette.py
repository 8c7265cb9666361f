"""Colours against the published table, and looks that differ without colour."""

from __future__ import annotations

from itertools import pairwise

from matplotlib.colors import to_rgb

from flowunc.bench.charts.palette import LINES, fills, marks

# [Okabe-Ito 2008], table of RGB values 0 to 255 [M]: blue, vermillion, bluish green, reddish
# purple, orange, sky blue.
PUBLISHED = {
    (0, 114, 178),
    (213, 94, 0),
    (0, 158, 115),
    (204, 121, 167),
    (230, 159, 0),
    (86, 180, 233),
}


def rgb(colour: str) -> tuple[int, ...]:
    return tuple(round(255 * part) for part in to_rgb(colour))


def test_colours_are_the_published_ones() -> None:
    assert {rgb(mark.colour) for mark in marks(6)} == PUBLISHED
    assert {rgb(fill.colour) for fill in fills(6)} == PUBLISHED


def test_sorts_differ_without_colour() -> None:
    assert len({mark.marker for mark in marks(6)}) == 6
    assert len({str(mark.line) for mark in marks(6)}) == len(LINES) == 6
    assert len({fill.hatch for fill in fills(6)}) == 6


def test_neighbours_in_a_bar_differ_in_lightness() -> None:
    # CIE 1931 luminance of linear sRGB, coefficients of IEC 61966-2-1 [M]
    def lightness(colour: str) -> float:
        linear = [
            part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
            for part in to_rgb(colour)
        ]
        luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        return 116 * luminance ** (1 / 3) - 16

    found = [lightness(fill.colour) for fill in fills(6)]
    assert all(abs(a - b) > 8 for a, b in pairwise(found))


def test_more_sorts_than_looks_start_again() -> None:
    assert marks(7)[6] == marks(1)[0]
    assert fills(0) == []
