"""Distributions of an error: what a statement of uncertainty says about one reading.

Each class is one row of [JCGM 101, table 1], shifted to zero mean: the error about an
estimate. Its first parameter is a length in the unit of that error. A parameter is one number, or
a read-only array with one per reading; sample, quantile and cdf want numbers: `at(reading)` first.
Inside, formulas are for unit length; symmetric laws are mirrored, so both tails keep their digits.
"""

from __future__ import annotations

import functools
import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, fields
from typing import Any, ClassVar, Self, TypeAlias

import numpy as np
import scipy
from numpy.typing import ArrayLike

from flowunc.core.errors import RangeError, ShapeError, StatementError
from flowunc.core.law_parameters import LIMITS, Floats, Parameter, parameter, require, shaped

__all__ = ["Arcsine", "Distribution", "Exponential", "InexactRectangular", "Normal"]
__all__ += ["Rectangular", "ScaledT", "Trapezoidal", "Triangular"]

Given: TypeAlias = Any  # array-like, read back as a `Parameter`

# Taylor series of sin(pi z) in odd powers of z, highest first; on |z| <= 1/2 the first term left
# out is below 3e-16. Built from plain products, the draws are alike on every processor.
_SINE = [(-1) ** k * math.pi ** (2 * k + 1) / math.factorial(2 * k + 1) for k in range(9, -1, -1)]
# e + (1 - e) ln(1 - e) = sum of e^k/(k (k - 1)) from k = 2; for e < 1/4 complete to 1e-16.
_WEDGE = [1.0 / (k * (k - 1)) for k in range(2, 27)]


@functools.cache
def _names(law: type[Distribution]) -> tuple[str, ...]:
    """Return the names of the parameters that a law is made with."""
    return tuple(item.name for item in fields(law) if item.init)


