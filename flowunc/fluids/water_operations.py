"""The formulas of liquid water as recorded operations with exact derivatives.

One pass over the temperatures gives value and derivative together, block by block, so that the
steps of long arrays stay in cache. Coefficients are in `formulations`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from flowunc.core import memory
from flowunc.core.operations import Elementwise, Value, Weight
from flowunc.fluids import formulations as data

__all__ = ["WATER_COMPRESSION", "WATER_DENSITY", "WATER_VISCOSITY"]

_A, _B = data.WATER_VOLUME_ALPHA, data.WATER_VOLUME_BETA
_COMPRESSION_A, _COMPRESSION_B = data.WATER_COMPRESSION_ALPHA, data.WATER_COMPRESSION_BETA
# d/dT of alpha^n is n alpha^(n+1)/T_R, of beta^m it is -m beta^(m+1)/T_R
_SLOPE_A = {n: n * a for n, a in _A.items()}
_SLOPE_B = {m: m * b for m, b in _B.items()}
_COMPRESSION_SLOPE_A = {n: n * a for n, a in _COMPRESSION_A.items()}
_COMPRESSION_SLOPE_B = {m: m * b for m, b in _COMPRESSION_B.items()}
_TR = data.WATER_REFERENCE_TEMPERATURE
_BLOCK = 8192  # readings: a dozen arrays of 64 kB stay in cache
_VOLUME = data.WATER_GAS_CONSTANT * _TR / data.WATER_REFERENCE_PRESSURE  # m3/kg
_COMPRESSION = _VOLUME / data.WATER_REFERENCE_PRESSURE  # m3/(kg Pa)


def _alpha(kelvin: Value) -> Value:
    gap = np.subtract(data.WATER_POLE_ABOVE, kelvin, out=memory.scratch_like(kelvin))
    return np.divide(_TR, gap, out=gap)


def _beta(kelvin: Value) -> Value:
    gap = np.subtract(kelvin, data.WATER_POLE_BELOW, out=memory.scratch_like(kelvin))
    return np.divide(_TR, gap, out=gap)


def _sum_of_powers(x: Value, coefficients: dict[int, float]) -> Value:
    """Return the sum of c x^n, by Horner's rule over the gaps between the exponents."""
    exponents = sorted(coefficients, reverse=True)
    total = np.multiply(x, coefficients[exponents[0]], out=memory.scratch_like(x))
    done = 1  # factors of x so far
    for higher, lower in zip(exponents, [*exponents[1:], 0], strict=True):
        for _ in range(higher - lower - done):
            total *= x
        done = 0
        if lower:
            total += coefficients[lower]
    return total


def _slope_of_powers(
    alpha: Value, beta: Value, above: dict[int, float], below: dict[int, float]
) -> Value:
    """Return T_R times the derivative of the two sums, from coefficients times exponents."""
    slope = _sum_of_powers(alpha, above)
    slope *= alpha
    falling = _sum_of_powers(beta, below)
    falling *= beta
    slope -= falling
    memory.release(falling)
    return slope


def _density(kelvin: Value, out: Value | None = None) -> Value:
    alpha, beta = _alpha(kelvin), _beta(kelvin)
    density = _density_of(alpha, beta, out)
    memory.release(alpha, beta)
    return density


def _density_of(alpha: Value, beta: Value, out: Value | None = None) -> Value:
    volume = _sum_of_powers(alpha, _A)
    below = _sum_of_powers(beta, _B)
    volume += below
    volume += data.WATER_VOLUME_CONSTANT
    density = np.asarray(np.divide(1.0 / _VOLUME, volume, out=out))
    memory.release(volume, below)
    return density


def _density_slope(alpha: Value, beta: Value, density: Value) -> Value:
    slope = _slope_of_powers(alpha, beta, _SLOPE_A, _SLOPE_B)
    slope *= density
    slope *= density
    slope *= -_VOLUME / _TR  # d(1/v) = -dv/v^2
    return slope


