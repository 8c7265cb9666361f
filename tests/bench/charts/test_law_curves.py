"""Curves of laws against the fluids library, inside their ranges, with their stated limits."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from matplotlib.axes import Axes

from flowunc import DimensionError, RangeError, Ratio, laws
from flowunc.bench.charts.law_curves import check_laws, draw_curves, law_curve
from flowunc.pipe.laws import FrictionLaw

ROUGH = Ratio(0.002, "1")


# Ranges and limits as the laws state them in words: table in flowunc.laws, sources there.
@pytest.mark.parametrize(
    ("law", "range_", "limits"),
    [
        (laws.laminar, (100.0, 2300.0), (0.0, 0.0)),
        (laws.blasius, (4e3, 1e5), (0.035, 0.035)),
        (laws.prandtl_smooth, (4e3, 3.4e6), (0.03, 0.03)),
        (laws.mckeon, (1e4, 1e7), (0.014, 0.014)),
        # e Re sqrt(f/8) is 0.6 at the lowest Re and 1000 at the highest: smooth, then rough
        (laws.colebrook_white, (4e3, 1e7), (0.05, 0.10)),
        (laws.haaland, (4e3, 1e7), (0.05 + 0.015, 0.10 + 0.015)),
    ],
    ids=lambda x: x.name if isinstance(x, FrictionLaw) else "",
)
def test_range_and_limits(
    law: FrictionLaw, range_: tuple[float, float], limits: tuple[float, float]
) -> None:
    found = law_curve(law, ROUGH, 100.0, 1e7, 2.0)
    assert (found.reynolds[0], found.reynolds[-1]) == range_
    assert (found.limit[0], found.limit[-1]) == pytest.approx(limits)
    assert np.all(np.diff(found.limit) >= 0)


def test_values_of_the_fluids_library() -> None:
    # fluids.friction: Darcy friction factors [C]
    for law, expected in (
        (laws.laminar, fluids.friction.friction_laminar),
        (laws.blasius, fluids.friction.Blasius),
        (laws.haaland, lambda re: fluids.friction.Haaland(re, 0.002)),
    ):
        found = law_curve(law, ROUGH, 10.0, 1e8, 2.0)
        assert found.friction == pytest.approx([expected(re) for re in found.reynolds], rel=1e-6)


def test_a_law_beyond_the_view_is_not_drawn(ax: Axes) -> None:
    curves = [law_curve(law, None, 5e3, 9e3, 2.0) for law in (laws.laminar, laws.mckeon)]
    assert [curve.reynolds.size for curve in curves] == [0, 0]
    assert draw_curves(ax, curves) == ([], [])
    assert not ax.lines


def test_a_joint_range_is_kept() -> None:
    # [Schlichting 1979]: fully rough from e Re sqrt(f/8) = 70, f = (2 log10(3.7/e))^-2
    found = law_curve(laws.nikuradse_rough, ROUGH, 1e4, 1e8, 2.0)
    f = (2 * np.log10(3.7 / 0.002)) ** -2
    edge = 70 / 0.002 / np.sqrt(f / 8)
    assert edge <= found.reynolds[0] <= edge * 1.04  # a step of the curve
    assert found.reynolds[-1] == 1e8


def test_band_reaches_as_far_as_the_limits(ax: Axes) -> None:
    curve = law_curve(laws.blasius, None, 1e4, 2e4, 2.0)
    _, names = draw_curves(ax, [curve])
    assert names == ["Blasius (±3.5 %)"]
    (band,) = ax.collections
    corners = band.get_paths()[0].vertices
    at_start = corners[np.isclose(corners[:, 0], 1e4)][:, 1]
    # 0.3164/Re^0.25 = 0.03164 at Re 1e4
    assert (at_start.min(), at_start.max()) == pytest.approx((0.03164 * 0.965, 0.03164 * 1.035))


def test_several_bands_have_edges(ax: Axes) -> None:
    curves = [law_curve(law, None, 1e4, 2e4, 2.0) for law in (laws.blasius, laws.prandtl_smooth)]
    draw_curves(ax, curves)
    assert len(ax.lines) == 2 + 2 * 2
    styles = {str(line.get_linestyle()) for line in ax.lines}
    assert len(styles) == 2


def test_mistakes() -> None:
    with pytest.raises(DimensionError, match="expected laws such as"):
        check_laws("blasius", None, "friction_chart")
    with pytest.raises(DimensionError, match="got 'blasius'; expected a law of"):
        check_laws(["blasius"], None, "friction_chart")
    with pytest.raises(RangeError, match=r"laws.haaland needs the relative roughness; state"):
        check_laws([laws.haaland], None, "friction_chart")
    assert check_laws(laws.blasius, None, "friction_chart") == (laws.blasius,)
