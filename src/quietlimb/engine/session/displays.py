"""Three values of one display against each other: which of them is wrong where they cannot all be right.

A cuff's mean pressure lies between 0.25 and 0.60 of the pulse pressure above the diastolic one. Outside that, the
suspect is the value that stands farthest from those of the other displays, each measured by how far it usually
scatters; where there are too few others to ask, all three are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.findings import Finding, Quantity
from quietlimb.engine.session.series import Series
from quietlimb.engine.values import Cited

Values = NDArray[np.float64]
Flags = NDArray[np.bool_]

MEAN_SHARE = (
    Cited(0.25, "of the pulse pressure", "oscillometric technique", "plausibility", "common practice"),
    Cited(0.60, "of the pulse pressure", "oscillometric technique", "plausibility", "common practice"),
)
_PARTS: tuple[Quantity, ...] = ("systolic", "mean", "diastolic")
# How far the three scatter against each other. [invented: as they follow the systolic pressure]
_SCATTER = np.array([1.0, 0.75, 0.6])
OTHERS_NEEDED = 2


def share_of_mean(systolic: Values, mean: Values, diastolic: Values) -> Values:
    """(n,) where the mean lies: 0 at the diastolic, 1 at the systolic; nan where a part is missing, and where the
    systolic does not lie above the diastolic."""
    pulse = systolic - diastolic
    share: Values = np.divide(mean - diastolic, pulse, out=np.full(pulse.shape, np.nan), where=pulse > 0.0)
    return share


def judged_displays(series: Series) -> tuple[tuple[Finding, ...], ...]:
    """The findings of each reading, with one on the wrong part where the mean lies outside its pulse pressure."""
    parts = np.vstack([series.systolic, series.mean, series.diastolic])
    share = share_of_mean(*parts)
    low, high = (limit.value for limit in MEAN_SHARE)
    # whole numbers of mmHg may meet a limit exactly, which counts as inside
    fits = (share >= low - 1e-9) & (share <= high + 1e-9)
    found = []
    for i, findings in enumerate(series.findings):
        if not np.isfinite(parts[:, i]).all() or fits[i]:
            found.append(findings)
            continue
        wrong = Finding(
            code="mean-outside-pulse",
            severity="doubt",
            touches=_suspects(parts[:, i], parts[:, fits]),
            numbers={"share": float(share[i]) if np.isfinite(share[i]) else 0.0},
        )
        found.append((*findings, wrong))
    return tuple(found)


def _suspects(display: Values, others: Values) -> tuple[Quantity, ...]:
    if others.shape[1] < OTHERS_NEEDED:
        return _PARTS
    distance = np.abs(display - np.median(others, axis=1)) / _SCATTER
    return (_PARTS[int(np.argmax(distance))],)