@dataclass(frozen=True, eq=False)
class Distribution(ABC):
    """Describe the error of an estimate by a law of zero mean [JCGM 101, table 1]."""

    name: ClassVar[str]
    _lengths: ClassVar[int] = 1  # so many parameters, from the first, grow with the error
    _upper: ClassVar[Callable[..., Any]]  # x exceeded with a probability up to 1/2
    _tail: ClassVar[Callable[..., Any]]  # probability of exceeding x >= 0
    _signed: ClassVar[bool] = False  # whether the first may be negative: the mirrored law
    _ratio: ClassVar[float] = 1.0  # standard uncertainty at unit length, where it is fixed

    def __post_init__(self) -> None:
        for name in _names(type(self)):
            value = parameter(self.name, name, getattr(self, name))
            low, high, expected = LIMITS.get(name, (0.0, math.inf, "0 or more; drop the sign"))
            good = np.greater_equal(value, low) & np.less_equal(value, high)
            require(self.name, name, value, good, expected)
            object.__setattr__(self, name, value)
        self._check(self._parameters())

    def _check(self, values: tuple[Parameter, ...]) -> None:
        """Refuse numbers for different numbers of readings."""
        sizes = {value.size for value in values if isinstance(value, np.ndarray)}
        if len(sizes) > 1:
            found = f"{self.name} distribution: numbers for {sorted(sizes)} readings"
            raise StatementError(f"{found}; expected equally many, or one number for all")

    def _parameters(self) -> tuple[Parameter, ...]:
        return tuple([getattr(self, name) for name in _names(type(self))])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Distribution) or type(other) is not type(self):
            return NotImplemented
        return all(map(np.array_equal, self._parameters(), other._parameters()))

    def __hash__(self) -> int:
        return hash((type(self), *(np.asarray(value).tobytes() for value in self._parameters())))

    def __reduce__(self) -> tuple[type[Self], tuple[Parameter, ...]]:
        return type(self), self._parameters()  # a pickled array alone would come back writeable

    @property
    def standard_uncertainty(self) -> Parameter:
        """Give what the law of propagation uses, in the unit of the error."""
        return shaped(np.abs(self._parameters()[0]) * self._ratio)

    @property
    def standard_deviation(self) -> Parameter:
        """Give the standard deviation of the distribution itself."""
        return self.standard_uncertainty

    @property
    def size(self) -> int | None:
        """Give the number of readings; None if every parameter is one number."""
        return next((v.size for v in self._parameters() if isinstance(v, np.ndarray)), None)

    @property
    def is_zero(self) -> bool:
        """Tell whether it has no width at all, for any reading."""
        return not np.any(self._parameters()[0])

    def at(self, reading: int) -> Self:
        """Give the distribution of one reading, counted from 0."""
        return self.take(int(reading))

    def take(self, readings: ArrayLike) -> Self:
        """Give the distributions of the readings of an index array, integer or boolean."""
        if self.size is None:
            return self
        index, values = np.asarray(readings), self._parameters()
        return type(self)(*(v[index] if isinstance(v, np.ndarray) else v for v in values))

    def scaled(self, factor: ArrayLike) -> Self:
        """Give the distribution of factor times the error; a factor of either sign, or an array."""
        by = parameter(self.name, "factor", factor)
        values = self._parameters()
        self._check((*values, by))
        by = by if self._signed else np.abs(by)
        with np.errstate(over="ignore"):  # an infinite length is refused as any other
            lengths = [v * by for v in values[: self._lengths]]
        return type(self)(*lengths, *values[self._lengths :])

    def sample(self, generator: np.random.Generator, out: Floats) -> None:
        """Fill a contiguous 1-d float64 array; neither its length nor splitting changes a draw."""
        self._want_numbers()
        if out.ndim != 1 or out.dtype != np.float64 or not out.flags.c_contiguous:
            given = f"out is a {out.dtype} array of shape {out.shape}; expected contiguous 1-d "
            raise ShapeError(given + "float64, such as numpy.empty(n)")
        self.sample_rows([generator], out[None, :])

    def sample_rows(self, generators: Iterable[np.random.Generator], out: Floats) -> None:
        """Fill contiguous rows of float64, shape (n, count), each from a generator of its own."""
        for generator, row in zip(generators, out, strict=True):
            self._draw(generator, row)
        self._form(out)

    def quantile(self, p: ArrayLike) -> Floats:
        """Give the error not exceeded with probability p, above 0 and below 1."""
        self._want_numbers()
        levels = np.asarray(p, dtype=np.float64)
        if not np.all((levels > 0.0) & (levels < 1.0)):
            raise RangeError(f"probability {p!r}; expected above 0 and below 1 (percent / 100)")
        if self.is_zero:
            return np.zeros_like(levels)
        return np.asarray(self._quantile(levels) * self._parameters()[0])

    def cdf(self, x: ArrayLike) -> Floats:
        """Give the probability that the error is x or less."""
        self._want_numbers()
        errors = np.asarray(x, dtype=np.float64)
        if np.any(np.isnan(errors)):
            raise RangeError(f"error {x!r}; expected numbers: remove the NaN")
        if self.is_zero:
            return np.where(errors < 0.0, 0.0, 1.0)
        with np.errstate(over="ignore"):  # far out over a tiny length is as good as infinite
            return np.asarray(self._cdf(errors / self._parameters()[0]))

    def _want_numbers(self) -> None:
        if self.size is not None:
            raise StatementError(f"{self.name} law of {self.size} readings: take at(reading) first")

    @abstractmethod
    def _draw(self, generator: np.random.Generator, out: Floats) -> None: ...

    def _form(self, out: Floats) -> None:
        out *= self._parameters()[0]

    def _quantile(self, p: Floats) -> Floats:
        # 1 - p is exact for p >= 1/2, so the upper tail loses nothing that p still holds.
        return np.asarray(np.copysign(self._upper(np.minimum(p, 1.0 - p)), p - 0.5))

    def _cdf(self, x: Floats) -> Floats:
        tail: Floats = self._tail(np.abs(x))
        return np.where(x < 0.0, tail, 1.0 - tail)


@dataclass(frozen=True, eq=False)
class Normal(Distribution):
    """State a Gaussian error of standard uncertainty `u` [JCGM 101, 6.4.7].

    >>> Normal(0.5).scaled(-2)
    Normal(u=1.0)
    """

    name = "normal"
    u: Given

    def _draw(self, generator: np.random.Generator, out: Floats) -> None:
        generator.standard_normal(out=out)

    def _upper(self, tail: Floats) -> Any:
        return np.negative(scipy.special.ndtri(tail))

    def _tail(self, x: Floats) -> Any:
        return scipy.special.ndtr(-x)


