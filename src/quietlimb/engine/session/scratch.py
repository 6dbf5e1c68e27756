"""Memory for intermediate values that is used again and again.

Fresh memory of some hundred kB has to be had from the system page by page, which takes longer than what is worked out
in it.
"""

from __future__ import annotations

import math
import threading

import numpy as np
from numpy.typing import DTypeLike, NDArray


class Scratch(threading.local):
    """Arrays by name, each thread with its own. One is good until its name is asked for again."""

    def __init__(self) -> None:
        self._kept: dict[str, NDArray[np.uint8]] = {}

    def array(self, name: str, shape: tuple[int, ...], kind: DTypeLike) -> NDArray[np.floating]:
        """An array of this shape with whatever stood there before."""
        needed = math.prod(shape) * np.dtype(kind).itemsize
        kept = self._kept.get(name)
        if kept is None or kept.size < needed:
            kept = self._kept[name] = np.empty(needed, dtype=np.uint8)
        found: NDArray[np.floating] = kept[:needed].view(kind).reshape(shape)
        return found


SCRATCH = Scratch()