def _pull_density(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    return (weight * _density_slope(_alpha(values[0]), _beta(values[0]), result),)


def _density_block(kelvin: Value, density: Value, slope: Value) -> None:
    alpha, beta = _alpha(kelvin), _beta(kelvin)
    _density_of(alpha, beta, density)
    slope[:] = _density_slope(alpha, beta, density)


def _compression(kelvin: Value, out: Value | None = None) -> Value:
    total = _sum_of_powers(_alpha(kelvin), _COMPRESSION_A)
    total += _sum_of_powers(_beta(kelvin), _COMPRESSION_B)
    return np.asarray(np.multiply(_COMPRESSION, total, out=out))


def _pull_compression(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    alpha, beta = _alpha(values[0]), _beta(values[0])
    slope = _slope_of_powers(alpha, beta, _COMPRESSION_SLOPE_A, _COMPRESSION_SLOPE_B)
    slope *= _COMPRESSION / _TR
    return (weight * slope,)


_SLOPE_TERMS = tuple((a * b, b) for a, b in data.WATER_VISCOSITY_TERMS)


def _log_ratio(kelvin: Value) -> Value:
    ratio = np.divide(kelvin, data.WATER_VISCOSITY_TEMPERATURE, out=memory.scratch_like(kelvin))
    return np.log(ratio, out=ratio)


def _sum_of_exponentials(
    logarithm: Value, terms: Iterable[tuple[float, float]], out: Value
) -> Value:
    """Return the sum of a exp(b x): one logarithm serves all powers."""
    term = memory.scratch_like(logarithm)
    out[...] = 0.0
    for factor, exponent in terms:
        np.multiply(logarithm, exponent, out=term)
        np.exp(term, out=term)
        term *= factor
        out += term
    memory.release(term)
    return out


def _viscosity(kelvin: Value, out: Value | None = None) -> Value:
    total = np.empty_like(kelvin) if out is None else out
    logarithm = _log_ratio(kelvin)
    _sum_of_exponentials(logarithm, data.WATER_VISCOSITY_TERMS, total)
    memory.release(logarithm)
    return total


def _pull_viscosity(
    weight: Weight, values: tuple[Value, ...], result: Value, needed: tuple[bool, ...]
) -> tuple[Weight, ...]:
    kelvin = values[0]
    slope = _sum_of_exponentials(_log_ratio(kelvin), _SLOPE_TERMS, np.empty_like(kelvin))
    slope /= kelvin
    return (weight * slope,)


def _viscosity_block(kelvin: Value, viscosity: Value, slope: Value) -> None:
    logarithm = _log_ratio(kelvin)
    viscosity[:] = 0.0
    slope[:] = 0.0
    term = np.empty_like(kelvin)
    for factor, exponent in data.WATER_VISCOSITY_TERMS:
        np.multiply(logarithm, exponent, out=term)
        np.exp(term, out=term)
        term *= factor
        viscosity += term
        term *= exponent
        slope += term
    slope /= kelvin


def _in_blocks(
    kernel: Callable[[Value, Value, Value], None],
) -> Callable[[Value], tuple[Value, Value]]:
    """Make value and slope of long arrays block by block, so that the steps stay in cache."""

    def both(kelvin: Value) -> tuple[Value, Value]:
        value, slope = memory.empty(kelvin.size), memory.empty(kelvin.size)
        for start in range(0, kelvin.size, _BLOCK):
            part = slice(start, start + _BLOCK)
            kernel(kelvin[part], value[part], slope[part])
        return value, slope

    return both


WATER_DENSITY = Elementwise(
    "WATER_DENSITY",
    "water density",
    _density,
    _pull_density,
    with_slope=_in_blocks(_density_block),
    module=__name__,
)
WATER_VISCOSITY = Elementwise(
    "WATER_VISCOSITY",
    "water viscosity",
    _viscosity,
    _pull_viscosity,
    with_slope=_in_blocks(_viscosity_block),
    module=__name__,
)
WATER_COMPRESSION = Elementwise(
    "WATER_COMPRESSION",
    "change of the volume of water with pressure",
    _compression,
    _pull_compression,
    module=__name__,
)