@dataclass(frozen=True, eq=False)
class Trapezoidal(Distribution):
    """State the sum of two rectangular errors, `top` as flat over whole [JCGM 101, 6.4.4]."""

    name = "trapezoidal"
    half_width: Given
    top: Given

    @property
    def standard_uncertainty(self) -> Parameter:
        """Give what the law of propagation uses, in the unit of the error."""
        return shaped(self.half_width * ((1.0 + self.top**2) / 6.0) ** 0.5)

    def _draw(self, generator: np.random.Generator, out: Floats) -> None:
        pairs = generator.random((out.size, 2))
        pairs -= 0.5
        np.multiply(pairs[:, 0], 1.0 + self.top, out=out)
        pairs[:, 1] *= 1.0 - self.top
        out += pairs[:, 1]

    def _upper(self, tail: Floats) -> Any:
        top = self.top
        root = np.sqrt(2.0 * tail * (1.0 - top) * (1.0 + top))
        slope = (1.0 - 2.0 * tail + 2.0 * tail * top**2) / (1.0 + root)
        return np.where(root < 1.0 - top, slope, (1.0 + top) * (0.5 - tail))

    def _tail(self, x: Floats) -> Any:
        top, gap = self.top, np.maximum(1.0 - x, 0.0)
        slope = gap**2 / (2.0 * np.maximum(1.0 - top, 1e-300) * (1.0 + top))  # unused at top = 1
        return np.where(x <= top, 0.5 - x / (1.0 + top), slope)


@dataclass(frozen=True, eq=False)
class Rectangular(Trapezoidal):
    """State an error equally likely anywhere within ± `half_width` [JCGM 101, 6.4.2]."""

    name = "rectangular"
    top: Given = field(default=1.0, init=False, repr=False)

    def _quantile(self, p: Floats) -> Floats:
        return np.asarray(2.0 * (p - 0.5))

    def _draw(self, generator: np.random.Generator, out: Floats) -> None:
        generator.random(out=out)

    def _form(self, out: Floats) -> None:
        out -= 0.5
        out *= 2.0 * self.half_width


@dataclass(frozen=True, eq=False)
class Triangular(Trapezoidal):
    """State the sum of two rectangular errors of equal half-width [JCGM 101, 6.4.5]."""

    name = "triangular"
    top: Given = field(default=0.0, init=False, repr=False)


@dataclass(frozen=True, eq=False)
class Arcsine(Distribution):
    """State the error of a cycle of amplitude `half_width` [JCGM 101, 6.4.6]."""

    name = "arcsine"
    _ratio = math.sqrt(0.5)
    half_width: Given

    def _draw(self, generator: np.random.Generator, out: Floats) -> None:
        generator.random(out=out)

    def _form(self, out: Floats) -> None:
        out -= 0.5
        square = out * out
        series = np.full_like(out, _SINE[0])
        for coefficient in _SINE[1:]:
            series *= square
            series += coefficient
        out *= series
        out *= self.half_width

    def _upper(self, tail: Floats) -> Any:
        return np.sin(np.pi * (0.5 - tail))

    def _tail(self, x: Floats) -> Any:
        return np.arccos(np.minimum(x, 1.0)) / np.pi


@dataclass(frozen=True, eq=False)
class Exponential(Distribution):
    """State X - `mean`, X exponential; mirrored if negative [JCGM 101, 6.4.10]."""

    name = "exponential"
    _signed = True
    mean: Given

    def _draw(self, generator: np.random.Generator, out: Floats) -> None:
        generator.standard_exponential(out=out)
        out -= 1.0

    def _quantile(self, p: Floats) -> Floats:
        return -1.0 - (np.log1p(-p) if self.mean > 0.0 else np.log(p))

    def _cdf(self, x: Floats) -> Floats:
        above = -np.maximum(1.0 + x, 0.0)
        return -np.expm1(above) if self.mean > 0.0 else np.exp(above)


