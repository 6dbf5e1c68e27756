"""What comes from a source, gathered until something has come."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from quietlimb.capture.source import Frame, Source


@dataclass
class Heard:
    """Everything that a source gave so far."""

    frames: list[Frame] = field(default_factory=list)

    @property
    def time_s(self) -> np.ndarray:
        """All times."""
        return np.concatenate([frame.time_s for frame in self.frames])

    @property
    def pressure(self) -> np.ndarray:
        """All pressures."""
        return np.concatenate([frame.cuff_pressure_mmhg for frame in self.frames])

    @property
    def lines(self) -> bytes:
        """All lines to keep."""
        return b"".join(frame.lines for frame in self.frames)


def listen(
    source: Source,
    until: Callable[[Heard], bool] = lambda _heard: False,
    *,
    each: Callable[[Heard], None] = lambda _heard: None,
    patience_s: float = 20.0,
) -> Heard:
    """Everything from a source until it ends, or until `until` is true; then it is closed and heard to its end.

    each : called after every frame
    """
    heard, began = Heard(), time.monotonic()
    for frame in source.frames():
        heard.frames.append(frame)
        each(heard)
        if until(heard):
            source.close()
        assert time.monotonic() - began < patience_s, f"nothing more came; troubles {dict(source.troubles)}"
    return heard
