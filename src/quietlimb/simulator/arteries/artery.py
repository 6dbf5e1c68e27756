"""What every simulated artery under a cuff can tell: its volume at a transmural pressure."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import ClassVar, Self

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]


class Artery(ABC):
    """An artery whose compliance is greatest, and equal to 1, at transmural pressure 0.

    Volumes are therefore in mmHg times the greatest compliance; the size of an artery and of the air in its cuff are
    known only as a product, which the cuff holds. The offset of the peak is the recording's, not the family's.
    """

    __slots__ = ()
    family: ClassVar[str]

    @classmethod
    @abstractmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """An artery of a small limb."""

    @abstractmethod
    def volume(self, transmural_mmhg: Samples) -> Samples:
        """Volume [mmHg times greatest compliance] at each transmural pressure [mmHg], any shape."""
