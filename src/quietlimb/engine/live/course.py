"""How the pressure of one inflation runs, tick by tick: up, down, how far, how fast."""

from __future__ import annotations

from collections import deque

from quietlimb.engine.deflation import IDLE_MMHG, LEAST_FALL_MMHG
from quietlimb.engine.live.motion import TICK_S, Motion

BEGINS_MMHG = 20.0  # invented: an inflation begins here, above what fitting a cuff does, and ends at IDLE_MMHG
TOP_HOLDS_S = 0.45  # invented: longer than the rest between two squeezes of a bulb
UP_AGAIN_MMHG = 40.0  # above the lowest since: the rise at which a reading takes a deflation to have ended
HELD_WITHIN_MMHG = (5.0, 10.0)  # invented: so far down or up it is held still; more than a pulse does
FALL_OVER_S, FALL_FROM_S = 2.0, 1.0


class Course:
    """One inflation: its highest pressure, whether it deflates, and the motion meanwhile.

    cut_mmhg : where it begins because nothing had come from the source before, and not because somebody inflates from
               there [mmHg]; None otherwise
    was_falling : whether the pressure fell when the source was last heard, or that is not known
    """

    def __init__(self, since_s: float, *, cut_mmhg: float | None = None, was_falling: bool = True) -> None:
        self.since_s = since_s
        self._cut_mmhg, self._was_falling = cut_mmhg, was_falling
        self.below_idle_since_s: float | None = None
        self.rose_from_s: float | None = None  # the lowest point between two inflations, once it rose from there
        self.highest_mmhg = 0.0
        self._held_from_s, self._held_mmhg = since_s, 0.0
        self.motion = Motion(since_s)
        self._restart(since_s, 0.0)

    def _restart(self, time_s: float, level_mmhg: float) -> None:
        self.deflating = False
        self.top_s, self.top_mmhg = time_s, level_mmhg
        self._lowest_s, self._lowest = time_s, level_mmhg
        self._levels: deque[tuple[float, float]] = deque(maxlen=round(FALL_OVER_S / TICK_S) + 1)

    def add(self, time_s: float, level_mmhg: float) -> None:
        """One tick: its time, and the mean pressure over 0.1 s up to it."""
        self.highest_mmhg = max(self.highest_mmhg, level_mmhg)
        down, up = HELD_WITHIN_MMHG
        if not self._held_mmhg - down <= level_mmhg <= self._held_mmhg + up:
            self._held_from_s, self._held_mmhg = time_s, level_mmhg
        if level_mmhg >= IDLE_MMHG:
            self.below_idle_since_s = None
        elif self.below_idle_since_s is None:
            self.below_idle_since_s = time_s
        if not self.deflating:
            if level_mmhg > self.top_mmhg:
                self.top_s, self.top_mmhg = time_s, level_mmhg
            elif time_s - self.top_s > TOP_HOLDS_S:
                self.deflating = True
                self._lowest_s, self._lowest = time_s, level_mmhg
                self.motion = Motion(time_s)
        elif level_mmhg > self._lowest + UP_AGAIN_MMHG:
            if self.fallen_mmhg >= LEAST_FALL_MMHG:
                self.rose_from_s = self._lowest_s
            self._restart(time_s, level_mmhg)
        if self.deflating:
            if level_mmhg <= self._lowest:
                self._lowest_s, self._lowest = time_s, level_mmhg
            self._levels.append((time_s, level_mmhg))
            self.motion.add(time_s, level_mmhg)

    @property
    def cut_mmhg(self) -> float | None:
        """Where the source, and not whoever inflates, began this; None otherwise, and once pumped up from there."""
        if self._cut_mmhg is None or self.top_mmhg > self._cut_mmhg + HELD_WITHIN_MMHG[1]:
            return None
        return self._cut_mmhg

    @property
    def falls(self) -> bool:
        """Whether it deflates; after a source was silent, what was so before, until a rise or a fall is seen."""
        return self.deflating or (self._was_falling and self.cut_mmhg is not None)

    def held_s(self, time_s: float) -> float:
        """For how long, at this time, the pressure has been held where it is, or nearly so [s]."""
        return time_s - self._held_from_s

    @property
    def fallen_mmhg(self) -> float:
        """From the top to the lowest since."""
        return self.top_mmhg - self._lowest if self.deflating else 0.0

    @property
    def fall_mmhg_per_s(self) -> float | None:
        """Over the last 2 s of the deflation; None in its first second and outside it."""
        if not self.deflating or not self._levels:
            return None
        (first_s, first), (last_s, last) = self._levels[0], self._levels[-1]
        return (first - last) / (last_s - first_s) if last_s - first_s >= FALL_FROM_S else None

    @property
    def whole_fall_mmhg_per_s(self) -> float | None:
        """From the top until now; None in the first second of the deflation and outside it."""
        if self.fall_mmhg_per_s is None:
            return None
        last_s, last = self._levels[-1]
        return (self.top_mmhg - last) / (last_s - self.top_s)
