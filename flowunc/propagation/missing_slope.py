"""Says why the linear method has no answer: the operation that has no derivative, and where."""

from __future__ import annotations

import numpy as np

from flowunc.core.operations import Elementwise
from flowunc.core.record import Node, topological_order

__all__ = ["why_not_finite"]


def why_not_finite(node: Node, rows: slice) -> str:
    """Find the operation whose derivative does not exist and say where."""
    with np.errstate(all="ignore"):
        for step in topological_order([node], active_only=True):
            operation = step.operation
            if not isinstance(operation, Elementwise):
                continue
            values = tuple(child.value for child in step.inputs)
            needed = tuple(child.active for child in step.inputs)
            slopes = operation.pull(1.0, values, step.value, needed)
            for slope in [slope for slope, wanted in zip(slopes, needed, strict=True) if wanted]:
                bad = np.flatnonzero(~np.isfinite(np.atleast_1d(slope)))
                if bad.size:
                    arguments = ", ".join(
                        f"{float(np.broadcast_to(v, step.value.shape).flat[bad[0]]):.6g}"
                        for v in values
                    )
                    return (
                        f"{operation.label}({arguments}) at reading {int(bad[0])} (SI) has no "
                        "derivative there, so the linear method has no answer: use "
                        ".monte_carlo() for this result"
                    )
    return (
        f"the linear uncertainty of rows {rows.start} to {rows.stop - 1} leaves the range of "
        "floating-point numbers: check the magnitudes of the readings"
    )
