"""What the usual shortcuts of an uncertainty analysis cost, side by side with the correct one.

Each shortcut is the same record with other errors at its inputs, propagated by the same engine:
what differs in the table differs by the shortcut alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import chain
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flowunc.analysis.budget_lines import require_quantity
from flowunc.core.arguments import check_level
from flowunc.core.component import Component, Term, new_key
from flowunc.core.errors import PropagationError
from flowunc.core.quantity import Quantity
from flowunc.core.record import Input, Node, topological_order
from flowunc.core.rewriting import rewritten, with_fresh_components, with_terms
from flowunc.propagation.budget import check_row
from flowunc.propagation.contributions import Contribution, contributions
from flowunc.propagation.pieces import add_to_rows, rows_of

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["shortcuts"]

Floats = NDArray[np.float64]

_NO_DIFFERENCE = "makes no difference here"
_ROUNDING = 1e-9  # of U, relative: what two ways of adding up the same errors may differ by
_USUAL_FACTOR = 2.0
_MOST_NAMES = 2  # of errors in common, in a note

_SEPARATED = "one error behind several readings counts as many: it averages out, or fails to cancel"
_RESOLUTION = "calibration, dimensions and scatter are errors as well"
_NO_RESOLUTION = "none is stated, so nothing is left"
_TYPE_B = "the scatter of repeats shows errors that no data sheet knows of"
_LINEARLY = "independent errors are hardly ever all at their largest and in one direction"


def shortcuts(
    quantity: Quantity,
    *,
    independent: Quantity | Iterable[Quantity] = (),
    row: int | None = None,
    level: float = 0.95,
) -> pd.DataFrame:
    """Return what usual shortcuts make of the uncertainty of a result, beside the correct one.

    Parameters
    ----------
    quantity : Quantity, scalar or shape (n,)
        Any result, a mean, a difference or the slope of a fit included.
    independent : Quantity or sequence of Quantity
        Intermediates, such as velocity, density and viscosity: the very quantities from which the
        result was computed.
    row : int, optional
        One reading, counted from 0; all of them if left out.
    level : float
        Coverage probability of U.

    Returns
    -------
    pandas.DataFrame
        Reading by reading: reading, shortcut, u, k, U in the unit of the quantity, ratio (U over
        the correct U), note (why it is wrong, or that it makes no difference here):

        - correct: no shortcut.
        - *name* independent: the intermediate enters with its own u, as if it had no error in
          common with anything else; each by itself, and all of them if there are several.
        - calibration independent: each reading has a calibration error of its own.
        - resolution only: every error but the resolution of the scales is left out.
        - Type B only: what repeats show is left out.
        - k = 2: whatever the degrees of freedom.
        - added linearly: contributions add up without squares, as if all errors were largest at
          once.

    Raises
    ------
    DimensionError
        Something else than quantities.
    PropagationError
        An intermediate that the result was not computed from.
    ShapeError
        A row that does not exist.

    Notes
    -----
    Errors in common have to be taken into account [JCGM 100, 5.2 and F.1.2]. A result that
    depends on x directly and through an intermediate has the sum of both sensitivities to x; the
    shortcut adds their squares. *name* independent keeps what the readings of the intermediate
    have in common among themselves.

    A calibration is any error that an input shares between readings. One reading by itself does
    not notice whether it does; a mean, a difference, a fit, or two columns read from one scale do.
    What was entered once (a bore, the angle of a setting) stays one error, and so does what was
    estimated together.

    A resolution is what the scale of an instrument adds to a reading, or a statement whose label
    ends in "resolution" before any comma.

    Examples
    --------
    >>> from flowunc import Length, limits, percent_of_reading, shared, shortcuts
    >>> level = Length(
    ...     [400.0, 380.0],
    ...     "mm",
    ...     shared(percent_of_reading(1)),
    ...     limits(0.5, label="gauge resolution"),
    ...     label="gauge",
    ... )
    >>> table = shortcuts(level[0] - level[1])  # one gauge: most of its error cancels
    >>> print(table[["shortcut", "k", "ratio"]].round(3).to_string())
                      shortcut     k  ratio
    0                  correct  1.96  1.000
    1  calibration independent  1.96  7.569
    2          resolution only  1.96  0.962
    3              Type B only  1.96  1.000
    4                    k = 2  2.00  1.020
    5           added linearly  1.96  1.633
    """
    import pandas as pd

    require_quantity(quantity, "shortcuts")
    checked = check_level(level)
    given = (independent,) if isinstance(independent, Quantity) else tuple(independent)
    for item in given:
        require_quantity(item, "shortcuts(independent=...)")
    whole = row is None and quantity.ndim > 0
    first = 0 if whole else check_row(quantity, row)
    single = quantity if whole or quantity.ndim == 0 else quantity[first]

    none_stated = not any(map(_is_resolution, single.components))
    resolution_note = _NO_RESOLUTION if none_stated else _RESOLUTION
    correct = _result("correct", single, checked, "each error counts once, wherever it acts")
    results = [
        correct,
        *_independent(single, given, checked),
        _result("calibration independent", _separated(single), checked, _SEPARATED),
        _result("resolution only", _kept(single, _is_resolution), checked, resolution_note),
        _result("Type B only", _kept(single, _is_type_b), checked, _TYPE_B),
        _usual_factor(correct, single, checked),
        _added_linearly(correct, single),
    ]
    return pd.DataFrame(
        [
            {
                "reading": first + reading,
                "shortcut": result.name,
                "u": float(result.u[reading]),
                "k": float(result.k[reading]),
                "U": float(result.expanded[reading]),
                **_compared(result, correct, reading),
            }
            for reading in range(correct.u.size)
            for result in results
        ],
        columns=["reading", "shortcut", "u", "k", "U", "ratio", "note"],
    )


class _Result(NamedTuple):
    """What one shortcut gives for all readings, with one note, or one for each."""

    name: str
    u: Floats
    k: Floats
    expanded: Floats
    note: str | Sequence[str]


def _result(name: str, quantity: Quantity, level: float, note: str) -> _Result:
    U, k = quantity.expanded(level)
    return _Result(name, np.atleast_1d(quantity.u), np.atleast_1d(k), np.atleast_1d(U), note)


def _compared(result: _Result, correct: _Result, reading: int) -> dict[str, Any]:
    U, reference = float(result.expanded[reading]), float(correct.expanded[reading])
    ratio = U / reference if reference > 0 else (np.inf if U > 0 else 1.0)
    note = result.note if isinstance(result.note, str) else result.note[reading]
    same = result is not correct and abs(ratio - 1.0) <= _ROUNDING
    return {"ratio": ratio, "note": _NO_DIFFERENCE if same else note}


# -- intermediates ---------------------------------------------------------------------------
def _independent(single: Quantity, given: Sequence[Quantity], level: float) -> Iterator[_Result]:
    """Cut each intermediate off from the rest, by itself and all together."""
    behind = topological_order([single._node])
    for item in given:
        if not any(_is(node, item._node) for node in behind):
            raise PropagationError(
                f"shortcuts(independent=...): {_name(single)} was not computed from the "
                f"{_name(item)} given; expected the very quantity that entered the formula, before "
                "indexing or averaging (row= picks a reading of the result)"
            )
        yield _cut_off(single, [item], f"{_name(item)} independent", level)
    if len(given) > 1:
        yield _cut_off(single, given, f"all {len(given)} independent", level)


def _cut_off(single: Quantity, given: Sequence[Quantity], name: str, level: float) -> _Result:
    copies: dict[int, Node] = {}

    def replacement(node: Node) -> Node | None:
        for place, item in enumerate(given):
            if _is(node, item._node):
                if place not in copies:
                    copies[place] = with_fresh_components(item._node)
                return copies[place]
        return None

    result = single._with(rewritten(single._node, replacement))
    cut = [set(given[place].components) for place in copies]
    # what is left of the original components acts besides the intermediates
    times = Counter(chain(set(result.components), *cut))
    names = list(dict.fromkeys(_line(c) for c in single.components if times[c] > 1))
    more = len(names) - _MOST_NAMES
    listed = ", ".join(names[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")
    note = f"in common with the rest, but counted as other errors: {listed}"
    return _result(name, result, level, note)


def _is(node: Node, wanted: Node) -> bool:
    """Tell whether a node is the one wanted, or the same input under the name of its role."""
    if node is wanted:
        return True
    if not isinstance(node.operation, Input) or not isinstance(wanted.operation, Input):
        return False
    return _identity(node, node.operation.terms) == _identity(wanted, wanted.operation.terms)


def _identity(node: Node, terms: tuple[Term, ...]) -> tuple[Any, ...]:
    """Return what is equal for an input and its copy under another name, and for these only."""
    entered = [(term.component.key, np.asarray(term.gain).tobytes()) for term in terms]
    return node.size, node.value.tobytes(), *entered


def _name(quantity: Quantity) -> str:
    return quantity.label or type(quantity)._word()


def _line(component: Component) -> str:
    return component.label if component.pool is None else component.pool.label


# -- errors changed or left out --------------------------------------------------------------
def _separated(single: Quantity) -> Quantity:
    """Give each reading an error of its own in place of each that inputs share."""
    known: dict[tuple[Any, ...], tuple[Term, ...]] = {}

    def change(node: Node, terms: tuple[Term, ...]) -> tuple[Term, ...]:
        identity = _identity(node, terms)
        if identity not in known:
            known[identity] = tuple(_own(node, term) for term in terms)
        return known[identity]

    return single._with(with_terms(single._node, change))


def _own(node: Node, term: Term) -> Term:
    component = term.component
    if component.scope == "each" or component.pool is not None:
        return term
    scope: Literal["shared", "each"] = "shared" if node.size is None else "each"
    return Term(replace(component, scope=scope, key=new_key()), term.gain)


def _kept(single: Quantity, wanted: Callable[[Component], bool]) -> Quantity:
    """Leave out all components but some."""
    return single._with(
        with_terms(
            single._node,
            lambda node, terms: [term for term in terms if wanted(term.component)],
        )
    )


def _is_resolution(component: Component) -> bool:
    stated = component.label.partition(",")[0].strip().endswith("resolution")
    return component.role == "resolution" or stated


def _is_type_b(component: Component) -> bool:
    return component.evaluation == "B"


# -- other ways from u to U ------------------------------------------------------------------
def _usual_factor(correct: _Result, single: Quantity, level: float) -> _Result:
    notes = []
    for dof, k in zip(np.atleast_1d(single.dof), correct.k, strict=True):
        count = f"{dof:.3g}" if dof < 100 else f"{dof:.0f}"
        because = f"{count} effective degrees of freedom ask"
        because = because if np.isfinite(dof) else "a normal distribution asks"
        notes.append(f"{because} for k = {k:.3g} at {100 * level:g} %")
    twice = np.full(correct.u.shape, _USUAL_FACTOR)
    return _Result("k = 2", correct.u, twice, twice * correct.u, notes)


def _added_linearly(correct: _Result, single: Quantity) -> _Result:
    total = np.zeros(rows_of(single._node))
    pools: dict[str, list[Contribution]] = {}
    for part in contributions(single._node):
        pool = part.component.pool
        if pool is None:
            add_to_rows(total, part.rows, np.abs(part.values))
        else:
            pools.setdefault(pool.key, []).append(part)
    for parts in pools.values():
        # parts of one estimate are no errors by themselves: one of each reading, their root
        rows = np.concatenate([part.row_indices() for part in parts])
        columns = np.concatenate([part.column_indices() for part in parts])
        squares = np.square(np.concatenate([part.values for part in parts]))
        pairs, place = np.unique(np.stack([rows, columns]), axis=1, return_inverse=True)
        roots = np.sqrt(np.bincount(place.ravel(), squares))
        add_to_rows(total, pairs[0], roots)
    u = np.asarray(single._unit.scale_from_si(total), dtype=np.float64)
    return _Result("added linearly", u, correct.k, correct.k * u, _LINEARLY)