@dataclass(frozen=True, eq=False)
class ScaledT(Distribution):
    """State `scale`, the standard uncertainty, times Student's t [JCGM 101, 6.4.9]."""

    name = "scaled t"
    scale: Given
    dof: Given

    @property
    def standard_deviation(self) -> Parameter:
        """Give the standard deviation of the distribution itself; infinite up to dof = 2."""
        with np.errstate(divide="ignore", invalid="ignore"):
            wide = self.scale * np.sqrt(self.dof / np.maximum(np.subtract(self.dof, 2.0), 0.0))
        return shaped(np.where(np.equal(self.scale, 0.0), 0.0, wide))

    def _draw(self, generator: np.random.Generator, out: Floats) -> None:
        out[:] = generator.standard_t(self.dof, out.size)

    def _upper(self, tail: Floats) -> Any:
        return np.negative(scipy.special.stdtrit(self.dof, tail))

    def _tail(self, x: Floats) -> Any:
        far: Floats = scipy.special.stdtr(self.dof, -x)
        if self.dof != 1.0:
            return far
        # SciPy 1.17 is off by up to 6e-10 near the middle of the Cauchy law
        return np.where(x < 1.0, 0.5 - np.arctan(x) / math.pi, far)


@dataclass(frozen=True, eq=False)
class InexactRectangular(Distribution):
    """State an error within ± `half_width`, itself known to ± `inexact` [JCGM 101, 6.4.3]."""

    name = "rectangular, inexact limits"
    _lengths = 2
    half_width: Given
    inexact: Given

    def _check(self, values: tuple[Parameter, ...]) -> None:
        super()._check(values)
        good = np.less_equal(self.inexact, self.half_width)
        require(self.name, "inexact", self.inexact, good, "0 to half_width")

    @property
    def standard_uncertainty(self) -> Parameter:
        """Give what the law of propagation uses, in the unit of the error."""
        return shaped(np.hypot(self.half_width / math.sqrt(3.0), np.divide(self.inexact, 3.0)))

    def _draw(self, generator: np.random.Generator, out: Floats) -> None:
        pairs = generator.random((out.size, 2))
        pairs -= 0.5
        np.multiply(pairs[:, 0], 4.0 * self.inexact, out=out)
        out += 2.0 * self.half_width
        out *= pairs[:, 1]

    def _form(self, out: Floats) -> None:
        pass  # two lengths went into the draws

    def _upper(self, tail: Floats) -> Any:
        d = self._spread()
        # At x = (1 + d) y the tail is (1 + d)/(4 d) (1 - y + y ln y); w = ln y - 1 solves it.
        part = 4.0 * d / (1.0 + d) * tail
        y = np.exp(1.0 + scipy.special.lambertw((part - 1.0) / math.e, -1).real)
        # Near the limit a series and a Newton step in e = 1 - y restore what the branch cut costs.
        root = np.sqrt(2.0 * part)
        e = np.where(part < 1e-6, root - root**2 / 6.0, np.minimum(1.0 - y, 0.5))
        e += (_wedge(e) - part) / np.log1p(-e)
        curved = (1.0 + d) * np.where(part < 0.15, 1.0 - e, y)
        return np.where(tail < self._tail(np.asarray(1.0 - d)), curved, (0.5 - tail) / _middle(d))

    def _tail(self, x: Floats) -> Any:
        d = self._spread()
        curved = (1.0 + d) / (4.0 * d) * _wedge(np.maximum(1.0 + d - x, 0.0) / (1.0 + d))
        return np.where(x < 1.0 - d, 0.5 - _middle(d) * x, curved)

    def _spread(self) -> Any:
        return np.maximum(self.inexact / self.half_width, 1e-16)  # exact limits: lost in rounding


def _middle(d: Any) -> Any:
    """Compute the density of the flat middle, finite even if d = 1 leaves no middle."""
    return np.log1p(2.0 * d / np.maximum(1.0 - d, 1e-300)) / (4.0 * d)


def _wedge(e: Floats) -> Floats:
    """Compute e + (1 - e) ln(1 - e) without loss for small e."""
    series = e**2 * np.polynomial.polynomial.polyval(e, _WEDGE)
    return np.where(e < 0.25, series, e + scipy.special.xlog1py(1.0 - e, -e))
