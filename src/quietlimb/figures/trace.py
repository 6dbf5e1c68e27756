"""Thinning a long trace for drawing, so that no peak and no trough is lost."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def thin_trace(values: NDArray[np.float64], most: int) -> NDArray[np.intp]:
    """Rising indices of at most `most` samples that draw the same picture as all of them.

    values : (n,) any unit
    most   : >= 4

    The trace is cut into equal stretches; of each the lowest and the highest sample stay, in the order of time, and
    the first and last sample of the whole always stay.
    """
    n = values.size
    if n <= most:
        return np.arange(n, dtype=np.intp)
    stretches = np.array_split(np.arange(n, dtype=np.intp), (most - 2) // 2)
    keep = {0, n - 1}
    for stretch in stretches:
        part = values[stretch]
        keep.update((int(stretch[part.argmin()]), int(stretch[part.argmax()])))
    return np.array(sorted(keep), dtype=np.intp)
